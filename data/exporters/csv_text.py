"""Tables as CSV text: columns that say what they hold, and cells that no spreadsheet takes for a formula.

Form: RFC 4180 (commas, CRLF after every line, quotes doubled). Every text cell stands in quotes, numbers stand bare,
and what is not known is an empty cell. Bytes are UTF-8 with a byte order mark: RFC 4180 names no encoding, and without
the mark common spreadsheet programs read umlauts, µ and ° as something else. Programs read it as "utf-8-sig".

Formula injection: a text cell that starts with one of `FORMULA_STARTS` gets an apostrophe before it. Source of the list
is OWASP, "CSV Injection" (= + - @ TAB CR, and LF since 2025). A text of apostrophes before such a sign gets one more,
so that taking one away where a sign follows gives every text back. Number cells hold numbers only and may be negative.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar

from protocols.errors import Defect

FORMULA_STARTS = "=+-@\t\r\n"
_GUARDED = re.compile(rf"'*[{re.escape(FORMULA_STARTS)}]")
_PERHAPS_GUARDED = FORMULA_STARTS + "'"
BYTE_ORDER_MARK = b"\xef\xbb\xbf"

Kind = Literal["text", "number", "yes/no"]
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Column(Generic[Row]):
    """One column: its name (unit last), how its cells are written, what it means, and where its value comes from."""

    name: str
    kind: Kind
    means: str
    value: Callable[[Row], Any]


def table(columns: Sequence[Column[Row]], rows: Iterable[Row]) -> bytes:
    """Promise the CSV bytes of a header line and one line for every row. Raises Defect for a value of another kind."""
    lines = [",".join(_text(c.name) for c in columns)]
    lines += [",".join(_cell(c, c.value(row)) for c in columns) for row in rows]
    return BYTE_ORDER_MARK + "".join(f"{line}\r\n" for line in lines).encode()


def _cell(column: Column[Any], value: Any) -> str:
    # Most cells are text, and of the rest most are empty: asked first, for a week has some hundred thousand.
    if type(value) is str and column.kind == "text":
        return _text(value) if value else ""
    if value is None or value == "":
        return ""
    if column.kind == "number" and isinstance(value, (int, float)) and not isinstance(value, bool):
        return number(value)
    if column.kind == "yes/no" and isinstance(value, bool):
        return _text("yes" if value else "no")
    raise Defect(f"column {column.name} of kind {column.kind} was given {value!r}")


def _text(value: str) -> str:
    guard = "'" if value[:1] in _PERHAPS_GUARDED and _GUARDED.match(value) else ""
    return f'"{guard}{value}"' if '"' not in value else '"' + guard + value.replace('"', '""') + '"'


def number(value: float) -> str:
    """Promise a number in full, whole ones without a point; Defect for NaN and infinities, which no cell can say."""
    if value != value or value in (float("inf"), float("-inf")):
        raise Defect(f"{value!r} can't stand in a number cell")
    return str(int(value)) if value == int(value) else repr(value)


def rows_in(table: bytes) -> int:
    """Promise the rows of a table below its header: line ends outside quotes."""
    if one_row_a_line(table):
        return table.count(b"\r\n") - 1
    return sum(part.count(b"\r\n") for part in table.split(b'"')[::2]) - 1


def one_row_a_line(rows: bytes) -> bool:
    """Promise whether no line end lies within quotes, as is usual: then every line has an even number of quotes."""
    return all(line.count(b'"') % 2 == 0 for line in rows.split(b"\r\n"))


def listed(parts: Iterable[str]) -> str:
    """Promise several things in one text cell."""
    return "; ".join(parts)
