"""A week's figures as a plain table for the terminal, and as CSV for whoever draws their own charts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from data.exporters.csv_text import Column, table
from data.week import WeekFigures
from data.week_charts import EXCEPTIONS, LATE_SHARE, RANGE, TURNAROUND, WeekChart
from data.week_forecast import Forecasts
from protocols.charts import BEYOND, EIGHT, FOUR_OF_FIVE, TWO_OF_THREE
from protocols.clock import clock_text
from protocols.numerals import counted as counted_noun

RULES = {
    BEYOND: "beyond its limit", TWO_OF_THREE: "two of three far on one side", FOUR_OF_FIVE: "four of five on one side",
    EIGHT: "eight in a row on one side",
}  # fmt: skip
TITLES = {
    TURNAROUND: "turnaround, {of}", RANGE: "factor from one turnaround to the next, {of}",
    LATE_SHARE: "share of cycles past a limit, by day", EXCEPTIONS: "exceptions a cycle, by day",
}  # fmt: skip
_WIDE = 52


def title(one: WeekChart) -> str:
    """Promise what a chart shows, in words."""
    return TITLES[one.what].format(of=one.of)


def shown(one: WeekChart, value: float) -> str:
    """Promise a value of a chart in words."""
    if one.unit == "times":
        return f"{value:.1f} times"
    return clock_text(value) if one.unit == "s" else f"{value:.0%}" if one.kind == "p" else f"{value:.2f}"


def said(one: WeekChart) -> list[str]:
    """Promise what a chart says of this week: nothing unusual, or each unusual point with the rules that name it."""
    if not one.unusual:
        return ["nothing unusual: what differs is noise"]
    points = [(one.labels[n], one.chart.points[n]) for n in one.unusual]
    return [
        f"look at {label[:16].replace('T', ' ')}: {shown(one, point.value)}, "
        + ", ".join(RULES[rule] for rule in point.signals)
        for label, point in points
    ]


def lines(figures: WeekFigures) -> list[str]:
    """Promise the table, line by line."""
    state = "complete" if figures.closed else "still open"
    ended = counted_noun(figures.cycles, "cycle")
    out = [f"week {figures.week} ({state}, through line {figures.through}): {ended} ended", ""]
    ways = f"{'completed':>10}{'voided':>8}{'out':>5}{'moved':>7}"
    out.append(f"{'cycles by family':<28}{ways}  {'median':>8}{'9 of 10':>9}  hands-on")
    for one in figures.families:
        hands = f"{_time(one.hands_s)} ({one.hands_seen})" if one.hands_seen else "not seen"
        ways = f"{one.completed:>10}{one.voided:>8}{one.out_of_service:>5}{one.handed_over:>7}"
        out.append(f"  {one.name:<26}{ways}  {_time(one.median_s):>8}{_time(one.p90_s):>9}  {hands}")
    out += ["", *(_row(name, value) for name, value in counted(figures))]
    for name, found in (
        (
            "limits passed",
            [(late.cause, f"{late.times}, longest {clock_text(late.longest_s)}") for late in figures.lates],
        ),
        ("refusals on this handheld", [(rule, str(count)) for rule, count in figures.refusals]),
        ("forecasts", forecast_rows(figures.forecasts)),
    ):
        out += ["", name + ("" if found else ": none"), *(_row(f"  {what}", value) for what, value in found)]
    out += ["", "charts" + ("" if figures.charts else ": too few cycles for limits yet")]
    for chart in figures.charts:
        points = chart.chart.points
        last = points[-1]
        limits = f"limits {shown(chart, last.lower)} to {shown(chart, last.upper)}"
        out.append(f"  {title(chart)}: {len(points)} points, mean {shown(chart, chart.chart.centre)}, {limits}")
        out += [f"    {line}" for line in said(chart)]
    return out


def counted(figures: WeekFigures) -> list[tuple[str, str]]:
    """Promise the single figures, each with its name."""
    return [
        ("cycles past a limit", f"{figures.late_cycles} of {figures.cycles}"),
        ("cleaning begun late (delayed branch)", str(figures.delayed)),
        ("delay unknown", str(figures.delay_unknown)),
        ("brush passes that brought debris", f"{figures.debris_passes} in {figures.brushed} cycles brushed"),
        ("cycles cleaned again", str(figures.cleaned_again)),
        ("leak tests failed", f"{figures.leak_failed} of {figures.leak_tests}"),
        ("strip tests failed", f"{figures.strips_failed} of {figures.strips}"),
        ("strip tests void", str(figures.strips_void)),
    ]


def forecast_rows(held: Forecasts) -> list[tuple[str, str]]:
    """Promise how the forecasts did; none where nothing was foretold."""
    rows = []
    if held.warned or held.unwarned:
        rows.append(("received against a warning: another scope then late", f"{held.warned_late} of {held.warned}"))
        rows.append(("received without a warning: another scope then late", f"{held.unwarned_late} of {held.unwarned}"))
    if held.times:
        for name, hits, (low, high) in (
            ("hand times below the middle forecast (50 %)", held.below_half, held.half),
            ("hand times below the 9-of-10 forecast (90 %)", held.below_nine, held.nine),
        ):
            rows.append((name, f"{hits / held.times:.0%} of {held.times} ({low:.0%} to {high:.0%})"))
    return rows


def _time(value: float | None) -> str:
    return "" if value is None else clock_text(value)


def _row(name: str, value: str) -> str:
    return f"{name:<{_WIDE}}{value}"


@dataclass(frozen=True, slots=True)
class _Cell:
    figure: str
    of: str
    at: str
    value: float
    unit: str
    lower: float | None = None
    centre: float | None = None
    upper: float | None = None
    signals: str = ""


_COLUMNS: tuple[Column[_Cell], ...] = (
    Column("figure", "text", "what is counted or measured", lambda c: c.figure),
    Column("of", "text", "family, cause or rule", lambda c: c.of),
    Column("at", "text", "when, for a point of a chart", lambda c: c.at),
    Column("value", "number", "the value", lambda c: c.value),
    Column("unit", "text", "its unit", lambda c: c.unit),
    Column("lower", "number", "lower limit of the chart", lambda c: c.lower),
    Column("centre", "number", "its centre line", lambda c: c.centre),
    Column("upper", "number", "its upper limit", lambda c: c.upper),
    Column("signals", "text", "run rules that call the point unusual", lambda c: c.signals),
)


def csv_bytes(figures: WeekFigures) -> bytes:
    """Promise every figure and every point of every chart as CSV, one a row."""
    return table(_COLUMNS, _cells(figures))


def _cells(figures: WeekFigures) -> Iterator[_Cell]:
    for one in figures.families:
        for name, value, unit in (
            ("completed", one.completed, "cycles"), ("voided", one.voided, "cycles"),
            ("out of service", one.out_of_service, "cycles"),
            ("handed over", one.handed_over, "cycles"), ("turnaround median", one.median_s, "s"),
            ("turnaround 9 of 10", one.p90_s, "s"), ("hands-on median", one.hands_s, "s"),
        ):  # fmt: skip
            if value is not None:
                yield _Cell(name, one.name, "", value, unit)
    for name, value, unit in (
        ("cycles past a limit", figures.late_cycles, "cycles"), ("delayed", figures.delayed, "cycles"),
        ("delay unknown", figures.delay_unknown, "cycles"), ("brushed", figures.brushed, "cycles"),
        ("debris seen", figures.debris_passes, "passes"), ("cleaned again", figures.cleaned_again, "cycles"),
        ("leak tests", figures.leak_tests, "tests"), ("leak tests failed", figures.leak_failed, "tests"),
        ("strip tests", figures.strips, "tests"), ("strip tests failed", figures.strips_failed, "tests"),
        ("strip tests void", figures.strips_void, "tests"), *_forecast_cells(figures.forecasts),
    ):  # fmt: skip
        yield _Cell(name, "", "", value, unit)
    for late in figures.lates:
        yield _Cell("limits passed", late.cause, "", late.times, "times")
        yield _Cell("limits passed, longest", late.cause, "", late.longest_s, "s")
    for rule, count in figures.refusals:
        yield _Cell("refused", rule, "", count, "times")
    for chart in figures.charts:
        for label, point in zip(chart.labels, chart.chart.points, strict=True):
            yield _Cell(
                f"chart, {chart.what}", chart.of, label, point.value, chart.unit, point.lower, chart.chart.centre,
                point.upper, ", ".join(point.signals),
            )  # fmt: skip


def _forecast_cells(held: Forecasts) -> list[tuple[str, int, str]]:
    return [
        ("received against a warning", held.warned, "cycles"), ("of these, a limit passed", held.warned_late, "cycles"),
        ("received without a warning", held.unwarned, "cycles"),
        ("of those, a limit passed", held.unwarned_late, "cycles"), ("hand times compared", held.times, "times"),
        ("hand times below the middle forecast", held.below_half, "times"),
        ("hand times below the 9-of-10 forecast", held.below_nine, "times"),
    ]  # fmt: skip
