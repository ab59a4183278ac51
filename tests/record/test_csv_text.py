"""CSV as RFC 4180 says, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from data.exporters.csv_text import FORMULA_STARTS, Column, table
from protocols.errors import Defect

# OWASP, "CSV Injection": = + - @ TAB CR, with a leading apostrophe as remedy (as quoted in a framework's advisory,
# CVE-2021-41270), and LF (added 2025-08-01). Read in stored text.
OWASP_HEX = ["3d", "2b", "2d", "40", "09", "0d", "0a"]
COLUMNS: tuple[Column[dict[str, Any]], ...] = (
    Column("said", "text", "anything", lambda r: r.get("said")),
    Column("amount", "number", "any number", lambda r: r.get("amount")),
    Column("sure", "yes/no", "whether", lambda r: r.get("sure")),
)


def read(content: bytes) -> list[list[str]]:
    """Promise the cells as Python's csv module reads them: the reference reader."""
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True))


def unguarded(cell: str) -> str:
    return cell[1:] if re.match(r"'+[=+\-@\t\r\n]", cell) else cell


def test_rfc_4180_section_2_text() -> None:
    """Source: RFC 4180, section 2, rules 5 to 7 (from memory, verified with the csv module)."""
    rows = [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"], ["aaa", 'b"bb', "ccc"]]
    text = 'aaa,"b\r\nbb","ccc"\r\nzzz,yyy,xxx\r\n"aaa","b""bb","ccc"\r\n'
    assert list(csv.reader(io.StringIO(text, newline=""), strict=True)) == rows
    columns: list[Column[list[str]]] = [Column(f"c{n}", "text", "cell", lambda r, n=n: r[n]) for n in range(3)]
    written = table(columns, rows).decode("utf-8-sig")
    assert written == '"c0","c1","c2"\r\n"aaa","b\r\nbb","ccc"\r\n"zzz","yyy","xxx"\r\n"aaa","b""bb","ccc"\r\n'
    assert read(table(columns, rows))[1:] == rows


def test_mark_line_ends_and_width() -> None:
    content = table(COLUMNS, [{"said": "grün, µg/cm², °C"}, {}])
    assert content.startswith(b"\xef\xbb\xbf") and content.endswith(b"\r\n") and content.count(b"\r\n") == 3
    assert read(content) == [["said", "amount", "sure"], ["grün, µg/cm², °C", "", ""], ["", "", ""]]


@pytest.mark.parametrize("code", OWASP_HEX)
def test_formula_starts_are_guarded_in_text(code: str) -> None:
    sign = bytes.fromhex(code).decode()
    for text in (sign, f"{sign}1+1", f"{sign}cmd|' /C calc'!A0"):
        assert read(table(COLUMNS, [{"said": text}]))[1][0] == "'" + text
    assert read(table(COLUMNS, [{"said": f"a{sign}b"}]))[1][0] == f"a{sign}b"


def test_guarded_signs_are_owasps_and_no_others() -> None:
    assert sorted(FORMULA_STARTS) == sorted(bytes.fromhex(code).decode() for code in OWASP_HEX)
    for text in ("'tis", "12-3", " =1", "H4"):
        assert read(table(COLUMNS, [{"said": text}]))[1][0] == text


def test_negative_numbers_stay_numbers() -> None:
    content = table(COLUMNS, [{"amount": -3}, {"amount": -0.5}, {"amount": 604800.0}, {"amount": 0}])
    assert content.splitlines()[1:] == [b",-3,", b",-0.5,", b",604800,", b",0,"]


@pytest.mark.parametrize(
    "row", [{"amount": "=1"}, {"amount": "5"}, {"amount": True}, {"amount": float("nan")}, {"amount": float("-inf")},
            {"said": 5}, {"said": False}, {"sure": "yes"}, {"sure": 1}, {"said": ["a"]}]
)  # fmt: skip
def test_value_of_another_kind_is_a_defect(row: dict[str, Any]) -> None:
    with pytest.raises(Defect):
        table(COLUMNS, [row])


@given(
    st.lists(
        st.fixed_dictionaries({
            "said": st.text(st.characters(exclude_categories=("Cs",)))
            | st.text(alphabet=FORMULA_STARTS + "'\",;\r\n a", max_size=6),
            "amount": st.none() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False),
            "sure": st.none() | st.booleans(),
        })
    )
)  # fmt: skip
def test_everything_comes_back_through_the_reference_reader(rows: list[dict[str, Any]]) -> None:
    cells = read(table(COLUMNS, rows))[1:]
    assert len(cells) == len(rows)
    for row, (said, amount, sure) in zip(rows, cells, strict=True):
        assert said == "" or said[0] not in FORMULA_STARTS
        assert unguarded(said) == row["said"]
        assert (float(amount) if amount else None) == row["amount"]
        assert sure == {None: "", True: "yes", False: "no"}[row["sure"]]
