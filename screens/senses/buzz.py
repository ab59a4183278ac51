"""Buzz promises to vibrate in the rhythm of an urgency, or to say why it cannot.

Android goes through plyer, whose vibrator works as released (2.1.0); other systems have no vibrator to ask.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from screens.senses.promise import YES, Can, Level, attempt, no

# Seconds: wait, on, off, on and so on, as plyer takes it. Rhythm tells the urgency through a glove or an
# apron.
PATTERNS_S: Mapping[Level, tuple[float, ...]] = MappingProxyType(
    {
        "soon": (0.0, 0.3),
        "ready": (0.0, 0.4, 0.5, 0.4),
        "late": (0.0, 0.4, 0.3, 0.4, 0.3, 0.4, 0.3, 0.4),
        "very_late": (0.0, 1.2, 0.25, 1.2),
    }
)


def _plyer_vibrator() -> Any:
    from plyer import vibrator

    return vibrator


class Buzz:
    """Vibrates the handheld; `on` is the person's switch."""

    def __init__(self, system: str, vibrator: Callable[[], Any] = _plyer_vibrator, on: bool = True) -> None:
        """Take the name of the system as Kivy gives it (android, linux and so on)."""
        self._system = system
        self._vibrator = vibrator
        self.on = on

    def can(self) -> Can:
        """Say whether the device has a vibrator that answers."""
        if not self.on:
            return no("off")
        if self._system != "android":
            return no("no_vibrator")
        return attempt("asking for a vibrator", self._exists, why="no_vibrator")

    def _exists(self) -> Can:
        return YES if self._vibrator().exists() else no("no_vibrator")

    def play(self, level: Level) -> Can:
        """Begin to vibrate at a level and return at once."""
        answer = self.can()
        return attempt("vibrating", lambda: self._start(level)) if answer else answer

    def _start(self, level: Level) -> Can:
        self._vibrator().pattern(pattern=list(PATTERNS_S[level]), repeat=-1)
        return YES
