"""A CSV file as people's programs write it, read into rows; every fault is named by row and column.

Rows are counted as spreadsheets show them: the header is row 1. Commas, semicolons and tabs are told apart by the
header; a byte order mark and Excel's "sep=" line are understood. A cell that a spreadsheet would take for a formula is
a fault, unless it carries the apostrophe that our own exports put before such a text.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from data.exporters.csv_text import BYTE_ORDER_MARK, FORMULA_STARTS

BYTES_MAX, ROWS_MAX = 2_000_000, 5_000
_SEPARATORS = ",;\t"
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


class ImportFault(NamedTuple):
    """One thing wrong: the row as a spreadsheet shows it (0 for the whole file), the column, what, and what to do."""

    row: int
    column: str
    what: str
    remedy: str

    def __str__(self) -> str:
        where = [f"row {self.row}"] if self.row else []
        where += [f"column {self.column}"] if self.column else []
        return f"{', '.join(where) or 'the file'}: {self.what}; {self.remedy}"


class ImportRow(NamedTuple):
    """One row with its cells by column; an empty cell is left out."""

    number: int
    cells: dict[str, str]


def read_table(
    content: bytes, columns: Sequence[str], needed: Sequence[str]
) -> tuple[list[ImportRow], list[ImportFault]]:
    """Promise the rows of a file that can be read at all, and every fault of its form.

    `columns` are those that may stand in the header, in any order and in capitals or not; `needed` those that must.
    """
    text, faults = _text(content)
    if faults:
        return [], faults
    separator, text, skipped = _separator(text)
    rows = iter(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    header: list[str] = []
    found: list[ImportRow] = []
    number = skipped
    try:
        for cells in rows:
            number += 1
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header, faults = _header(cells, number, columns, needed)
                if faults:
                    return [], faults
                continue
            if len(found) == ROWS_MAX:
                faults.append(ImportFault(number, "", f"more than {ROWS_MAX} rows", "split the file"))
                break
            row = _row(cells, number, header, faults)
            found.append(row)
    except csv.Error as error:
        faults.append(ImportFault(number + 1, "", f"quotes don't fit ({error})", "save the table as CSV once more"))
    if not header:
        faults.append(ImportFault(1, "", "there is no header", f"begin with the columns {', '.join(needed)}"))
    elif not found and not faults:
        faults.append(ImportFault(0, "", "it has a header and no rows", "add rows below the header"))
    return found, faults


def _text(content: bytes) -> tuple[str, list[ImportFault]]:
    def fault(what: str, remedy: str, row: int = 0) -> tuple[str, list[ImportFault]]:
        return "", [ImportFault(row, "", what, remedy)]

    if len(content) > BYTES_MAX:
        return fault(f"it has {len(content)} bytes, more than {BYTES_MAX}", "split it")
    if content.startswith(_UTF_16):
        return fault("it is UTF-16", "save it as CSV in UTF-8")
    if content.startswith(b"PK\x03\x04") or content.startswith(b"\xd0\xcf\x11\xe0"):
        return fault("it is a spreadsheet, not CSV", "save it as CSV in UTF-8")
    content = content.removeprefix(BYTE_ORDER_MARK)
    if b"\0" in content:
        return fault(
            "it holds a zero byte", "save it as CSV in UTF-8", content[: content.index(b"\0")].count(b"\n") + 1
        )
    try:
        return content.decode("utf-8"), []
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        return fault(
            f"byte {content[error.start]:#04x} is not UTF-8 (perhaps the file is in Windows-1252)",
            "save it as CSV in UTF-8", row,
        )  # fmt: skip


def _separator(text: str) -> tuple[str, str, int]:
    first, _, rest = text.partition("\n")
    said = first.strip("\r ")  # not a tab: it may be the separator
    if said.lower().startswith("sep=") and len(said) == 5 and said[4] in _SEPARATORS:
        return said[4], rest, 1
    line = next((line for line in text.splitlines() if line.strip()), "")
    return max(_SEPARATORS, key=line.count), text, 0


def _header(
    cells: Sequence[str], number: int, columns: Sequence[str], needed: Sequence[str]
) -> tuple[list[str], list[ImportFault]]:
    names = [cell.strip().lower() for cell in cells]
    while names and not names[-1]:
        names.pop()
    faults = []
    for at, name in enumerate(names):
        if name in names[:at]:
            faults.append(ImportFault(number, name, "the column stands twice", "keep one of them"))
        elif name not in columns:
            shown = name or f"number {at + 1}, without a name"
            faults.append(ImportFault(number, shown, "no such column", f"known are {', '.join(columns)}"))
    for name in needed:
        if name not in names:
            faults.append(ImportFault(number, name, "the column is missing", "add it to the header"))
    return names, faults


def _row(cells: Sequence[str], number: int, header: Sequence[str], faults: list[ImportFault]) -> ImportRow:
    if any(cell.strip() for cell in cells[len(header) :]):
        what = f"{len(cells)} cells under {len(header)} columns"
        faults.append(ImportFault(number, "", what, "put texts that hold a separator in quotes"))
    return ImportRow(number, dict(_cells(cells, number, header, faults)))


def _cells(
    cells: Sequence[str], number: int, header: Sequence[str], faults: list[ImportFault]
) -> Iterator[tuple[str, str]]:
    for name, raw in zip(header, cells, strict=False):
        cell = raw.strip(" ")
        if cell.startswith("'") and cell.lstrip("'")[:1] and cell.lstrip("'")[0] in FORMULA_STARTS:
            cell = cell[1:]  # as our own exports guard it
        elif cell[:1] and cell[0] in FORMULA_STARTS:
            what = f"it starts with {cell[0]!r}, which a spreadsheet takes for a formula"
            faults.append(ImportFault(number, name, what, "type it anew as text, or put an apostrophe before it"))
            continue
        if cell.strip():
            yield name, cell.strip()
