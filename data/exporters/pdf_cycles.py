"""Every cycle in the audit folder's PDF: as a ribbon of its stages over time, and as one line of a table."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Literal

from data.exporters.cycle_row import CycleRow
from data.exporters.pdf_page import BOTTOM, GREY, HEIGHT, INK, LEFT, PALE, WIDTH, axis, page_of, scale, text_line
from data.exporters.week_summary import deviations, turnaround_s
from data.ribbon import Bar, ribbon
from protocols.clock import clock_text

if TYPE_CHECKING:
    from fpdf import FPDF

RIBBON_MM = 4.2
_Colour = tuple[int, int, int]
# Light and dark in turn, so that neighbours stay apart in a print without colour.
STAGES: dict[str, tuple[str, _Colour]] = {
    "prepare": ("prepare", (178, 186, 194)),
    "leak test": ("leak test", (92, 104, 118)),
    "clean": ("clean", (122, 176, 214)),
    "rinse": ("rinse", (34, 98, 148)),
    "inspect": ("inspect", (232, 196, 104)),
    "disinfect": ("disinfect", (150, 62, 92)),
    "final rinse": ("final rinse", (140, 202, 192)),
    "dry": ("dry", (58, 118, 86)),
    "store": ("store", (206, 178, 148)),
}
_OTHER: tuple[str, _Colour] = ("other", (226, 228, 230))


def ribbons(pdf: FPDF, documents: list[dict[str, Any]], left: float, right: float) -> None:
    """Promise a ribbon for every cycle between two edges (mm), with a common axis; the bars are those of the pages.

    One that is more than twice as long as nine in ten of the others is cut at the edge, with its length beside it.
    """
    _legend(pdf)
    drawn = [(document, _seconds(ribbon(document))) for document in documents]
    lengths = sorted(one[-1][2] if one else 0.0 for _, one in drawn)
    usual = lengths[(len(lengths) * 9 - 1) // 10]
    step, end = scale(lengths[-1] if lengths[-1] <= 2 * usual else 2 * usual)
    marks = [(left + (right - left) * s / end, clock_text(s)) for s in range(0, end + 1, step)]
    for document, one in drawn:
        if pdf.get_y() + RIBBON_MM + 8 > HEIGHT - BOTTOM:
            axis(pdf, marks)
            pdf.add_page()
        _ribbon(pdf, document, one, (left, right), end)
    axis(pdf, marks)


def _seconds(bars: list[Bar]) -> list[tuple[str, float, float]]:
    """The bars in seconds from the first on."""
    start_ms = bars[0].start_ms if bars else 0
    return [(bar.stage, (bar.start_ms - start_ms) / 1000, (bar.end_ms - start_ms) / 1000) for bar in bars]


def _ribbon(
    pdf: FPDF, document: dict[str, Any], one: list[tuple[str, float, float]], edges: tuple[float, float], end_s: float
) -> None:  # fmt: skip
    top, (left, right) = pdf.get_y(), edges
    pdf.set_xy(LEFT, top + 0.3)
    text_line(pdf, f"{document['scope']['tag']}  {_clock(document['received']['at'])}", 7, width=40)
    pdf.set_xy(LEFT + 40, top + 0.3)
    ended_as = document["outcome"]["outcome"]
    text_line(pdf, "" if ended_as == "completed" else ended_as, 7, bold=True, width=left - LEFT - 40)
    for stage, start, until in one:
        from_x, to_x = (left + (right - left) * min(s, end_s) / end_s for s in (start, until))
        if start < end_s:
            pdf.set_fill_color(*STAGES.get(stage, _OTHER)[1])
            pdf.rect(from_x, top + 0.4, max(0.1, to_x - from_x), RIBBON_MM - 1, style="F")
    if one and one[-1][2] > end_s:
        pdf.set_xy(right + 1, top + 0.3)
        text_line(pdf, f"... {clock_text(one[-1][2])}", 7, bold=True, width=22)
    pdf.set_xy(LEFT, top + RIBBON_MM)


def _legend(pdf: FPDF) -> None:
    top, left = pdf.get_y(), LEFT
    for name, colour in (*STAGES.values(), _OTHER):
        pdf.set_fill_color(*colour)
        pdf.rect(left, top + 0.5, 4, 2.6, style="F")
        pdf.set_xy(left + 4.6, top)
        text_line(pdf, name, 7.5, width=26)
        left += 27
    pdf.set_xy(LEFT, top + 5.5)


_Cell = tuple[str, float, Literal["L", "R"], Callable[[CycleRow], str]]


def _clock(wall: str | None) -> str:
    return wall[5:16].replace("T", " ") if wall else ""


def _contact(row: CycleRow) -> str:
    if row.run:
        return f"machine {row.run['machine']}: {row.run['result'] or 'not ended'}"
    soak = row.soak
    if not soak:
        return ""
    proven = "?" if soak["contact_s"] is None else clock_text(soak["contact_s"])
    return f"{proven} of {clock_text(soak['required_s'])}, {soak['result'] or 'not ended'}"


def _people(row: CycleRow) -> str:
    return ", ".join(row.get("people.names").values())


CELLS: tuple[_Cell, ...] = (
    ("scope", 13, "L", lambda r: r.get("scope.tag")),
    ("cycle", 31, "L", lambda r: r.get("cycle")),
    ("case", 22, "L", lambda r: r.get("case.reference") or ""),
    ("received", 20, "L", lambda r: _clock(r.get("received.at"))),
    ("ended", 20, "L", lambda r: _clock(r.get("outcome.at"))),
    ("took", 13, "R", lambda r: clock_text(turnaround_s(r.all))),
    ("", 4, "L", lambda r: ""),
    ("outcome", 22, "L", lambda r: r.get("outcome.outcome")),
    ("leak test", 14, "L", lambda r: r.leak.get("result") or ""),
    ("bath, lot", 30, "L", lambda r: " ".join(str(p) for p in (r.soak.get("bath"), r.soak.get("bath_lot")) if p)),
    ("contact", 36, "L", _contact),
    ("strip", 11, "L", lambda r: r.strip.get("result") or ""),
    ("people", 21, "L", _people),
    ("exceptions", 16, "R", lambda r: str(len(deviations(r.all)) or "")),
)


def cycle_table(pdf: FPDF, documents: list[dict[str, Any]]) -> None:
    """Promise every cycle on one line."""
    page_of(pdf, 30)
    pdf.ln(2)
    text_line(pdf, "Every cycle", 12, bold=True)
    pdf.ln(1)
    _head(pdf)
    for number, document in enumerate(documents):
        if page_of(pdf, 5):
            _head(pdf)
        if number % 2:
            pdf.set_fill_color(*PALE)
            pdf.rect(LEFT, pdf.get_y() - 0.3, WIDTH, 4.2, style="F")
        row = CycleRow(document)
        _row(pdf, [(value(row), width, align) for _, width, align, value in CELLS], bold=False)


def _head(pdf: FPDF) -> None:
    _row(pdf, [(name, width, align) for name, width, align, _ in CELLS], bold=True, colour=GREY)


def _row(pdf: FPDF, cells: list[tuple[str, float, Literal["L", "R"]]], bold: bool, colour: _Colour = INK) -> None:
    top, left = pdf.get_y(), LEFT
    for text, width, align in cells:
        pdf.set_xy(left, top)
        text_line(pdf, text, 7.2, bold=bold, colour=colour, width=width, align=align)
        left += width
    pdf.set_xy(LEFT, top + 4.2)
