"""Dilution with the units checked: how much water to how much stock.

Strengths are per cent, ppm, mg/L or g/L. In water 1 % counts as 10,000 ppm, 10,000 mg/L and 10 g/L (weight in volume,
density taken as 1, as the published worked examples do). "1 in 10" is one part in ten parts of the whole, "1 + 10" one
part and ten parts of water: the two are different and both must be said in full; "1:10" is refused. The label's own
mixing instructions win over every result.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from protocols.errors import TechnicianError
from protocols.reasons import aside

# What one unit is in ppm, and in millilitres (US fluid ounce and gallon).
_STRENGTHS = {"%": Decimal(10_000), "ppm": Decimal(1), "mg/l": Decimal(1), "g/l": Decimal(1_000)}
_VOLUMES = {"ml": Decimal(1), "l": Decimal(1_000), "fl oz": Decimal("29.5735295625"), "gal": Decimal("3785.411784")}
_AMOUNT = re.compile(r"(\d+(?:\.\d+)?)\s*(.*)")
_PART = re.compile(r"1\s*(in|\+)\s*(\d+(?:\.\d+)?)")
_PURE_PPM = Decimal(1_000_000)


class DilutionFault(TechnicianError):
    """A strength, volume or ratio can't be read, or the sum makes no sense."""


def strength_ppm(text: str) -> Decimal:
    """Promise a strength such as "3.5 %", "500 ppm", "50 mg/L" or "5 g/L" in ppm. Raises DilutionFault."""
    ppm = _amount(text, _STRENGTHS, "a strength")
    if not 0 < ppm <= _PURE_PPM:
        raise DilutionFault(aside("dilute-outside", text=text))
    return ppm


def volume_ml(text: str) -> Decimal:
    """Promise a volume such as "10 L", "500 mL", "1 gal" or "2 fl oz" in millilitres. Raises DilutionFault."""
    ml = _amount(text, _VOLUMES, "a volume")
    if ml <= 0:
        raise DilutionFault(f"{text!r} is no volume; give more than 0")
    return ml


def _amount(text: str, units: dict[str, Decimal], what: str) -> Decimal:
    known = ", ".join(units)
    found = _AMOUNT.fullmatch(text.strip().replace(",", "."))
    if found is None:
        raise DilutionFault(f"{text!r} is not {what}; write a number and a unit of {known}")
    unit = found[2].strip().lower()
    if unit not in units:
        raise DilutionFault(f"{text!r} has the unit {found[2]!r}, which is not {what}; use one of {known}")
    try:
        return Decimal(found[1]) * units[unit]
    except InvalidOperation as error:
        raise DilutionFault(f"{text!r} is not {what}; write fewer digits") from error


def parts_of_water(stock_ppm: Decimal, target_ppm: Decimal) -> Decimal:
    """Promise the parts of water to one part of a liquid stock: stock / target - 1. Raises DilutionFault.

    Source: CDC, Appendix E, chlorine disinfectant solution preparation.
    """
    if target_ppm > stock_ppm:
        wanted, stock = (f"{ppm / 10_000:f}" for ppm in (target_ppm, stock_ppm))
        raise DilutionFault(aside("dilute-stronger", wanted=wanted, stock=stock))
    return stock_ppm / target_ppm - 1


def grams_per_litre(powder_ppm: Decimal, target_ppm: Decimal) -> Decimal:
    """Promise the grams of a powder to one litre of water: target / powder x 1000. Raises DilutionFault.

    Source: CDC, Appendix E.
    """
    parts_of_water(powder_ppm, target_ppm)
    return target_ppm / powder_ppm * 1000


def diluted_ppm(stock_ppm: Decimal, ratio: str) -> Decimal:
    """Promise the strength after a dilution "1 in 10" or "1 + 10". Raises DilutionFault, also for "1:10"."""
    found = _PART.fullmatch(ratio.strip())
    if found is None:
        raise DilutionFault(f'{ratio!r} can be read in two ways; write "1 in 10" (of the whole) or "1 + 10" (of water)')
    parts = Decimal(found[2]) + (1 if found[1] == "+" else 0)
    if parts < 1:
        raise DilutionFault(f"{ratio!r} makes nothing weaker; check it")
    return stock_ppm / parts


def recipe(stock: str, target: str, make: str = "", powder: bool = False) -> str:
    """Promise in words how to make `target` (a strength, or a ratio like "1 in 10") from `stock`. Raises DilutionFault.

    `make` is the volume wanted in all; without it the parts alone are given.
    """
    stock_ppm = strength_ppm(stock)
    ratio = _PART.fullmatch(target.strip()) or ":" in target
    target_ppm = diluted_ppm(stock_ppm, target) if ratio else strength_ppm(target)
    made = f"{short(target_ppm / 10_000)} % ({short(target_ppm)} ppm)"
    if powder:
        grams = grams_per_litre(stock_ppm, target_ppm)
        text = f"{short(grams)} g of powder to 1 L of water gives {made}"
        return f"{text}; for {make}: {short(grams * volume_ml(make) / 1000)} g" if make else text
    water = parts_of_water(stock_ppm, target_ppm)
    text = f"1 part of stock and {short(water)} parts of water give {made}"
    if not make:
        return text
    whole = volume_ml(make)
    part = whole / (1 + water)
    return f"{text}; for {make}: {short(part)} mL of stock and {short(whole - part)} mL of water"


def short(number: Decimal) -> str:
    """Promise a number in four significant digits, without an exponent: more can't be measured at a bench."""
    if number == 0:
        return "0"
    rounded = round(number, max(0, 3 - number.adjusted()))
    return f"{rounded.normalize():f}"
