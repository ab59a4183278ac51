"""What the unit keeps up: competency of people, filters, cultures; each with the day on which it is due again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from protocols.clock import parse_date
from protocols.upkeep import Due, due_list
from screens.asking import WhoPage
from screens.heading import Head
from screens.moments import full_day_words
from screens.page import Page
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_FORMS = ("competency", "filter", "culture")


class UpkeepPage(Page):
    """Everything that has a day, the nearest first, and a button for each kind of record."""

    key = "upkeep"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._cards: dict[tuple[str, str, str], Card] = {}
        self._none = Words(say("upkeep.none"), role="quiet")
        self._leaves = Leaves()
        self._add = {name: BigButton(say(f"upkeep.add.{name}"), small=True, look="plain") for name in _FORMS}
        for name, button in self._add.items():
            button.bind(on_command=lambda *_, name=name: shell.go(f"upkeep-{name}", fresh=True))
        for widget in (Head(say("setup.upkeep"), back=shell.back), self._leaves):
            self.add_widget(widget)

    def refresh(self) -> None:
        """Show the list as of now."""
        unit = self.desk.unit
        cards = [self._card(one) for one in due_list(unit, self.desk.now())]
        self._leaves.show([*self._add.values(), *(cards or [self._none])])

    def _card(self, one: Due) -> Card:
        key = (one.kind, one.about, one.what)
        card = self._cards.get(key)
        if card is None:
            card = self._cards[key] = Card(leads=False)
        words = say(f"due.{one.kind}", about=self.desk.unit.name_of(one.about), what=one.what)
        day = full_day_words(parse_date(one.day))
        when = say("due.past", day=day) if one.left_d < 0 else say("due.soon", day=day, days=one.left_d)
        level = {"due": "over", "due soon": "near"}.get(one.state, "calm")
        known = self.desk.unit.upkeep.get(f"{one.kind}/{one.about}/{one.what}")
        found = (say("upkeep.culture", result=say(f"culture.{known.result}"), reference=known.reference),) if (
            known is not None and known.result
        ) else ()  # fmt: skip
        card.tell("", "", words, "", (when, *found), "", level)
        return card


class _RecordPage(FormPage):
    """One record of upkeep; `subject` names the field that the command is about."""

    subject = "about"
    does = ""
    lead = False

    def title(self) -> str:
        return say(f"upkeep.add.{self.does}")

    def submit_words(self) -> str:
        return say("upkeep.give")

    def submit(self) -> None:
        values: dict[str, Any] = {name: value for name, value in self.values.items() if name != "about" and value}
        if self.lead and not self.desk.unit.lead(self.desk.by):
            self.shell.over(WhoPage(self.shell, lambda who: self._give(values, who.id), leads=True))
        else:
            self._give(values)

    def _give(self, values: dict[str, Any], by: str = "") -> None:
        if self.shell.give(f"record-{self.does}", self.values["about"], values, by=by).done:
            self.finished("upkeep")


class CompetencyPage(_RecordPage):
    """A person was found competent in something, until a day."""

    key = "upkeep-competency"
    does = "competency"
    lead = True

    def fields(self) -> list[Field]:
        people = [Option(p.id, p.name) for p in self.desk.unit.people.values()]
        return [
            Field("about", say("upkeep.person"), "choose", options=lambda: people),
            Field("what", say("upkeep.in"), "text"),
            Field("done", say("upkeep.assessed"), "recent"),
            Field("until", say("upkeep.until"), "date"),
        ]


class FilterPage(_RecordPage):
    """A filter was changed."""

    key = "upkeep-filter"
    does = "filter"

    def fields(self) -> list[Field]:
        return [
            Field("about", say("upkeep.filter"), "tag"),
            Field("what", say("upkeep.filter_kind"), "text"),
            Field("done", say("upkeep.changed"), "recent"),
            Field("until", say("upkeep.next"), "date", optional=True),
        ]


class CulturePage(_RecordPage):
    """What a laboratory found on a scope, by its number."""

    key = "upkeep-culture"
    does = "culture"

    def fields(self) -> list[Field]:
        tags = [Option(tag, tag) for tag in sorted(self.desk.unit.scopes)]
        results = [Option(key, say(f"culture.{key}")) for key in ("none", "growth", "action")]
        return [
            Field("about", say("upkeep.scope"), "choose", options=lambda: tags),
            Field("taken", say("upkeep.taken"), "recent"),
            Field("result", say("upkeep.result"), "choose", options=lambda: results),
            Field("reference", say("upkeep.reference"), "tag"),
            Field("until", say("upkeep.next_sample"), "date", optional=True),
        ]
