"""How well forecasts held: ranges noted while scopes are on the bench, held against when the scopes were ready.

The newest results are kept; they tell whether half and nine of ten really come within their ranges. Forecasts of one
scope depend on each other, so only one in twenty minutes is noted.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from protocols.clock import Stamp, longest_s
from protocols.unit import Unit

if TYPE_CHECKING:
    from protocols.forecast import Ready

# A forecast is noted again after so long, and so many results are kept: own figures.
EVERY_S = 1200
KEPT = 200


class Noted(NamedTuple):
    """A forecast of one cycle as it was made."""

    cycle: str
    scope: str
    at: Stamp
    ready: Ready


class Came(NamedTuple):
    """What came of a forecast: the seconds to the end of its cycle, and the forecast."""

    in_s: float
    ready: Ready

    @property
    def in_half(self) -> bool:
        return self.ready.half_s[0] <= self.in_s <= self.ready.half_s[1]

    @property
    def in_most(self) -> bool:
        return self.ready.most_s[0] <= self.in_s <= self.ready.most_s[1]

    @property
    def later(self) -> bool:
        """Whether it came later than the range of nine of ten."""
        return self.in_s > self.ready.most_s[1]


class Calibration(NamedTuple):
    """Forecasts that wait for their cycle to end, and the newest results, oldest first."""

    noted: tuple[Noted, ...] = ()
    results: tuple[Came, ...] = ()
    last: Stamp | None = None

    @property
    def halves(self) -> int:
        return sum(1 for one in self.results if one.in_half)

    @property
    def mosts(self) -> int:
        return sum(1 for one in self.results if one.in_most)

    def ended(self, unit: Unit) -> Calibration:
        """Promise the same with a result for each forecast whose cycle was completed; other ends say nothing."""
        under_way = {cycle.id for cycle in unit.cycles.values()}
        waiting, results = [], list(self.results)
        for one in self.noted:
            scope = unit.scopes.get(one.scope)
            last = scope.last if scope is not None else None
            if one.cycle in under_way:
                waiting.append(one)
            elif last is not None and last.cycle == one.cycle and last.outcome == "completed":
                results.append(Came(longest_s(one.at, last.ended), one.ready))
        return self._replace(noted=tuple(waiting), results=tuple(results[-KEPT:]))

    def due(self, now: Stamp) -> bool:
        """Promise whether forecasts are to be noted again."""
        return self.last is None or longest_s(self.last, now) >= EVERY_S

    def noting(self, unit: Unit, at: Stamp, ready: Mapping[str, Ready]) -> Calibration:
        """Promise the same with these forecasts, made at that moment of that unit, noted where that is due."""
        if not ready or not self.due(at):
            return self
        new = (Noted(unit.cycles[scope].id, scope, at, one) for scope, one in ready.items() if scope in unit.cycles)
        return self._replace(noted=(*self.noted, *new), last=at)
