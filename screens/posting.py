"""How other threads go along with the screen's: they hand their answers back on it, and wait while it is at work."""

from __future__ import annotations

from collections.abc import Callable

from kivy.clock import Clock

from screens.turns import Turns

# One for all: there is one thread of the screen.
turns = Turns()


def on_screen(call: Callable[[], None]) -> None:
    """Promise that `call` is made on the screen's thread at its next turn; may be called from any thread."""
    Clock.schedule_once(lambda _: call(), 0)
