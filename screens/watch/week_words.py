"""A week's figures in words, the same ones that the terminal and the PDF show. Needs no window."""

from __future__ import annotations

from data.week import Family, WeekFigures
from data.week_charts import WeekChart
from protocols.clock import clock_text, parse_date, parse_wall
from screens.moments import day_and_time, day_words
from screens.shown import step_words
from screens.words import fields, has, say

# More signals than this say no more than "look at this": own figure.
_MOST = 2


class _Left:
    """Stands for a value that a count of refusals does not keep, however the message shows it."""

    def __format__(self, spec: str) -> str:
        return "…"

    def __repr__(self) -> str:
        return "…"

    __str__ = __repr__


def refusals(figures: WeekFigures) -> list[tuple[str, str]]:
    """Promise why commands were refused, in words, and how often; the name of a rule that has none any more."""
    return [(_refused(rule), str(count)) for rule, count in figures.refusals]


def _refused(rule: str) -> str:
    words = f"refuse.{rule}.why"
    return say(words, **dict.fromkeys(fields(words), _Left())) if has(words) else rule


def family_lines(one: Family) -> tuple[str, ...]:
    """Promise what is said of one family of scopes."""
    ended = [say("week.completed", count=one.completed)]
    ended += [say("week.voided", count=one.voided)] if one.voided else []
    ended += [say("week.out", count=one.out_of_service)] if one.out_of_service else []
    ended += [say("week.handed_over", count=one.handed_over)] if one.handed_over else []
    lines = [", ".join(ended)]
    if one.median_s is not None and one.p90_s is not None:
        lines.append(say("week.turnaround", half=clock_text(one.median_s), most=clock_text(one.p90_s)))
    if one.hands_s is not None:
        lines.append(say("week.hands", half=clock_text(one.hands_s), seen=one.hands_seen))
    return tuple(lines)


def counts(figures: WeekFigures) -> list[tuple[str, str]]:
    """Promise the single figures, each with its name."""

    def of(count: int, whole: int) -> str:
        return say("week.of", count=count, of=whole)

    return [
        (say("week.late_cycles"), of(figures.late_cycles, figures.cycles)),
        (say("week.delayed"), str(figures.delayed)),
        (say("week.delay_unknown"), str(figures.delay_unknown)),
        (say("week.debris"), str(figures.debris_passes)),
        (say("week.again"), of(figures.cleaned_again, figures.cycles)),
        (say("week.leaks"), of(figures.leak_failed, figures.leak_tests)),
        (say("week.strips"), of(figures.strips_failed, figures.strips)),
        (say("week.void"), str(figures.strips_void)),
    ]


def lates(figures: WeekFigures) -> list[tuple[str, str]]:
    """Promise each cause of limits passed, with how often and how long."""
    found = []
    for one in figures.lates:
        what, _, step = one.cause.partition(": ")
        found.append((say(f"week.late.{what}", step=step_words(step)),
                      say("week.late_line", count=one.times, longest=clock_text(one.longest_s))))  # fmt: skip
    return found


def forecasts(figures: WeekFigures) -> list[tuple[str, str]]:
    """Promise how the forecasts did; nothing where nothing was foretold."""
    held = figures.forecasts
    rows = []
    if held.warned or held.unwarned:
        rows.append((say("week.warned"), say("week.of", count=held.warned_late, of=held.warned)))
        rows.append((say("week.unwarned"), say("week.of", count=held.unwarned_late, of=held.unwarned)))
    if held.times:
        for key, hits, (low, high) in (
            ("week.half", held.below_half, held.half), ("week.nine", held.below_nine, held.nine),
        ):  # fmt: skip
            share = say("week.share", share=round(100 * hits / held.times), of=held.times, low=round(100 * low),
                        high=round(100 * high))  # fmt: skip
            rows.append((say(key), share))
    return rows


def chart_title(one: WeekChart) -> str:
    """Promise what a chart shows."""
    return say(f"chart.{one.what}", of=one.of)


def chart_value(one: WeekChart, value: float) -> str:
    """Promise a value of a chart."""
    if one.unit == "times":
        return say("chart.times", value=f"{value:.1f}")
    return clock_text(value) if one.unit == "s" else f"{value:.0%}" if one.kind == "p" else f"{value:.1f}"


def chart_says(one: WeekChart, zone: str) -> str:
    """Promise what a chart says of its week."""
    if not one.unusual:
        return say("chart.calm")
    parts = []
    for number in one.unusual[:_MOST]:
        point, label = one.chart.points[number], one.labels[number]
        when = day_and_time(parse_wall(label), zone) if "T" in label else _day(label)
        rules = ", ".join(say(f"rule.{rule}") for rule in point.signals)
        parts.append(say("chart.look", when=when, value=chart_value(one, point.value), rules=rules))
    if len(one.unusual) > _MOST:
        parts.append(say("chart.more", count=len(one.unusual) - _MOST))
    return "; ".join(parts)


def _day(label: str) -> str:
    return day_words(parse_date(label))
