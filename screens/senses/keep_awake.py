"""KeepAwake promises that the screen stays on while anything is running, or says why it cannot."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from screens.senses.promise import YES, Can, attempt, no


def _kivy_window() -> Any:
    from kivy.core.window import Window

    return Window


class KeepAwake:
    """Holds the device awake through the window, the same way on every platform.

    The screen on and the app in front is the only state in which prompts are sure to sound, so this matters
    more than the battery.
    """

    def __init__(self, window: Callable[[], Any] = _kivy_window) -> None:
        """Take how to reach the window, which may not exist yet."""
        self._window = window
        self._answer = YES

    def can(self) -> Can:
        """Say whether the device was kept awake, or let go, when that was last asked."""
        return self._answer

    def hold(self, awake: bool) -> Can:
        """Keep the device awake, or let it sleep again."""
        self._answer = attempt("staying awake", lambda: self._set(awake))
        return self._answer

    def _set(self, awake: bool) -> Can:
        window = self._window()
        if window is None:
            return no("no_window")
        window.allow_screensaver = not awake
        return YES
