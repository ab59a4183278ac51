"""The Setup page: what is to be done at the first start, and afterwards the way to every list and setting."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from protocols.claims import claims_of
from protocols.limits import KINDS
from protocols.unit import Person, Settings
from protocols.upkeep import due_list
from screens.asking import WhoPage
from screens.heading import Head
from screens.page import Page
from screens.setup.baths import open_containers
from screens.setup.claim_words import why_not
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

# What a new unit needs, in this order: only a lead may do the rest, and a bath is poured for scopes.
FIRST = ("person", "unit", "scope", "bath")
_LISTS = (
    "people", "scopes", "baths", "containers", "strips", "chemistries", "limits", "dilute", "upkeep", "handover",
    "unit", "weeks", "handheld", "practice",
)  # fmt: skip
# Pages that are reached from elsewhere too, so that they have no name of the Setup.
_SHARED = ("upkeep", "handover")


class SetupPage(Page):
    """The list of settings, or the four things that a new unit needs."""

    key = "setup"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._teaching = False
        self._head = Head(say("setup.title"))
        self._lesson = Words(say("setup.first"), role="quiet")
        self._ready = Words(say("setup.ready"), bold=True)
        self._first = {name: BigButton("", small=True) for name in FIRST}
        self._who = BigButton("", small=True, look="plain")
        self._who.bind(on_command=lambda *_: self._ask_who())
        self._lists = {name: BigButton("", small=True, look="plain") for name in _LISTS}
        for name, button in self._first.items():
            button.bind(on_command=self._goer(f"setup-{name}", fresh=name != "unit"))
        for name, button in self._lists.items():
            button.bind(on_command=self._goer(name if name in _SHARED else f"setup-{name}"))
        self._leaves = Leaves()
        self.add_widget(self._head)
        self.add_widget(self._leaves)

    def refresh(self) -> None:
        """Show the lesson while something is missing that no unit can do without, else the list."""
        unit = self.desk.unit
        self._head.set_words(say("setup.title"), unit.settings.name if unit.people else "")
        missing = [name for name in FIRST if not self._done(name)]
        if missing:
            self._teaching = True
            self._teach(missing)
            return
        self._leaves.show([*([self._ready] if self._teaching else []), self._who, *self._lists.values()])
        self._tell_lists()

    def left(self) -> None:
        """The lesson is over once somebody has gone on from it."""
        if not [name for name in FIRST if not self._done(name)]:
            self._teaching = False

    def _done(self, name: str) -> bool:
        unit = self.desk.unit
        if name == "person":
            return bool(unit.people)
        if name == "unit":
            # A unit that has scopes was set up; its name may well be the default one.
            return unit.settings != Settings() or bool(unit.scopes)
        return bool(unit.scopes if name == "scope" else unit.baths)

    def _teach(self, missing: list[str]) -> None:
        for name, button in self._first.items():
            words = say(f"setup.first.{name}")
            if name not in missing:
                button.set_words(words, say("setup.first.done", what=self._what(name)))
                button.look = "plain"
            else:
                button.set_words(words, say("setup.first.next" if name == missing[0] else "setup.first.later"))
                button.look = "act" if name == missing[0] else "plain"
            button.disabled = name != missing[0]
        unit_too = [self._lists["unit"]] if "person" not in missing and "unit" not in missing else []
        self._tell_lists()
        self._leaves.show(
            [self._lesson, *self._first.values(), *unit_too, self._lists["handheld"], self._lists["practice"]]
        )

    def _what(self, name: str) -> str:
        unit = self.desk.unit
        found = {
            "person": [p.name for p in unit.people.values()],
            "unit": [say("setup.unit_under", name=unit.settings.name, zone=unit.settings.zone)],
            "scope": list(unit.scopes),
            "bath": list(unit.baths),
        }
        return found[name][0] if found[name] else ""

    def _tell_lists(self) -> None:
        unit = self.desk.unit
        person = unit.people.get(self.desk.by)
        self._who.set_words(say("setup.who"), person.name if person else say("setup.who.nobody"))
        poured = sum(1 for bath in unit.baths.values() if not bath.closed)
        unders = {
            "people": say("setup.count", count=len(unit.people)) if unit.people else say("setup.none"),
            "scopes": say("setup.count", count=len(unit.scopes)) if unit.scopes else say("setup.none"),
            "baths": say("setup.count_baths", count=poured) if poured else say("setup.none"),
            "strips": self._strips_words(),
            **self._solution_words(),
            "unit": say("setup.unit_under", name=unit.settings.name, zone=unit.settings.zone),
            "weeks": say("setup.count_weeks", count=len(self.desk.door.journal.segments())),
            "handheld": say("setup.handheld.under"),
            "practice": say("setup.practice.under"),
            "handover": say("setup.handover.under"),
            "upkeep": self._upkeep_words(),
        }
        for name, button in self._lists.items():
            button.set_words(say(f"setup.{name}"), unders[name])

    def _solution_words(self) -> dict[str, str]:
        unit, shelf = self.desk.unit, self.desk.door.shelf
        held = len(open_containers(unit))
        claims = claims_of(unit, shelf.claims).values()
        ready = sum(1 for claim in claims if not why_not(claim))
        return {
            "containers": say("setup.count", count=held) if held else say("setup.none"),
            "chemistries": say("setup.chemistries.under", ready=ready, all=len(claims)),
            "limits": say("setup.limits.under", chosen=len(unit.limits), all=len(KINDS)),
            "dilute": say("setup.dilute.under"),
        }

    def _upkeep_words(self) -> str:
        due = sum(1 for one in due_list(self.desk.unit, self.desk.now()) if one.state != "holds")
        return say("setup.upkeep.due", count=due) if due else say("setup.none")

    def _strips_words(self) -> str:
        bottles = [s for s in self.desk.unit.strips.values() if not s.closed]
        if not bottles and self.desk.unit.settings.strip_register:
            return say("setup.strips.needed")
        return say("setup.count", count=len(bottles)) if bottles else say("setup.none")

    def _goer(self, key: str, fresh: bool = False) -> Callable[..., None]:
        what = {"fresh": True} if fresh else {}
        if key == "setup-bath":
            what["kind"] = "disinfectant"
        return lambda *_: self.shell.go(key, **what)

    def _ask_who(self) -> None:
        def sign_in(person: Person) -> None:
            self.shell.sign_in(person.id)

        self.shell.over(WhoPage(self.shell, sign_in, words=say("setup.who.ask")))
