"""How work on another thread hands its answer back: on the screen's thread, by Kivy's clock."""

from __future__ import annotations

from collections.abc import Callable

from kivy.clock import Clock


def on_screen(call: Callable[[], None]) -> None:
    """Promise that `call` is made on the screen's thread at its next turn; may be called from any thread."""
    Clock.schedule_once(lambda _: call(), 0)
