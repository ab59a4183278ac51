"""How good the forecasts were: what the record holds of them against what came.

Two things can be told from a record. The warning that a receipt was given against (`advice`), against limits that were
really passed on the other scopes while that cycle went on. And the hand times that forecasts rest on: of the times of
this week, half should lie below the middle one known before, and nine of ten below the nine-of-ten one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from data.durations import Own, own_times
from protocols.clock import parse_wall
from protocols.durations import PRIOR_WEIGHT
from protocols.survival import product_limit, time_of, wilson


class Forecasts(NamedTuple):
    """Receipts with and without a warning, and of each how many saw a limit passed on another scope; hand times."""

    warned: int
    warned_late: int
    unwarned: int
    unwarned_late: int
    times: int
    below_half: int
    below_nine: int

    @property
    def half(self) -> tuple[float, float]:
        """Promise the 95 % interval of the share below the middle forecast; 0.5 should lie in it."""
        return wilson(self.below_half, self.times)

    @property
    def nine(self) -> tuple[float, float]:
        """Promise the 95 % interval of the share below the nine-of-ten forecast; 0.9 should lie in it."""
        return wilson(self.below_nine, self.times)


def forecasts(documents: Sequence[Mapping[str, Any]], earlier: Own) -> Forecasts:
    """Promise the figures of a week's documents; `earlier` are the hand times that were known before it."""
    return Forecasts(*_warnings(documents), *_times(documents, earlier))


def _warnings(documents: Sequence[Mapping[str, Any]]) -> tuple[int, int, int, int]:
    lates = [(parse_wall(late["at"]), one["cycle"]) for one in documents for late in one["lates"]]
    found = {True: [0, 0], False: [0, 0]}
    for one in documents:
        start, end = parse_wall(one["received"]["at"]), parse_wall(one["outcome"]["at"])
        others_late = any(start <= at <= end and cycle != one["cycle"] for at, cycle in lates)
        counts = found[bool(one["events"] and one["events"][0]["data"].get("advice"))]
        counts[0] += 1
        counts[1] += others_late
    return *found[True], *found[False]  # type: ignore[return-value]


def _times(documents: Sequence[Mapping[str, Any]], earlier: Own) -> tuple[int, int, int]:
    known = {}
    for key, seen in earlier.items():
        if sum(1 for one in seen if one.ended) >= PRIOR_WEIGHT:
            known[key] = product_limit([one.length_s for one in seen], [one.ended for one in seen])
    times = half = nine = 0
    for key, seen in own_times(documents).items():
        middle, most = (time_of(known[key], beyond) for beyond in (0.5, 0.1)) if key in known else (None, None)
        if middle is None or most is None:
            continue
        for one in seen:
            if one.ended:
                times += 1
                half += one.length_s <= middle
                nine += one.length_s <= most
    return times, half, nine
