"""The figures of a week: what was done, how long it took, what went otherwise, and which of it is a real change.

Made from the documents of ended cycles (`data.cycles`), those of the weeks before for the charts; decides nothing. A
cycle counts in the week in which it ended. Times are in seconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from data.disk import Disk
from data.exporters.week_summary import turnaround_s
from data.gather import Segments, UnknownWeek, checked_week, read_week
from data.ledger import Ledger
from data.refused import refused_in
from data.week_charts import WeekChart, week_charts
from data.week_forecast import Forecasts, forecasts
from data.week_hands import hands_s
from data.week_past import Documents, Past, briefs, family, past_of
from protocols.charts import quantile
from protocols.errors import RecordDamaged, RecordTooNew

# Charts look back so many weeks: own figure, about two months. Longer, and a process that was changed on purpose would
# go on being judged by what it was.
WEEKS_BACK = 8


class Family(NamedTuple):
    """One family of scopes: cycles by how they ended, turnaround of the completed ones, hands-on time of those seen."""

    name: str
    completed: int
    voided: int
    out_of_service: int
    handed_over: int
    median_s: float | None
    p90_s: float | None
    hands_s: float | None
    hands_seen: int


class Late(NamedTuple):
    """One cause of limits passed: what, how often, and by how much at the most."""

    cause: str
    times: int
    longest_s: float


@dataclass(frozen=True, slots=True)
class WeekFigures:
    """One week in figures. `refusals` are by rule, as counted beside the record."""

    week: str
    closed: bool
    through: int
    families: tuple[Family, ...]
    delayed: int
    delay_unknown: int
    lates: tuple[Late, ...]
    late_cycles: int
    brushed: int
    debris_passes: int
    cleaned_again: int
    leak_tests: int
    leak_failed: int
    strips: int
    strips_failed: int
    strips_void: int
    refusals: tuple[tuple[str, int], ...]
    forecasts: Forecasts
    charts: tuple[WeekChart, ...]

    @property
    def cycles(self) -> int:
        """Promise how many cycles ended."""
        return sum(one.completed + one.voided + one.out_of_service + one.handed_over for one in self.families)


def week_figures(disk: Disk, record: Segments, week: str) -> WeekFigures:
    """Promise the figures of a week. Raises CommandFault for a malformed week, UnknownWeek, RecordDamaged or
    RecordTooNew.
    """
    read = read_week(record, week)
    return figures_of(
        read.documents(), past(disk, record, week), read.closed, read.through, week, refused_in(disk, week)
    )


def past(disk: Disk, record: Segments, week: str) -> Past:
    """Promise what the weeks before leave for the charts of this one. Raises RecordDamaged or RecordTooNew."""
    earlier = [one for one in record.segments() if one < week][-WEEKS_BACK:]
    return past_of((one, documents_of(disk, record, one)) for one in earlier)


def figures_of(
    documents: Documents, before: Past, closed: bool, through: int, week: str, refused: Counter[str]
) -> WeekFigures:
    """Promise the figures of these documents; `before` is what the weeks before left."""
    strips = [strip for one in documents for strip in one["disinfection"]["strip_tests"]]
    leaks = [test for one in documents for test in one["leak_tests"]]
    brushings = [[brush["with_debris"] for brush in one["brushing"]] for one in documents]
    return WeekFigures(
        week=week, closed=closed, through=through, families=tuple(_families(documents)),
        delayed=sum(1 for one in documents if one["delay"]["delayed"] and one["delay"]["delay_s"] is not None),
        delay_unknown=sum(1 for one in documents if one["delay"]["delayed"] and one["delay"]["delay_s"] is None),
        lates=tuple(_lates(documents)), late_cycles=sum(1 for one in documents if one["lates"]),
        brushed=sum(1 for passes in brushings if passes),
        debris_passes=sum(sum(passes) for passes in brushings),
        cleaned_again=sum(1 for one in documents if len(one["cleaning"]["rounds"]) > 1),
        leak_tests=len(leaks), leak_failed=sum(1 for test in leaks if test["result"] == "fail"),
        strips=len(strips), strips_failed=sum(1 for strip in strips if strip["result"] == "fail"),
        strips_void=sum(1 for strip in strips if strip["result"] not in ("pass", "fail")),
        refusals=tuple(sorted(refused.items(), key=lambda one: (-one[1], one[0]))),
        forecasts=forecasts(documents, before.own),
        charts=tuple(week_charts(before.briefs, briefs(week, documents))),
    )  # fmt: skip


def documents_of(disk: Disk, record: Segments, week: str) -> Documents:
    """Promise the documents of a week, from the ledger where that is whole, else from the record itself.

    Raises as `read_week`; a week that the record has no more, and the ledger neither, has none.
    """
    ledger = Ledger(disk)
    try:
        known = ledger.weeks()
        if week in known[:-1]:  # all but the newest file are complete
            return ledger.week(checked_week(week))
    except (RecordDamaged, RecordTooNew):
        pass  # the record can be read all the same
    try:
        return read_week(record, week).documents()
    except UnknownWeek:
        return []


def _families(documents: Documents) -> Iterator[Family]:
    hands = hands_s(documents)
    for name in sorted({family(one) for one in documents}):
        own = [one for one in documents if family(one) == name]
        ended = Counter(one["outcome"]["outcome"] for one in own)
        completed = [one for one in own if one["outcome"]["outcome"] == "completed"]
        times = [turnaround_s(dict(one)) for one in completed]
        seen = [hands[one["cycle"]] for one in completed if one["cycle"] in hands]
        yield Family(
            name, ended["completed"], ended["voided"], ended["out of service"], ended["handed over"],
            quantile(times, 0.5) if times else None, quantile(times, 0.9) if times else None,
            quantile(seen, 0.5) if seen else None, len(seen),
        )  # fmt: skip


def _lates(documents: Documents) -> Iterator[Late]:
    found: dict[str, list[float]] = {}
    for document in documents:
        for late in document["lates"]:
            found.setdefault(f"{late['what']}: {late['step']}", []).append(float(late["over_s"]))
    for cause, over in sorted(found.items(), key=lambda one: (-len(one[1]), one[0])):
        yield Late(cause, len(over), max(over))
