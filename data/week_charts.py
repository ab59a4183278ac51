"""The charts of a week: turnaround of every family, lates and exceptions by day, each with its limits and signals.

Times of work spread by factors, not by minutes: twice as long is as usual as half as long. So turnaround is charted by
its logarithm, which is what keeps a few long nights from hiding everything else; limits are shown as times again, and
the moving range as the factor between one cycle and the next.

Limits come from all points shown, the weeks before included; what is marked are points of the week asked for. A family
or a day too rare for limits has no chart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp, log

from data.week_past import Brief
from protocols.charts import POINTS_MIN, Chart, individuals, p_chart, u_chart

# More points than this can't be told apart on a handheld's screen: own figure.
POINTS_MAX = 60

TURNAROUND, RANGE, LATE_SHARE, EXCEPTIONS = "turnaround", "moving range", "late share", "exceptions"


@dataclass(frozen=True, slots=True)
class WeekChart:
    """One chart: `what` is one of the names above, `of` the family of a turnaround, `unit` of its values.

    `labels` say when each point was (wall time or day); points from number `since` on are of the week asked for.
    """

    what: str
    of: str
    kind: str
    unit: str
    labels: tuple[str, ...]
    since: int
    chart: Chart

    @property
    def unusual(self) -> list[int]:
        """Promise the numbers of this week's points that a rule names."""
        return [number for number in self.chart.unusual if number >= self.since]


def week_charts(before: Sequence[Brief], these: Sequence[Brief]) -> Iterator[WeekChart]:
    """Promise the charts of a week, those of turnaround by family first; `before` are cycles of the weeks before."""
    every = [*before, *these]
    week = these[0].week if these else ""
    for family in sorted({one.family for one in these}):
        yield from _turnaround([one for one in every if one.completed and one.family == family], family, week)
    if these:
        yield from _by_day(every, week)


def _turnaround(every: Sequence[Brief], family: str, week: str) -> Iterator[WeekChart]:
    own = every[-POINTS_MAX:]
    if len(own) < POINTS_MIN:
        return
    labels = tuple(one.at for one in own)
    since = next((number for number, one in enumerate(own) if one.week == week), len(own))
    # A cycle of no measurable length (a clock set back) is counted as of one second.
    single, moving = (_powers(one) for one in individuals([log(max(1, one.turnaround_s)) for one in own]))
    yield WeekChart(TURNAROUND, family, "individuals", "s", labels, since, single)
    yield WeekChart(RANGE, family, "moving range", "times", labels[1:], max(0, since - 1), moving)


def _powers(chart: Chart) -> Chart:
    points = [p._replace(value=exp(p.value), lower=exp(p.lower), upper=exp(p.upper)) for p in chart.points]
    return Chart(exp(chart.centre), tuple(points))


def _by_day(every: Sequence[Brief], week: str) -> Iterator[WeekChart]:
    days: dict[str, list[Brief]] = {}
    for one in every:
        days.setdefault(one.at[:10], []).append(one)
    names = sorted(days)[-POINTS_MAX:]
    if len(names) < POINTS_MIN:
        return
    since = next((number for number, day in enumerate(names) if days[day][-1].week == week), len(names))
    sizes = [len(days[day]) for day in names]
    late = [sum(one.late for one in days[day]) for day in names]
    found = [sum(one.exceptions for one in days[day]) for day in names]
    yield WeekChart(LATE_SHARE, "", "p", "share of cycles", tuple(names), since, p_chart(late, sizes))
    yield WeekChart(EXCEPTIONS, "", "u", "a cycle", tuple(names), since, u_chart(found, sizes))
