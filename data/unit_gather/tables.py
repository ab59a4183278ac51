"""An export's tables as bytes: columns put before every row, and guards against formulas taken off again.

Every text cell of an export stands in quotes and a quote in it is doubled, so outside quotes there are only commas,
line ends and numbers. That lets a table be worked on whole instead of cell by cell.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from data.exporters.csv_text import BYTE_ORDER_MARK, FORMULA_STARTS
from data.exporters.manifest import ExportRefused

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
    if _one_row_a_line(rows):
        return before + rows[:-2].replace(b"\r\n", b"\r\n" + before) + b"\r\n"
    parts = rows[:-2].split(b'"')
    for number in range(0, len(parts), 2):  # outside quotes
        parts[number] = parts[number].replace(b"\r\n", b"\r\n" + before)
    return before + b'"'.join(parts) + b"\r\n"


def rows_in(table: bytes) -> int:
    """Promise the rows of a table below its header: line ends outside quotes."""
    if _one_row_a_line(table):
        return table.count(b"\r\n") - 1
    return sum(part.count(b"\r\n") for part in table.split(b'"')[::2]) - 1


def _one_row_a_line(rows: bytes) -> bool:
    """Whether no line end lies within quotes, as is usual: then every line has an even number of quotes."""
    return all(line.count(b'"') % 2 == 0 for line in rows.split(b"\r\n"))


def header(columns: Sequence[str]) -> bytes:
    """Promise the header line of a table, with the mark that says how its bytes are to be read."""
    return BYTE_ORDER_MARK + ",".join(f'"{name}"' for name in columns).encode() + b"\r\n"


def unguarded(rows: bytes) -> bytes:
    """Promise the rows with the apostrophe taken off that keeps a spreadsheet from reading a text as a formula."""
    # Few weeks have such a text, and looking for one is quicker than looking at every cell.
    return _GUARDED.sub(b'"', rows) if b"\"'" in rows else rows
