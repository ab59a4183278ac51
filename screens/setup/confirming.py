"""A lead confirms a chemistry claim: every figure typed anew from the label in hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from protocols.claims import RETYPED
from protocols.model import Claim
from screens.asking import WhoPage
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell

# In the order of a label; what is not here is a switch or a choice.
_NUMBERS = ("contact_s", "temp_c", "temp_c_most", "reuse_d", "opened_d", "mec_pct", "strip_dip_s", "strip_read_s_from",
            "strip_read_s_to", "rinse_times", "rinse_s")  # fmt: skip
_ALWAYS = ("contact_s", "temp_c", "reuse_d")


class ConfirmPage(FormPage):
    """The label of one claim; what the row has from memory must be given, the rest where the label names it."""

    key = "setup-confirm"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._claim = next(claim.id for claim in self.desk.door.shelf.claims.values() if claim.use == "manual")

    def entered(self, **what: Any) -> None:
        """Begin with an empty form for the claim asked for."""
        super().entered(**what)
        self._claim = str(what.get("claim", self._claim))

    def _row(self) -> Claim:
        claim: Claim = self.desk.door.shelf.claims[self._claim]
        return claim

    def title(self) -> str:
        return say("confirm.title")

    def fields(self) -> list[Field]:
        single = bool(self.values.get("single_use"))
        fields = [
            Field("label", say("confirm.label"), "text"),
            Field("by_hand", say("confirm.by_hand"), "switch"),
            Field("single_use", say("claim.single_use"), "switch"),
            Field("needs_activation", say("claim.needs_activation"), "switch"),
        ]
        fields += [self._number(name) for name in _NUMBERS if not (single and name == "reuse_d")]
        kinds = [Option(kind, shipped(kind)) for kind in strip_kinds(self.desk.door.shelf.claims.values())]
        return [*fields, Field("strip_type", say("claim.strips"), "choose", optional=True, options=lambda: kinds)]

    def _number(self, name: str) -> Field:
        figure = getattr(self._row(), RETYPED[name])
        needed = name in _ALWAYS or (figure is not None and figure.how == "memory")
        kind = "minutes" if name == "contact_s" else "number"
        return Field(name, say(f"confirm.{name}"), kind, optional=not needed)

    def submit_words(self) -> str:
        return say("confirm.submit")

    def submit(self) -> None:
        if self.desk.unit.lead(self.desk.by):
            self._sure(self.desk.by)
        else:
            self.shell.over(WhoPage(self.shell, lambda who: self._sure(who.id), leads=True))

    def _sure(self, lead: str) -> None:
        words = say("confirm.sure", name=self.desk.unit.name_of(lead), title=shipped(self._row().title))
        self.shell.confirm(words, say("confirm.yes"), lambda: self._give(lead))

    def _give(self, lead: str) -> None:
        names = {field.name for field in self.fields()}
        values = {name: value for name, value in self.values.items() if name in names and value is not False}
        if self.shell.give("confirm-claim", self._claim, values, by=lead).done:
            self.finished("setup-claim", claim=self._claim)


def strip_kinds(claims: Any) -> list[str]:
    """Promise the kinds of strips that claims for a manual soak name."""
    return sorted({claim.strip_type for claim in claims if claim.strip_type and claim.use == "manual"})
