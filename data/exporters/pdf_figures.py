"""The week's figures in the audit folder's PDF: single figures in columns, and control charts two in a row."""

from __future__ import annotations

from collections.abc import Callable
from math import isinf, log
from typing import TYPE_CHECKING

from data.exporters.pdf_page import GREY, INK, LEFT, RULE, WIDTH, page_of, text_line
from data.week import WeekFigures
from data.week_charts import WeekChart
from data.week_text import counted, forecast_rows, said, shown, title
from protocols.clock import clock_text

if TYPE_CHECKING:
    from fpdf import FPDF

_COLUMN, _GAP, _ROW = (WIDTH - 8) / 2, 8.0, 4.2
_PLOT, _CHART = 22.0, 40.0
# Beside the axis: where the values of the three lines stand.
_SCALE = 22.0
_SIGNAL = (168, 24, 48)
_SAID_MAX = 2


def figures_part(pdf: FPDF, figures: WeekFigures) -> None:
    """Promise the figures and the charts of a week."""
    page_of(pdf, 60)
    pdf.ln(2)
    text_line(pdf, "The week in figures", 12, bold=True)
    pdf.ln(1)
    _families(pdf, figures)
    lates = [
        (f"limit passed, {one.cause}", f"{one.times}, longest {clock_text(one.longest_s)}") for one in figures.lates
    ]
    refused = [(f"refused on the handheld: {rule}", str(count)) for rule, count in figures.refusals]
    rows = [*counted(figures), *lates, *forecast_rows(figures.forecasts), *refused]
    half = (len(rows) + 1) // 2
    for number in range(half):
        page_of(pdf, _ROW)
        top = pdf.get_y()
        for column, at in ((0, number), (1, number + half)):
            if at < len(rows):
                left = LEFT + column * (_COLUMN + _GAP)
                pdf.set_xy(left, top)
                text_line(pdf, rows[at][0], 8, width=_COLUMN - 42)
                pdf.set_xy(left + _COLUMN - 42, top)
                text_line(pdf, rows[at][1], 8, bold=True, width=42, align="R")
        pdf.set_xy(LEFT, top + _ROW)
    _charts(pdf, figures)


def _families(pdf: FPDF, figures: WeekFigures) -> None:
    heads = (
        "family",
        "completed",
        "voided",
        "out of service",
        "handed over",
        "turnaround, median",
        "9 of 10 below",
        "hands-on, median",
    )
    rows = [
        (
            one.name, *map(str, (one.completed, one.voided, one.out_of_service, one.handed_over)),
            _time(one.median_s), _time(one.p90_s),
            f"{_time(one.hands_s)} ({one.hands_seen})" if one.hands_seen else "",
        )
        for one in figures.families
    ]  # fmt: skip
    for bold, row in ((True, heads), *((False, row) for row in rows)):
        page_of(pdf, _ROW)
        top = pdf.get_y()
        for number, cell in enumerate(row):
            width = 60.0 if number == 0 else (WIDTH - 60) / 7
            pdf.set_xy(LEFT + (0 if number == 0 else 60 + (number - 1) * width), top)
            text_line(pdf, cell, 8, bold=bold, colour=GREY if bold else INK, width=width, align="R" if number else "L")
        pdf.set_xy(LEFT, top + _ROW)
    pdf.ln(1.5)


def _time(value: float | None) -> str:
    return "" if value is None else clock_text(value)


def _charts(pdf: FPDF, figures: WeekFigures) -> None:
    pdf.ln(2)
    page_of(pdf, _CHART + 10)
    text_line(pdf, "What is a real change, and what is noise", 12, bold=True)
    told = (
        "Lines: mean, and limits at three standard deviations of everything shown. A large dot is a point of this week "
        "that the run rules call unusual; an unchanged process has one in about 92."
    )
    if not figures.charts:
        told = "Too few cycles for limits yet."
    text_line(pdf, told, 8, colour=GREY, width=WIDTH, wrap=True)
    pdf.ln(1)
    for number in range(0, len(figures.charts), 2):
        page_of(pdf, _CHART)
        top = pdf.get_y()
        for column, one in enumerate(figures.charts[number : number + 2]):
            _chart(pdf, one, LEFT + column * (_COLUMN + _GAP), top)
        pdf.set_xy(LEFT, top + _CHART)


def _chart(pdf: FPDF, one: WeekChart, left: float, top: float) -> None:
    pdf.set_xy(left, top)
    text_line(pdf, title(one), 8, bold=True, width=_COLUMN)
    points, centre = one.chart.points, one.chart.centre
    tops = [p.upper for p in points if not isinf(p.upper)]
    low = min([p.value for p in points] + [p.lower for p in points])
    high = max([p.value for p in points] + tops)
    by_factor = one.unit in ("s", "times")
    floor, ceiling = (log(max(low, 1e-9)), log(high)) if by_factor else (low, high)
    span = (ceiling - floor) or 1.0

    def y(value: float) -> float:
        at = log(max(value, 1e-9)) if by_factor else value
        return top + 7 + _PLOT * (1 - (min(max(at, floor), ceiling) - floor) / span)

    def x(number: int) -> float:
        return left + _SCALE + (_COLUMN - _SCALE) * (number + 0.5) / len(points)

    _limits(pdf, one, left, x, y)
    pdf.set_draw_color(*INK)
    pdf.set_line_width(0.15)
    for number, point in enumerate(points[1:], 1):
        pdf.line(x(number - 1), y(points[number - 1].value), x(number), y(point.value))
    for number, point in enumerate(points):
        unusual = number in one.unusual
        pdf.set_fill_color(*(_SIGNAL if unusual else INK if number >= one.since else GREY))
        pdf.circle(x(number), y(point.value), 1.1 if unusual else 0.45, style="F")
    for value, above in ((points[-1].upper, 0.6), (centre, 0.0), (points[-1].lower, -0.6)):
        pdf.set_xy(left, y(value) - 1.4 - above)
        text_line(pdf, shown(one, value), 6, colour=GREY, width=_SCALE - 1, align="R")
    pdf.set_xy(left, top + _PLOT + 9)
    lines = said(one)
    more = [f"and {len(lines) - _SAID_MAX} more"] if len(lines) > _SAID_MAX else []
    text_line(pdf, "; ".join([*lines[:_SAID_MAX], *more]), 6.5, width=_COLUMN, colour=_SIGNAL if one.unusual else GREY)


def _limits(pdf: FPDF, one: WeekChart, left: float, x: Callable[[int], float], y: Callable[[float], float]) -> None:
    half = (_COLUMN - _SCALE) / len(one.chart.points) / 2
    pdf.set_line_width(0.1)
    pdf.set_draw_color(*RULE)
    pdf.line(left + _SCALE, y(one.chart.centre), left + _COLUMN, y(one.chart.centre))
    pdf.set_draw_color(*GREY)
    for number, point in enumerate(one.chart.points):
        for value in (point.lower, point.upper):
            if not isinf(value):
                pdf.line(x(number) - half, y(value), x(number) + half, y(value))
