"""Dilution against published worked examples, and what is refused.

Read: CDC, Appendix E (chlorine disinfectant solution preparation), examples 1 to 3; CDC guideline 2008, Table 1; a
state health department's sheet on chlorine (KDHE), examples 1 and 2; a bleach fact sheet.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.dilution import (
    DilutionFault,
    diluted_ppm,
    grams_per_litre,
    parts_of_water,
    recipe,
    strength_ppm,
    volume_ml,
)


@pytest.mark.parametrize(
    ("stock", "target", "parts"),
    [("3.5%", "0.5%", 6), ("5.0 %", "0.1 %", 49)],  # CDC Appendix E, examples 1 and 3
)
def test_parts_of_water(stock: str, target: str, parts: int) -> None:
    assert parts_of_water(strength_ppm(stock), strength_ppm(target)) == parts


def test_powder() -> None:
    # CDC Appendix E, example 2: 35 % powder to 0.5 %, printed 14.3 g to the litre.
    grams = grams_per_litre(strength_ppm("35%"), strength_ppm("0.5%"))
    assert round(grams, 1) == Decimal("14.3") and "14.29 g of powder" in recipe("35%", "0.5%", powder=True)
    assert "for 5 L: 71.43 g" in recipe("35%", "0.5%", "5 L", powder=True)


def test_one_in_ten_is_not_one_and_ten() -> None:
    # Bleach fact sheet: 5.25 % 1 in 10 is 0.525 %, 5250 ppm; 1 + 10 would be 0.4773 %.
    assert diluted_ppm(strength_ppm("5.25%"), "1 in 10") == 5250
    assert round(diluted_ppm(strength_ppm("5.25%"), "1 + 10")) == 4773
    for stock, ppm in (("5.25%", 105), ("6.15%", 123)):  # CDC 2008, Table 1: 1:500, ">100 ppm"
        assert diluted_ppm(strength_ppm(stock), "1 in 500") == ppm
    with pytest.raises(DilutionFault, match="two ways"):
        recipe("5.25%", "1:10")


def test_units_of_a_large_tank() -> None:
    # KDHE: 410 mg/L for each fl oz in a gallon; example 2, 1000 gal at 50 mg/L: 122 fl oz; example 1: 10,000 fl oz
    # are 78 gal.
    wanted = volume_ml("1000 gal") / volume_ml("1 gal") * strength_ppm("50 mg/L") / strength_ppm("410 mg/L")
    assert round(wanted) == 122 and round(wanted * volume_ml("1 fl oz") / volume_ml("1 gal") * 4, 1) == Decimal("3.8")
    assert round(volume_ml("10000 fl oz") / volume_ml("1 gal")) == 78


def test_a_recipe_in_words() -> None:
    assert recipe("5%", "0.1%", "10 L") == (
        "1 part of stock and 49 parts of water give 0.1 % (1000 ppm); for 10 L: 200 mL of stock and 9800 mL of water"
    )
    assert "0 parts of water" in recipe("50 g/L", "5 %")


@pytest.mark.parametrize(
    ("stock", "target", "make", "says"),
    [
        ("5", "0.1%", "", "is not a strength"),
        ("5 L", "0.1%", "", "not a strength"),
        ("5%", "0.1%", "10 %", "not a volume"),
        ("5%", "0.1%", "0 L", "no volume"),
        ("0.1%", "5%", "", "no water makes it stronger"),
        ("101%", "5%", "", "outside 0 to 100"),
        ("0%", "0%", "", "outside 0 to 100"),
        ("5%", "1 in 0.5", "", "makes nothing weaker"),
        ("-5%", "1%", "", "is not a strength"),
        ("1e3 ppm", "1 ppm", "", "not a strength"),
    ],
)
def test_what_makes_no_sense_is_refused(stock: str, target: str, make: str, says: str) -> None:
    with pytest.raises(DilutionFault, match=says):
        recipe(stock, target, make)


amounts = st.decimals(Decimal("0.001"), Decimal(100), places=3)


@given(amounts, amounts)
def test_mixing_by_the_parts_gives_the_target_again(one: Decimal, other: Decimal) -> None:
    stock, target = sorted((one, other), reverse=True)
    water = parts_of_water(stock * 10_000, target * 10_000)
    assert abs(stock / (1 + water) - target) < Decimal("1e-12")


@given(st.text(max_size=12), st.text(max_size=12), st.text(max_size=8))
def test_any_text_is_read_or_a_fault(stock: str, target: str, make: str) -> None:
    try:
        recipe(stock, target, make)
    except DilutionFault as fault:
        assert str(fault)
