"""The clock of practice: it runs faster than the handheld's while there is nothing to do but wait. Needs no window."""

from __future__ import annotations

from protocols.clock import Clock, Reading

# How many times as fast waiting may pass; 1 is real time.
PACES = (1, 10, 60)


class PacedClock:
    """The clock promise for practice: `pace` times the handheld's for as long as `hurry` allows, then as fast as it."""

    def __init__(self, real: Clock, pace: int = PACES[1]) -> None:
        self._real = real
        start = real.read()
        self.pace = pace
        self._boot = f"practice-{start.boot}"
        self._behind_ms = start.wall_ms - start.elapsed_ms
        # From this moment of the real clock, at this moment of practice, so many ms pass at the pace.
        self._real_ms, self._at_ms, self._fast_ms = start.elapsed_ms, start.elapsed_ms, 0

    def read(self) -> Reading:
        """Promise both clocks of this moment of practice."""
        at_ms = self._now_ms()
        return Reading(at_ms, at_ms + self._behind_ms, self._boot)

    def hurry(self, seconds: float) -> None:
        """Promise that the next so many seconds of practice pass at the pace, and no more of them than that."""
        self._at_ms, self._real_ms = self._now_ms(), self._real.read().elapsed_ms
        self._fast_ms = max(0, round(seconds * 1000)) if self.pace > 1 else 0

    def _now_ms(self) -> int:
        passed_ms = self._real.read().elapsed_ms - self._real_ms
        fast_ms = min(passed_ms * self.pace, self._fast_ms)
        return self._at_ms + fast_ms + passed_ms - -(-fast_ms // self.pace)
