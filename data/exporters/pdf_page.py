"""The page of the audit folder's PDF: its size, fonts, head and foot, and how a line of text is set."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from data.exporters.standing import Standing

if TYPE_CHECKING:
    from fpdf import FPDF

# A4 on its side, in mm: a cycle's line needs the width. Sizes of text are in points.
LEFT, TOP, BOTTOM, WIDTH, HEIGHT = 12.0, 12.0, 14.0, 273.0, 210.0
INK, GREY, RULE, PALE = (28, 32, 36), (96, 104, 112), (205, 209, 213), (240, 241, 243)
# Height of a line of text in mm for one point of its size.
LEADING = 0.46


def new_page(standing: Standing, fonts: Path | None) -> FPDF:
    """Promise an empty document on its first page; without `fonts` letters beyond Latin-1 print as question marks."""
    from fpdf import FPDF

    class Page(FPDF):
        def footer(self) -> None:
            self.set_y(-BOTTOM + 4)
            foot = f"{standing.unit}, {standing.week}, handheld {standing.device}: page {self.page_no()} of {{nb}}"
            text_line(self, foot, 7, colour=GREY, width=WIDTH)

    pdf = Page(orientation="L", unit="mm", format="A4")
    pdf.set_margins(LEFT, TOP, LEFT)
    pdf.set_auto_page_break(False)
    pdf.c_margin = 0  # text begins where rules and ribbons begin
    # The record's last moment, not that of printing: the same record gives the same bytes.
    pdf.set_creation_date(datetime.fromisoformat(standing.at))
    pdf.set_title(f"Endoscope reprocessing {standing.week}, {standing.unit}")
    pdf.set_creator("Basinbell")
    pdf.set_lang("en")
    if fonts is not None:
        pdf.add_font("text", "", fonts / "Roboto-Regular.ttf")
        pdf.add_font("text", "B", fonts / "Roboto-Bold.ttf")
        pdf.add_font("more", "", fonts / "DejaVuSans.ttf")
        pdf.set_fallback_fonts(["more"], exact_match=False)
    pdf.add_page()
    return pdf


def text_line(
    pdf: FPDF, text: str, size: float, bold: bool = False, colour: tuple[int, int, int] = INK, width: float = 0,
    align: Literal["L", "C", "R"] = "L", wrap: bool = False,
) -> None:  # fmt: skip
    """Promise a line of text at the present place, cut with "..." where it doesn't fit, or wrapped where told.

    Without a `width` the next text stands below it.
    """
    text = _set_font(pdf, text, size, bold)
    pdf.set_text_color(*colour)
    height = size * LEADING
    if wrap:
        pdf.multi_cell(width, height, text, align=align, new_x="LMARGIN", new_y="NEXT", padding=0)
        return
    if width and pdf.get_string_width(text) > width - 2:
        while text and pdf.get_string_width(text + "...") > width - 2:
            text = text[:-1]
        text += "..."
    pdf.cell(width, height, text, align=align, new_x="LMARGIN", new_y="NEXT")


def row_height(pdf: FPDF, text: str, width: float, size: float) -> float:
    """Promise how high a wrapped text of that width stands, in mm."""
    text = _set_font(pdf, text, size, False)
    lines = pdf.multi_cell(width, size * LEADING, text, dry_run=True, output="LINES")
    return max(1, len(lines) if isinstance(lines, list) else 1) * size * LEADING


def scale(longest_s: float) -> tuple[int, int]:
    """Promise the step and the end of an axis of time, in seconds, on which so many seconds find room in few steps."""
    days = 86_400 * max(1, ceil(longest_s / 864_000))
    step = next((s for s in (600, 1800, 3600, 7200, 14_400, 28_800) if longest_s / s <= 10), days)
    return step, step * (int(longest_s // step) + 1)


def axis(pdf: FPDF, marks: Iterable[tuple[float, str]]) -> None:
    """Promise labels under a chart, each centred on its place (mm), and the next place below them."""
    top = pdf.get_y()
    for at, label in marks:
        pdf.set_xy(at - 10, top)
        text_line(pdf, label, 7, width=20, align="C", colour=GREY)
    pdf.set_xy(LEFT, top + 7)


def _set_font(pdf: FPDF, text: str, size: float, bold: bool) -> str:
    style: Literal["", "B"] = "B" if bold else ""
    # A control character in a text that somebody typed would upset the page.
    text = "".join(c if c.isprintable() else " " for c in text)
    if "text" in pdf.fonts:
        pdf.set_font("text", style, size)
        return text
    pdf.set_font("helvetica", style, size)
    return text.encode("latin-1", "replace").decode("latin-1")


def page_of(pdf: FPDF, height: float) -> bool:
    """Promise that so many mm are free at the present place, on a new page where needed; says whether it is new."""
    if pdf.get_y() + height <= HEIGHT - BOTTOM:
        return False
    pdf.add_page()
    return True
