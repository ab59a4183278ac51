"""Containers of solution: registered when they are opened, from their label, and what is poured from them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from protocols.claims import claims_of
from protocols.clock import parse_date
from protocols.stock import Container
from screens.moments import day_and_time, full_day_words
from screens.setup.baths import KINDS, open_containers
from screens.setup.choosing import ChoosePage, Option
from screens.setup.claim_words import claim_option
from screens.setup.form import Field
from screens.setup.label_form import LabelForm
from screens.setup.lists import ListPage
from screens.telling import bath_title
from screens.widgets.card import Card
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_REASONS = ("empty", "old", "spilled")


class ContainersPage(ListPage):
    """The containers from which something may be poured; pressing one asks what is to be done with it."""

    key = "setup-containers"
    title = "setup.containers"
    add_words = "setup.add.container"
    add_page = "setup-container"
    empty = "setup.no_containers"

    def cards(self) -> list[Card]:
        return [self._container(held) for held in open_containers(self.desk.unit)]

    def _container(self, held: Container) -> Card:
        unit = self.desk.unit
        dates = [say("container.dates", lot=held.lot, expires=_day(held.expires), opened=_day(held.opened))]
        if held.activated:
            dates.append(say("container.activated", day=_day(held.activated)))
        when = day_and_time(held.registered.wall_ms, unit.settings.zone)
        who = say("container.by", name=unit.name_of(held.registered_by), when=when)
        title = bath_title(held.title)
        return self.card(held.label, lambda: ask_container(self.shell, held.label), held.label, "", title,
                         lines=[", ".join(dates), who])  # fmt: skip


def _day(text: str) -> str:
    return full_day_words(parse_date(text))


class ContainerPage(LabelForm):
    """A container just opened: its label is scanned or typed."""

    key = "setup-container"

    def title(self) -> str:
        return say("form.container.title")

    def fields(self) -> list[Field]:
        kinds = [Option(kind, say(f"kind.{kind}")) for kind in KINDS]
        fields = [Field("kind", say("form.bath.kind"), "choose", options=lambda: kinds)]
        kind = self.values.get("kind")
        if kind == "disinfectant":
            fields.append(Field("claim", say("form.bath.claim"), "choose", options=self._claims))
        elif kind == "detergent":
            fields.append(Field("title", say("form.bath.name"), "text", optional=True))
        return [
            *fields,
            Field("label", say("form.container.label"), "tag"),
            Field("lot", say("form.bath.lot"), "tag"),
            Field("expires", say("form.bath.expires"), "date"),
            Field("opened", say("form.container.opened"), "recent"),
            Field("activated", say("form.container.activated"), "recent", optional=True),
        ]

    def _claims(self) -> list[Option]:
        return [claim_option(claim) for claim in claims_of(self.desk.unit, self.desk.door.shelf.claims).values()]

    def submit_words(self) -> str:
        return say("form.container.add", label=self.values["label"])

    def submit(self) -> None:
        names = {field.name for field in self.fields()} - {"label"} | {"scan"}
        values: dict[str, Any] = {name: value for name, value in self.values.items() if name in names and value}
        if self.shell.give("register-container", self.values["label"], values).done:
            self.finished("setup-containers")


def ask_container(shell: Shell, label: str) -> None:
    """Ask what is to be done with a container: pour a bath from it, or discard it."""
    options = [Option("pour", say("container.pour")), Option("discard", say("container.discard"))]

    def chosen(key: str) -> None:
        if key == "pour":
            shell.go("setup-bath", fresh=True, container=label)
        else:
            _ask_why(shell, label)

    shell.over(ChoosePage(shell, say("container.what", label=label), options, chosen))


def _ask_why(shell: Shell, label: str) -> None:
    reasons = [Option(key, say(f"container.close.{key}")) for key in _REASONS]

    def give(key: str) -> None:
        shell.give("close-container", label, {"reason": say(f"container.close.{key}")})

    shell.over(ChoosePage(shell, say("container.why", label=label), reasons, give))
