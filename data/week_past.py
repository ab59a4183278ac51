"""What the weeks before leave for a week's charts and forecasts: a few figures of each cycle, and hand times.

Whole documents of two months would fill a handheld's memory, so each week is read, reduced to this, and let go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from data.durations import Own, own_times
from data.exporters.week_summary import deviations, turnaround_s
from protocols.durations import KEPT

Documents = Sequence[Mapping[str, Any]]


class Brief(NamedTuple):
    """One cycle in few figures: the week and wall time in which it ended, and what the charts count of it."""

    week: str
    at: str
    family: str
    completed: bool
    turnaround_s: float
    late: bool
    exceptions: int


@dataclass(slots=True)
class Past:
    """The weeks before, oldest first: briefs of their cycles, and hand times by (family, step), the newest of each."""

    briefs: list[Brief] = field(default_factory=list)
    own: Own = field(default_factory=dict)

    def add(self, week: str, documents: Documents) -> None:
        """Promise that a week later than those before is counted in."""
        self.briefs += briefs(week, documents)
        for key, seen in own_times(documents).items():
            self.own[key] = [*self.own.get(key, ()), *seen][-KEPT:]


def briefs(week: str, documents: Documents) -> list[Brief]:
    """Promise the briefs of a week's documents."""
    return [
        Brief(
            week, str(one["outcome"]["at"]), family(one), one["outcome"]["outcome"] == "completed",
            turnaround_s(dict(one)), bool(one["lates"]), len(deviations(dict(one))),
        )
        for one in documents
    ]  # fmt: skip


def family(document: Mapping[str, Any]) -> str:
    """Promise the family of a cycle's scope."""
    return str(document["scope"]["family"] or "unknown")


def past_of(weeks: Iterable[tuple[str, Documents]]) -> Past:
    """Promise what these weeks leave, oldest first."""
    past = Past()
    for week, documents in weeks:
        past.add(week, documents)
    return past
