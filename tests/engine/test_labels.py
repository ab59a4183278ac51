"""GS1 labels against the cases of the GS1 reference engine and against biip, and what must never be guessed.

Sources of the cases: gs1/gs1-syntax-engine @50657db, unit tests of ai.c, scandata.c and the linters (Apache-2.0); biip
5.2.0, its tests (Apache-2.0); the UDI example of the FDA. Century: GS1 General Specifications, 7.12.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from biip.gs1_element_strings import GS1ElementString
from biip.gs1_messages import GS1Message
from hypothesis import given
from hypothesis import strategies as st

from protocols import labels
from protocols.labels import SEPARATOR, Label, LabelFault, read_label

TODAY = date(2026, 11, 25)
GS = SEPARATOR


def read(text: str, today: date = TODAY) -> dict[str, Any]:
    label = read_label(text, today)
    return {name: value for name in Label.__slots__ if (value := getattr(label, name))}


def test_the_prefixes_of_all_carriers_are_taken_off() -> None:
    # scandata.c: ]Q3, ]d2, ]C1 and ]e0 before the same data, FNC1 sent as ASCII 29; 99 is company internal.
    for prefix in ("]Q3", "]d2", "]C1", "]e0"):
        assert read(f"{prefix}011231231231233310ABC123{GS}99TESTING") == {"gtin": "12312312312333", "lot": "ABC123"}


def test_a_whole_udi_bracketed_and_raw() -> None:
    # FDA: (01)51022222233336(11)141231(17)150707(10)A213B1(21)1234
    udi = {"gtin": "51022222233336", "made": date(2014, 12, 31), "expires": date(2015, 7, 7), "lot": "A213B1",
           "serial": "1234"}  # fmt: skip
    assert read("(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234") == udi
    assert read(f"]C10151022222233336111412311715070710A213B1{GS}211234") == udi
    assert read(f"0151022222233336111412311715070710A213B1{GS}211234\r\n") == udi


def test_biip_reads_the_same() -> None:
    # biip, gs1 messages: with and without a needed separator.
    for text in ("010703206980498815210526100329", f"0107032069804988100329{GS}15210526"):
        theirs = GS1Message.parse(text)
        named = {"01": "gtin", "10": "lot", "15": "best_before"}
        expected = {named[e.ai.ai]: e.date or e.value for e in theirs.element_strings}
        assert read(text) == expected


@pytest.mark.parametrize(
    "text",
    [
        "010703206980498810032915210526",  # biip: the lot would swallow the best-before date
        "0107032069804988100329211234",
        "01070320698049881003292112341727",
        "0151022222233336111412311715070710A213B1211234",
    ],
)
def test_a_string_without_separators_that_can_be_read_in_two_ways_is_refused(text: str) -> None:
    with pytest.raises(LabelFault, match="the scanner sent no separators"):
        read_label(text, TODAY)
    assert len(GS1Message.parse(text).element_strings) < 5  # the reference reads on without a word


def test_a_last_element_that_can_be_read_in_one_way_only_needs_no_separator() -> None:
    assert read("0107032069804988100329") == {"gtin": "07032069804988", "lot": "0329"}
    assert read("010703206980498817260930" + "10AB-7") == {
        "gtin": "07032069804988", "expires": date(2026, 9, 30), "lot": "AB-7",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("yymmdd", "day"),
    # Day 00 is the last day of the month (syntax dictionary, lint_yymmd0).
    [("200200", "2020-02-29"), ("210200", "2021-02-28"), ("211200", "2021-12-31"), ("260930", "2026-09-30")],
)
def test_dates(yymmdd: str, day: str) -> None:
    assert read(f"]C117{yymmdd}") == {"expires": date.fromisoformat(day)}


@pytest.mark.parametrize("yymmdd", ["000606", "250606", "500606", "750606", "200131", "200229", "200331"])
def test_dates_of_the_reference_pass(yymmdd: str) -> None:
    found = read(f"]C117{yymmdd}")["expires"]
    assert f"{found:%y%m%d}" == yymmdd


@pytest.mark.parametrize(
    "yymmdd",
    ["x00131", "2x0131", "20013x", "", "1", "11111", "200010", "201310", "209910", "200132", "200230", "200332"],
)
def test_dates_of_the_reference_fail(yymmdd: str) -> None:
    with pytest.raises(LabelFault):
        read_label(f"]C117{yymmdd}", TODAY)


@pytest.mark.parametrize(
    ("this_year", "two_digits", "year"),
    # Within 49 years before and 50 years after the current year.
    [(2026, "76", 2076), (2026, "77", 1977), (2026, "26", 2026), (2051, "00", 2100),
     (2051, "01", 2101), (2051, "02", 2002),
     (2099, "49", 2149), (2099, "50", 2050)],
)  # fmt: skip
def test_the_century_slides_with_the_clock(this_year: int, two_digits: str, year: int) -> None:
    assert read(f"]C117{two_digits}0615", date(this_year, 6, 1))["expires"] == date(year, 6, 15)


@pytest.mark.parametrize(
    "text",
    [
        # ai.c and scandata.c: bracketed and FNC1 strings that the reference refuses.
        "(10)(11)98765", "(10)12345(11)", "(1A)12345", "()12345", "(15", "(1", "(", "(01)123456789012312(10)12345",
        "(17)9(90)217", "]C1", "]C1891234", f"]C199~ABC{GS}", "]C101A2345678901231", "]C1011234567890123A",
        "]C10112345678901234", "]C1011234567890123", "]C101123456789012312", "]C18111123",
        # biip: a GTIN whose check digit does not fit; other coding systems; nothing at all.
        "]C10107032069804989", "+H123PARTNO1234567890120/$$420020216LOT", "=/A9999XYZ100T0944", "]d1ABC", "", "  ",
        "]C110" + "X" * 21, "]C110A" + GS + "10B", "A" * 201, "lot\x07",
    ],
)  # fmt: skip
def test_what_can_not_be_read_for_certain_is_refused(text: str) -> None:
    with pytest.raises(LabelFault) as caught:
        read_label(text, TODAY)
    assert len(str(caught.value)) < 400


def test_typed_labels_stay_what_was_typed() -> None:
    for typed in ("S7", "L-22-81", "4711", "0107032069804989X"):
        assert read(typed) == {"text": typed}


@pytest.mark.parametrize(
    "digits",
    # Check digits that pass and fail (lint_csum); only 14 digits make a GTIN of an element string.
    [("12345678901231", True), ("07032069804988", True), ("51022222233336", True), ("09504000059118", True),
     ("00844588003288", True), ("12345678901232", False)],
)  # fmt: skip
def test_check_digits(digits: tuple[str, bool]) -> None:
    text, fits = digits
    if fits:
        assert read(f"]C101{text}") == {"gtin": text}
        return
    with pytest.raises(LabelFault, match="check digit"):
        read_label(f"]C101{text}", TODAY)


SET = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
texts = st.text(SET, min_size=1, max_size=20)


@given(lot=texts, serial=texts, days=st.integers(0, 15_000))
def test_with_separators_everything_comes_back_and_biip_agrees(lot: str, serial: str, days: int) -> None:
    expires = date.fromordinal(TODAY.toordinal() + days)
    raw = f"010703206980498817{expires:%y%m%d}10{lot}{GS}21{serial}"
    assert read(f"]d2{raw}") == {"gtin": "07032069804988", "expires": expires, "lot": lot, "serial": serial}
    found = {e.ai.ai: e.value for e in GS1Message.parse(raw).element_strings}
    assert (found["10"], found["21"]) == (lot, serial)


@given(lot=texts, serial=texts)
def test_without_separators_a_lot_never_swallows_the_serial(lot: str, serial: str) -> None:
    try:
        label = read_label(f"010703206980498810{lot}21{serial}", TODAY)
    except LabelFault:
        return
    raise AssertionError(f"read as {label}")


@given(st.text(max_size=60))
def test_any_text_is_read_or_a_fault(text: str) -> None:
    try:
        assert isinstance(read_label(text, TODAY), Label)
    except LabelFault as fault:
        assert str(fault)


def test_the_reference_knows_our_identifiers_with_these_forms() -> None:
    for ai, element in labels._ELEMENTS.items():
        sample = {"01": "07032069804988", "8003": "007032069804988X"}.get(ai, "260930" if element.fixed else "A1")
        assert GS1ElementString.extract(f"{ai}{sample}").ai.ai == ai
