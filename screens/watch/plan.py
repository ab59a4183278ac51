"""What the plan foresees, for the Watch: who comes past a limit, what helps most, when scopes are ready."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from protocols.clock import Stamp
from protocols.lane import Lane
from screens.plan_words import at_words, foreseen, held_words, help_words, minutes, ready_words
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from protocols.calibration import Calibration
    from screens.planning import Planned

# More lines of what is foreseen than this tell nothing more: own figure.
_MOST = 4


class PlanPart:
    """Keeps its words from one look to the next, so that nothing is laid out anew while they stay the same."""

    def __init__(self) -> None:
        self._pool: list[Words] = []
        self.words: list[Words] = []
        self.ready: list[Words] = []

    def show(
        self, planned: Planned | None, calibration: Calibration, lanes: Sequence[Lane], now: Stamp, zone: str
    ) -> None:
        """Fill `words` (what comes, what helps) and `ready` (when scopes are ready); both empty without a plan."""
        if planned is None:
            self.words, self.ready = [], []
            return
        said = _foreseen(planned, lanes, now, zone)
        wanted = {lane.scope: lane.cycle.wanted_wall_ms for lane in lanes}
        order = sorted(planned.ready.values(), key=lambda r: (r.middle_s, r.scope))
        ready = [line for r in order for line in ready_words(planned, r, now, zone, wanted.get(r.scope))]
        if ready:
            ready.append(held_words(calibration))
        while len(self._pool) < len(said) + len(ready):
            self._pool.append(Words("", step="detail"))
        for label, text in zip(self._pool, (*said, *ready), strict=False):
            label.text = text
        self.words, self.ready = self._pool[: len(said)], self._pool[len(said) : len(said) + len(ready)]


def _foreseen(planned: Planned, lanes: Sequence[Lane], now: Stamp, zone: str) -> list[str]:
    over = {lane.scope for lane in lanes if lane.over_s > 0}
    age_s = planned.age_s(now)
    lines = [
        say("plan.foreseen_line", tag=slot.scope, time=minutes(slot.late_s),
            at=at_words(now, slot.start_s + slot.change_s - age_s, zone))
        for slot in foreseen(planned) if slot.scope not in over
    ]  # fmt: skip
    helps = help_words(planned)
    return [*(lines[:_MOST] or [say("plan.none_foreseen")]), *([helps] if helps else [])]
