"""A case reference has the unit's own form, matched whole and without regular expressions from anybody."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocols.case_reference import LONGEST, fits, pattern_fault
from protocols.errors import CommandFault
from tests.engine.driver import TODAY, Bench

FORMS = [
    ("99-9999", "26-0412", True), ("99-9999", "26-041", False), ("99-9999", "26-04123", False),
    ("99-9999", "26.0412", False), ("99-9999", "26-O412", False), ("99-9999", "26-041\u0662", False),
    ("AA/99", "xY/07", True), ("AA/99", "x7/07", False), ("AA9", "\u00e4b1", False), ("9.*", "1.*", True),
    ("9.*", "1234", False), ("", "anything", True), ("E9", "E1", True), ("E9", "F1", False),
]  # fmt: skip


@pytest.mark.parametrize(("pattern", "reference", "fit"), FORMS)
def test_the_form_is_matched_whole(pattern: str, reference: str, fit: bool) -> None:
    assert pattern_fault(pattern) == ""
    assert fits(pattern, reference) is fit


@pytest.mark.parametrize("pattern", ["AAAA", "x", "9" * (LONGEST + 1), "9\n", "9\u00e4", "9\x00"])
def test_a_pattern_that_lets_names_through_or_is_odd_is_not_taken(pattern: str) -> None:
    assert pattern_fault(pattern)
    with pytest.raises(CommandFault, match="a pattern with a digit"):
        Bench().give("set-unit", "unit", case_pattern=pattern)


@settings(deadline=None)
@given(st.text(max_size=45), st.text(max_size=45))
def test_any_two_texts_are_answered(pattern: str, reference: str) -> None:
    assert isinstance(pattern_fault(pattern), str)
    assert fits(pattern, reference) in (True, False)


@settings(deadline=None)
@given(st.text("9A-/x", max_size=12))
def test_a_reference_one_longer_or_without_a_digit_for_a_nine_does_not_fit(pattern: str) -> None:
    reference = pattern.replace("9", "4").replace("A", "k")
    assert fits(pattern, reference)
    assert not pattern or not fits(pattern, reference + "4")
    assert "9" not in pattern or not fits(pattern, reference.replace("4", "k", 1))


STANDS_FOR = {"9": "07", "A": "Aazx", "-": "-", "/": "/", "x": "x"}


@settings(deadline=None)
@given(st.lists(st.tuples(st.sampled_from("9A-/x"), st.sampled_from("07Aaz-/x")), min_size=1, max_size=3))
def test_a_reference_fits_when_each_character_does(pairs: list[tuple[str, str]]) -> None:
    pattern, other = (("".join(side)) for side in zip(*pairs, strict=True))
    assert fits(pattern, other) is all(char in STANDS_FOR[mark] for mark, char in pairs)


def test_a_receipt_whose_reference_has_another_form_is_refused_without_repeating_it() -> None:
    bench = Bench()
    bench.must("set-unit", "unit", case_pattern="99-9999")
    given_values = {"procedure_date": TODAY, "procedure_type": "x", "precleaned": "no"}
    refusal = bench.checked_refusal("case-form", "receive", "B2", case="Some Name", **given_values)
    assert "Some Name" not in str(refusal) and "99-9999" in str(refusal)
    bench.must("receive", "B2", case="26-0001", **given_values)
    bench.must("set-unit", "unit", case_pattern="")
    bench.must("receive", "B3", case="as before", **given_values)
