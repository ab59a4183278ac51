"""An export's tables as bytes: columns put before every row, and guards against formulas taken off again.

Every text cell of an export stands in quotes and a quote in it is doubled, so outside quotes there are only commas,
line ends and numbers. That lets a table be worked on whole instead of cell by cell.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from data.exporters.csv_text import BYTE_ORDER_MARK, FORMULA_STARTS, one_row_a_line
from data.exporters.manifest import ExportRefused
from protocols.clock import parse_wall
from protocols.errors import CommandFault

_COLUMN = re.compile(r"[a-z][a-z0-9_]{0,62}")
# A cell begins after a comma or a line end. Within a quoted text no quote stands alone, so this can't match there.
_GUARDED = re.compile(rb"(?<![^,\n])\"'(?='*[" + re.escape(FORMULA_STARTS.encode()) + rb"])")


def split_header(table: bytes) -> tuple[list[str], bytes]:
    """Promise the columns of a table and the bytes of its rows. Raises ExportRefused for a header that can't be one."""
    head, found, rows = table.removeprefix(BYTE_ORDER_MARK).partition(b"\r\n")
    try:
        columns = [name.removeprefix('"').removesuffix('"') for name in head.decode("ascii").split(",")]
    except UnicodeDecodeError as error:
        raise ExportRefused(f"a table's header is not plain text ({error})") from error
    if not found or not all(_COLUMN.fullmatch(name) for name in columns) or len({*columns}) != len(columns):
        raise ExportRefused(f"a table's header is not one of an export: {head[:80]!r}")
    return columns, rows


def with_columns(rows: bytes, values: Sequence[str]) -> bytes:
    """Promise the rows with these values, as text cells, before each. Raises ExportRefused where no line ends them."""
    if not rows:
        return b""
    if not rows.endswith(b"\r\n"):
        raise ExportRefused("a table does not end with a line end")
    before = b"".join(b'"' + value.replace('"', '""').encode() + b'",' for value in values)
    if one_row_a_line(rows):
        return before + rows[:-2].replace(b"\r\n", b"\r\n" + before) + b"\r\n"
    parts = rows[:-2].split(b'"')
    for number in range(0, len(parts), 2):  # outside quotes
        parts[number] = parts[number].replace(b"\r\n", b"\r\n" + before)
    return before + b'"'.join(parts) + b"\r\n"


def header(columns: Sequence[str]) -> bytes:
    """Promise the header line of a table, with the mark that says how its bytes are to be read."""
    return BYTE_ORDER_MARK + ",".join(f'"{name}"' for name in columns).encode() + b"\r\n"


def unguarded(rows: bytes) -> bytes:
    """Promise the rows with the apostrophe taken off that keeps a spreadsheet from reading a text as a formula."""
    # Few weeks have such a text, and looking for one is quicker than looking at every cell.
    return _GUARDED.sub(b'"', rows) if b"\"'" in rows else rows


# What the search for conflicts reads: times, and a number of days that no bath reaches.
_TIMES = {"cycles.csv": ("received_at", "ended_at"), "baths.csv": ("poured_at", "closed_at")}
_TEXTS = {"cycles.csv": ("cycle", "scope_tag", "scope_serial"), "baths.csv": ("bath_id", "bath", "kind", "lot")}
_LIFE, _LIFE_D_MAX = "reuse_life_d", 100_000


def require_table(name: str, content: bytes) -> None:
    """Promise that a table is whole CSV with one header, and that what is asked of it later can be read.

    A table that would only be found out when all are put together must not get so far. Raises ExportRefused.
    """
    columns, rows = split_header(content)
    if rows and (not rows.endswith(b"\r\n") or rows.count(b'"') % 2):
        raise ExportRefused(f"{name} does not end with a line end, or a quote in it stands alone")
    missing = [one for one in (*_TEXTS.get(name, ()), *_TIMES.get(name, ())) if one not in columns]
    if missing or (name == "baths.csv" and _LIFE not in columns):
        raise ExportRefused(f"{name} has no column {missing[0] if missing else _LIFE}")
    if name not in _TIMES:
        return
    try:
        text = io.StringIO(content.decode("utf-8-sig"), newline="")
        for number, row in enumerate(csv.reader(text, strict=True), 1):
            if number > 1:
                _require_row(dict(zip(columns, row, strict=True)), _TIMES[name])
    except (ValueError, csv.Error, CommandFault) as error:
        raise ExportRefused(f"{name} has a row that can't be read ({error}); ask for the export again") from error


def _require_row(row: dict[str, str], times: tuple[str, ...]) -> None:
    for column in times:
        if row[column]:
            parse_wall(row[column])
    if row.get(_LIFE) and not 0 <= float(row[_LIFE]) <= _LIFE_D_MAX:
        raise ValueError(f"{_LIFE} is {row[_LIFE][:40]!r}")
