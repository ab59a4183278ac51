"""Bottles of test strips: registered when opened, their lot controlled before a strip of it may cover a soak."""

from __future__ import annotations

from typing import TYPE_CHECKING

from protocols.strips import CONTROLS
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.setup.lists import ListPage
from screens.widgets.card import Card
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class StripsPage(ListPage):
    """The bottles in use; pressing one whose lot is not controlled asks for its control."""

    key = "setup-strips"
    title = "setup.strips"
    add_words = "setup.add.strips"
    add_page = "setup-strip"
    empty = "setup.no_strips"

    def cards(self) -> list[Card]:
        found = sorted((s for s in self.desk.unit.strips.values() if not s.closed), key=lambda s: s.label)
        return [
            self.card(s.label, lambda label=s.label: ask_control(self.shell, label), s.label, "", s.type,
                      lines=[say("setup.strips.lot", lot=s.lot),
                             say("setup.strips.good" if s.controlled else "setup.strips.control")])
            for s in found
        ]  # fmt: skip


class StripPage(FormPage):
    """A bottle just opened; its control follows at once."""

    key = "setup-strip"

    def title(self) -> str:
        return say("form.strip.title")

    def fields(self) -> list[Field]:
        claims = self.desk.door.shelf.claims.values()
        kinds = sorted({claim.strip_type for claim in claims if claim.strip_type and claim.use == "manual"})
        return [
            Field("type", say("form.strip.type"), "choose", options=lambda: [Option(kind, kind) for kind in kinds]),
            Field("label", say("form.strip.label"), "tag"),
            Field("lot", say("form.bath.lot"), "tag"),
            Field("expires", say("form.bath.expires"), "date"),
            Field("opened", say("form.strip.opened"), "recent"),
        ]

    def submit_words(self) -> str:
        return say("form.strip.add", label=self.values["label"])

    def submit(self) -> None:
        label = self.values["label"]
        values = {name: value for name, value in self.values.items() if name != "label"}
        if self.shell.give("register-strips", label, values).done:
            self.finished("setup-strips")
            ask_control(self.shell, label)

    def scanned(self, text: str) -> bool:
        """A scan gives the lot: that is what bottles carry as a code."""
        self.put("lot", text)
        return True


def ask_control(shell: Shell, label: str) -> None:
    """Ask whether the control of a new lot came out right; only a yes is recorded, as what was seen."""
    bottle = shell.desk.unit.strips.get(label)
    if bottle is None or bottle.controlled:
        return
    shell.confirm(
        say("setup.strips.sure", label=label, count=CONTROLS),
        say("setup.strips.yes"),
        lambda: shell.give("strip-control", label, {"positive": CONTROLS, "negative": CONTROLS}),
        say("setup.strips.not_yet"),
    )
