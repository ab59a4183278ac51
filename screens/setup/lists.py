"""Who and what is on the unit's lists, each with a button to add to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from kivy.uix.widget import Widget

from protocols.whereabouts import place_of
from screens.heading import Head
from screens.page import Page
from screens.scope.acts import place_words
from screens.setup.baths import ask_bath, bath_lines
from screens.setup.person import change_person
from screens.telling import bath_title
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell


class ListPage(Page):
    """A list with its button, where one can be added; subclasses give the cards."""

    tab = "setup"
    title = ""
    add_words = ""
    add_page = ""
    empty = ""

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._cards: dict[str, Card] = {}
        self._empty = Words(say(self.empty), role="quiet")
        self._leaves = Leaves()
        head = Head(say(self.title), back=shell.back)
        if not self.add_page:
            self.add_widget(head)
            self.add_widget(self._leaves)
            return
        add = BigButton(say(self.add_words), small=True)
        add.bind(on_command=lambda *_: self.shell.go(self.add_page, fresh=True))
        self.add_widget(Split(self._leaves, [head], [add], side=0.45))

    def refresh(self) -> None:
        """Show the list as it stands."""
        cards = self.cards()
        blocks: list[Widget] = [*cards] or [self._empty]
        self._leaves.show(blocks)

    def cards(self) -> list[Card]:
        """Give the cards of the list in order."""
        raise NotImplementedError(f"{type(self).__name__} has no cards")

    def card(self, name: str, press: Callable[[], None] | None, *told: Any, **more: Any) -> Card:
        """Give the card of a name, made once, showing what is told of it."""
        card = self._cards.get(name)
        if card is None:
            card = self._cards[name] = Card(leads=press is not None)
            if press is not None:
                card.bind(on_command=lambda *_: press())
        card.tell(*told, **more)
        return card


class PeoplePage(ListPage):
    """The people of the unit."""

    key = "setup-people"
    title = "setup.people"
    add_words = "setup.add.person"
    add_page = "setup-person"
    empty = "setup.no_people"

    def cards(self) -> list[Card]:
        people = sorted(self.desk.unit.people.values(), key=lambda p: (p.role == "technician", p.name))
        return [
            self.card(p.id, self._changer(p.id), p.name[:1], "", p.name,
                      lines=[say(f"role.{p.role}"), say("person.change")])
            for p in people
        ]  # fmt: skip

    def _changer(self, person: str) -> Callable[[], None]:
        return lambda: change_person(self.shell, self.desk.unit.people[person])


class ScopesPage(ListPage):
    """The scopes of the unit."""

    key = "setup-scopes"
    title = "setup.scopes"
    add_words = "setup.add.scope"
    add_page = "setup-scope"
    empty = "setup.no_scopes"

    def cards(self) -> list[Card]:
        return [self._scope(tag) for tag in sorted(self.desk.unit.scopes)]

    def _scope(self, tag: str) -> Card:
        unit, shelf = self.desk.unit, self.desk.door.shelf
        scope = unit.scopes[tag]
        protocol = shelf.protocol(unit.protocols[scope.protocol]) if scope.protocol in unit.protocols else None
        parts = [scope.model, say("fact.serial", serial=scope.serial) if scope.serial else ""]
        parts += [say("fact.loan")] if scope.loaner else []
        lines = [", ".join(part for part in parts if part)]
        lines.append(place_words(place_of(unit, tag)))
        family, title = (shipped(protocol.spoken), shipped(protocol.title)) if protocol else ("", scope.protocol)
        return self.card(
            tag, lambda: self.shell.go("scope", tag=tag), tag, family, title, lines=[line for line in lines if line]
        )


class BathsPage(ListPage):
    """The baths that stand; pressing one asks what is to be done with it."""

    key = "setup-baths"
    title = "setup.baths"
    add_words = "setup.add.bath"
    add_page = "setup-bath"
    empty = "setup.no_baths"

    def cards(self) -> list[Card]:
        found = sorted((b for b in self.desk.unit.baths.values() if not b.closed), key=lambda b: (b.kind, b.label))
        return [
            self.card(b.label, self._asker(b.label), b.label, "", bath_title(b.title),
                      lines=[*bath_lines(b, self.desk.unit, self.desk.now()), say("setup.bath.press")])
            for b in found
        ]  # fmt: skip

    def _asker(self, label: str) -> Callable[[], None]:
        return lambda: ask_bath(self.shell, label)
