"""The dilution helper: how much water to how much stock, with the units checked. It records nothing."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from protocols import dilution
from protocols.dilution import DilutionFault
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.shown import error_words
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_STRENGTHS = ("%", "ppm", "mg/L", "g/L")
_VOLUMES = ("L", "mL", "gal", "fl oz")


class DilutePage(FormPage):
    """Strength of the stock, strength wanted, and how much is to be made."""

    key = "setup-dilute"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._answer = Words("", step="title", bold=True)
        self._warning = Words(say("dilute.warning"), role="quiet")

    def title(self) -> str:
        return say("setup.dilute")

    def unfinished(self) -> bool:
        """Nothing here is ever recorded, so nothing is lost."""
        return False

    def fields(self) -> list[Field]:
        strengths, volumes = ([Option(u, u) for u in units] for units in (_STRENGTHS, _VOLUMES))
        fields = [
            Field("powder", say("dilute.powder"), "switch"),
            Field("stock", say("dilute.stock"), "number"),
            Field("stock_unit", say("dilute.stock_unit"), "choose", options=lambda: strengths),
            Field("target", say("dilute.target"), "number"),
            Field("target_unit", say("dilute.target_unit"), "choose", options=lambda: strengths),
            Field("make", say("dilute.make"), "number", optional=True),
        ]
        if self.values.get("make"):
            fields.append(Field("make_unit", say("dilute.make_unit"), "choose", options=lambda: volumes))
        return fields

    def refresh(self) -> None:
        """Show the sum as soon as all is given, above what it was made from."""
        self._answer.text = "" if self._missing() else self._sum()
        self.above = [self._answer, self._warning] if self._answer.text else [self._warning]
        super().refresh()

    def submit_words(self) -> str:
        return say("dilute.again")

    def submit_under(self) -> str:
        return ""

    def submit(self) -> None:
        self.values = {}
        self.refresh()

    def _sum(self) -> str:
        value = self.values
        try:
            stock = dilution.strength_ppm(f"{value['stock']:.10g} {value['stock_unit']}")
            target = dilution.strength_ppm(f"{value['target']:.10g} {value['target_unit']}")
            whole = dilution.volume_ml(f"{value['make']:.10g} {value['make_unit']}") if value.get("make") else None
            return _powder(stock, target, whole) if value.get("powder") else _liquid(stock, target, whole)
        except DilutionFault as fault:
            return error_words(fault)


def _powder(stock: Decimal, target: Decimal, whole: Decimal | None) -> str:
    grams = dilution.grams_per_litre(stock, target)
    words = say("dilute.grams", grams=dilution.short(grams))
    return f"{words} {say('dilute.grams_all', grams=dilution.short(grams * whole / 1000))}" if whole else words


def _liquid(stock: Decimal, target: Decimal, whole: Decimal | None) -> str:
    water = dilution.parts_of_water(stock, target)
    words = say("dilute.parts", water=dilution.short(water))
    if whole is None:
        return words
    part = whole / (1 + water)
    more = say("dilute.parts_all", stock=dilution.short(part), water=dilution.short(whole - part))
    return f"{words} {more}"
