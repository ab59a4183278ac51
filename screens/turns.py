"""Whose turn it is: what computes on another thread waits while the screen's thread is at work.

Python lets one thread run at a time, and one that computes hands over only when another has waited 5 ms for it. Drawing
lets go many times, so that beside the planner a frame of 10 ms took 50, and what fell due meanwhile was called late.
Needs no window: the clock is handed in.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

# The screen's thread may have stopped turning (a paused app, a hidden window): then nobody is to be waited for.
MOST_S = 0.25


class Turns:
    """Follows the screen's thread from `watch` to `unwatch`; a worker calls `give_way` about every half millisecond."""

    def __init__(self) -> None:
        self._free = threading.Event()
        self._free.set()
        self._clock: Any = None

    def watch(self, clock: Any) -> None:
        """Promise that workers run while Kivy's clock rests until the next frame, and only then."""
        self.unwatch()
        rest: Callable[[float], None] = clock.usleep

        def resting(microseconds: float) -> None:
            self._free.set()
            try:
                rest(microseconds)
            finally:
                self._free.clear()

        clock.usleep = resting
        self._clock = clock

    def unwatch(self) -> None:
        """Promise that nobody waits any more, and that the clock is as it was."""
        if self._clock is not None:
            del self._clock.usleep
            self._clock = None
        self._free.set()

    def give_way(self) -> None:
        """Wait while the screen's thread is at work. For other threads than that one."""
        if not self._free.is_set() and not self._free.wait(MOST_S):
            self._free.set()
