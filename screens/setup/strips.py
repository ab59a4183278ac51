"""Bottles of test strips: registered when opened, their lot controlled before a strip of it may cover a soak."""

from __future__ import annotations

from typing import TYPE_CHECKING

from protocols.claims import claims_of
from protocols.clock import parse_date
from protocols.stock import Strips
from protocols.strips import CONTROLS
from screens.moments import full_day_words
from screens.setup.choosing import ChoosePage, Option
from screens.setup.confirming import strip_kinds
from screens.setup.form import Field
from screens.setup.label_form import LabelForm
from screens.setup.lists import ListPage
from screens.widgets.card import Card
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell


class StripsPage(ListPage):
    """The bottles in use; pressing one asks what is to be done with it."""

    key = "setup-strips"
    title = "setup.strips"
    add_words = "setup.add.strips"
    add_page = "setup-strip"
    empty = "setup.no_strips"

    def cards(self) -> list[Card]:
        found = sorted((s for s in self.desk.unit.strips.values() if not s.closed), key=lambda s: s.label)
        return [
            self.card(s.label, lambda label=s.label: ask_bottle(self.shell, label), s.label, "", shipped(s.type),
                      lines=[_dates(s), say("setup.strips.good" if s.controlled else "setup.strips.control")])
            for s in found
        ]  # fmt: skip


class StripPage(LabelForm):
    """A bottle just opened; its control follows at once."""

    key = "setup-strip"

    def title(self) -> str:
        return say("form.strip.title")

    def fields(self) -> list[Field]:
        kinds = strip_kinds(claims_of(self.desk.unit, self.desk.door.shelf.claims).values())
        return [
            Field(
                "type",
                say("form.strip.type"),
                "choose",
                options=lambda: [Option(kind, shipped(kind)) for kind in kinds],
            ),
            Field("label", say("form.strip.label"), "tag"),
            Field("lot", say("form.bath.lot"), "tag"),
            Field("expires", say("form.bath.expires"), "date"),
            Field("opened", say("form.strip.opened"), "recent"),
            Field("opened_d", say("form.strip.opened_d"), "number", optional=True),
            Field("dip_s", say("form.strip.dip_s"), "number", optional=True),
            Field("read_s_from", say("form.strip.read_from"), "number", optional=True),
            Field("read_s_to", say("form.strip.read_to"), "number", optional=True),
        ]

    def submit_words(self) -> str:
        return say("form.strip.add", label=self.values["label"])

    def submit(self) -> None:
        label = self.values["label"]
        values = {name: value for name, value in self.values.items() if name != "label"}
        if self.shell.give("register-strips", label, values).done:
            self.finished("setup-strips")
            ask_control(self.shell, label)


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


def _dates(bottle: Strips) -> str:
    """Promise lot and dates of a bottle in one line."""
    expires, opened = (full_day_words(parse_date(day)) for day in (bottle.expires, bottle.opened))
    return say("container.dates", lot=bottle.lot, expires=expires, opened=opened)


def ask_bottle(shell: Shell, label: str) -> None:
    """Ask what is to be done with a bottle: its lot's control, a control that went wrong, or discarding it."""
    bottle = shell.desk.unit.strips[label]
    options = [
        Option("control", say("strips.control"), "", say("setup.strips.good") if bottle.controlled else ""),
        Option("wrong", say("strips.wrong"), say("strips.wrong_under")),
        Option("discard", say("strips.discard")),
    ]
    ways = {"control": ask_control, "wrong": _ask_wrong, "discard": _ask_discard}
    shell.over(ChoosePage(shell, say("strips.what", label=label), options, lambda key: ways[key](shell, label)))


def _ask_wrong(shell: Shell, label: str) -> None:
    # Only what was seen: how many of the others came out right was not asked.
    values = {"positive": 0, "negative": 0, "wrong": 1}
    shell.confirm(
        say("strips.wrong_sure", label=label), say("strips.wrong"), lambda: shell.give("strip-control", label, values)
    )


def _ask_discard(shell: Shell, label: str) -> None:
    reasons = [Option(key, say(f"strips.close.{key}")) for key in ("empty", "old")]

    def give(key: str) -> None:
        shell.give("close-strips", label, {"reason": say(f"strips.close.{key}")})

    shell.over(ChoosePage(shell, say("strips.why", label=label), reasons, give))
