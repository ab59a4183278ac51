"""A week for the audit folder: summary, exceptions first, charts, every cycle on one line, and room to sign.

Needs the package fpdf2 (the extra `pdf`), which is loaded only here; without it an export says that it left this out.
The same record and the same version of fpdf2 give the same bytes.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from data.exporters.pdf_cycles import RIBBON_MM, cycle_table, ribbons
from data.exporters.pdf_figures import figures_part
from data.exporters.pdf_page import GREY, INK, LEFT, RULE, WIDTH, axis, new_page, page_of, row_height, scale, text_line
from data.exporters.standing import Standing
from data.exporters.week_summary import Deviation, Turnaround, deviations, outcomes, turnarounds
from data.gather import WeekRead
from data.week import WeekFigures
from protocols.clock import clock_text, parse_wall

if TYPE_CHECKING:
    from fpdf import FPDF

WITHOUT = "the Python package fpdf2 (extra pdf) is not installed here"
_PLOT_LEFT, _PLOT_RIGHT = 80.0, 262.0
_EXCEPTION_MM = (34.0, 16.0, 38.0, WIDTH - 34 - 16 - 38 - 22, 22.0)


def can_print() -> bool:
    """Promise whether this machine can make the PDF."""
    return find_spec("fpdf") is not None


def week_pdf(read: WeekRead, documents: list[dict[str, Any]], standing: Standing, figures: WeekFigures) -> bytes:
    """Promise the PDF of a week; `documents` are those of `read`, in order. Call only where `can_print`."""
    pdf = new_page(standing, _font_folder())
    _summary(pdf, documents, standing)
    found = [deviation for document in documents for deviation in deviations(document)]
    _deviations(pdf, sorted(found, key=lambda d: parse_wall(d.at)), len(documents))
    times = turnarounds(documents)
    if times:
        _turnaround_chart(pdf, times)
    if documents:
        figures_part(pdf, figures)
    if documents:
        _ribbon_chart(pdf, documents)
        cycle_table(pdf, documents)
    _signatures(pdf, standing)
    return bytes(pdf.output())


def _font_folder() -> Path | None:
    # Kivy, which the app needs anyway, ships fonts with Latin, Greek and Cyrillic; it is not imported for them.
    kivy = find_spec("kivy")
    places = kivy.submodule_search_locations if kivy is not None else None
    folder = Path(places[0]) / "data" / "fonts" if places else None
    names = ("Roboto-Regular.ttf", "Roboto-Bold.ttf", "DejaVuSans.ttf")
    return folder if folder is not None and all((folder / name).is_file() for name in names) else None


def _summary(pdf: FPDF, documents: list[dict[str, Any]], standing: Standing) -> None:
    text_line(pdf, f"Endoscope reprocessing, week {standing.week}", 18, bold=True)
    text_line(pdf, standing.unit, 12)
    state = "complete" if standing.closed else f"week still open, as of {shown(standing.at)}"
    text_line(pdf, f"Handheld {standing.device}; {state}; record through line {standing.through}", 8.5, colour=GREY)
    text_line(pdf, f"chain head {standing.head}", 7, colour=GREY)
    pdf.ln(3)
    ended = outcomes(documents)
    deviating = sum(1 for document in documents if deviations(document))
    strips = [strip for document in documents for strip in document["disinfection"]["strip_tests"]]
    leaks = [test for document in documents for test in document["leak_tests"]]
    figures = (
        (len(documents), "cycles ended"), (ended["completed"], "completed"), (ended["voided"], "voided"),
        (ended["out of service"], "out of service"),
        *([(ended["handed over"], "handed over")] if ended["handed over"] else []), (deviating, "with exceptions"),
        (sum(test["result"] == "fail" for test in leaks), "failed leak tests"),
        (sum(strip["result"] == "fail" for strip in strips), "failed strip tests"),
        (sum(len(document["lates"]) for document in documents), "limits passed"),
    )  # fmt: skip
    width, top = WIDTH / len(figures), pdf.get_y()
    for number, (value, name) in enumerate(figures):
        pdf.set_xy(LEFT + number * width, top)
        text_line(pdf, str(value), 17, bold=True, width=width)
        pdf.set_xy(LEFT + number * width, top + 8)
        text_line(pdf, name, 8, colour=GREY, width=width)
    pdf.set_xy(LEFT, top + 16)


def _deviations(pdf: FPDF, found: list[Deviation], cycles: int) -> None:
    text_line(pdf, "Exceptions", 12, bold=True)
    if not found:
        text_line(pdf, "None." if cycles else "No cycle ended in this week.", 9)
    else:
        _cells(pdf, ("when", "scope", "cycle", "what", "by"), GREY)
        pdf.set_xy(LEFT, pdf.get_y() + 4.4)
    for one in found:
        cells = (shown(one.at), one.scope, one.cycle, one.what, one.by)
        height = max(row_height(pdf, cell, width, 8) for cell, width in zip(cells, _EXCEPTION_MM, strict=True))
        page_of(pdf, height + 1.4)
        top = pdf.get_y()
        _cells(pdf, cells, INK)
        pdf.set_draw_color(*RULE)
        pdf.set_line_width(0.1)
        pdf.line(LEFT, top + height + 0.4, LEFT + WIDTH, top + height + 0.4)
        pdf.set_xy(LEFT, top + height + 1.1)
    pdf.ln(3)


def _cells(pdf: FPDF, cells: tuple[str, ...], colour: tuple[int, int, int]) -> None:
    top, left = pdf.get_y(), LEFT
    for cell, width in zip(cells, _EXCEPTION_MM, strict=True):
        pdf.set_xy(left, top)
        text_line(pdf, cell, 8, width=width, wrap=True, colour=colour)
        left += width
    pdf.set_xy(LEFT, top)


def _turnaround_chart(pdf: FPDF, times: list[Turnaround]) -> None:
    """One row a family: a dot for every completed cycle, a bar at the median."""
    page_of(pdf, 16 + 9 * min(len(times), 4))
    text_line(pdf, "Turnaround, receipt to storage: a dot for each completed cycle, a bar at the median", 12, bold=True)
    pdf.ln(1.5)
    step, end = scale(max(one.times_s[-1] for one in times))

    def x(seconds: float) -> float:
        return _PLOT_LEFT + (_PLOT_RIGHT - _PLOT_LEFT) * seconds / end

    for one in times:
        page_of(pdf, 9)
        top = pdf.get_y()
        pdf.set_xy(LEFT, top + 1)
        text_line(pdf, f"{one.family} ({len(one.times_s)})", 8, width=_PLOT_LEFT - LEFT)
        pdf.set_draw_color(*GREY)
        pdf.set_line_width(0.1)
        pdf.line(_PLOT_LEFT, top + 3.2, _PLOT_RIGHT, top + 3.2)
        pdf.set_fill_color(*INK)
        for seconds in one.times_s:
            pdf.circle(x(seconds), top + 3.2, 0.9, style="F")
        pdf.rect(x(one.median_s) - 0.35, top + 0.4, 0.7, 5.6, style="F")
        pdf.set_xy(_PLOT_RIGHT + 1, top + 1)
        text_line(pdf, clock_text(one.median_s), 8, bold=True, width=22)
        pdf.set_xy(LEFT, top + 7)
    axis(pdf, [(x(s), clock_text(s)) for s in range(0, end + 1, step)])


def _ribbon_chart(pdf: FPDF, documents: list[dict[str, Any]]) -> None:
    page_of(pdf, 26 + RIBBON_MM * min(len(documents), 6))
    text_line(pdf, "Every cycle on its own time, from receipt", 12, bold=True)
    pdf.ln(1)
    ribbons(pdf, documents, _PLOT_LEFT, _PLOT_RIGHT)


def _signatures(pdf: FPDF, standing: Standing) -> None:
    page_of(pdf, 46)
    pdf.ln(4)
    text_line(pdf, "Reviewed", 12, bold=True)
    said = (
        "This page is a summary. The record is the chain of lines in the same export, signed by the handheld in "
        "manifest.sig. A record shows what people entered; it is no proof that a scope is clean, and the app releases "
        "none. The label and the maker's instructions for use win over every figure here."
    )
    text_line(pdf, said, 8, colour=GREY, wrap=True, width=WIDTH)
    pdf.ln(12)
    top = pdf.get_y()
    pdf.set_draw_color(*INK)
    pdf.set_line_width(0.2)
    for number, label in enumerate(("name", "role", "date", "signature")):
        left = LEFT + number * WIDTH / 4
        pdf.line(left, top, left + WIDTH / 4 - 6, top)
        pdf.set_xy(left, top + 0.6)
        text_line(pdf, label, 8, width=60, colour=GREY)


def shown(wall: str) -> str:
    """Promise a wall time for print, to the minute and without the offset."""
    return wall[:16].replace("T", " ")
