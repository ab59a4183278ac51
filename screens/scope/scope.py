"""The page of one scope wherever it is: where, why, and a button for each thing that can be done with it there."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from protocols.clock import parse_date
from protocols.unit import Person
from protocols.whereabouts import place_of
from screens.asking import WhoPage
from screens.heading import Head
from screens.moments import full_day_words
from screens.offer import Choice, Typed
from screens.page import Page
from screens.scope.acts import Act, Go, acts_for, lines, place_words
from screens.setup.choosing import ChoosePage, Option
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell


class ScopePage(Page):
    """Where one scope is, and what follows from there."""

    key = "scope"
    tab = "watch"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.tag = ""
        self._built: tuple[Any, ...] = ()
        self._head = Head("", back=shell.back)
        self._place = Words("", step="title", bold=True)
        self._why = Words("", role="quiet")
        self._leaves = Leaves()
        for widget in (self._head, self._place, self._why, self._leaves):
            self.add_widget(widget)

    def entered(self, **what: Any) -> None:
        """Show the scope with that tag; without one, that of before."""
        self.tag = what.get("tag", self.tag)
        self._built = ()

    def refresh(self) -> None:
        """Show everything as of now; the buttons stay while nothing about them changes."""
        unit, now = self.desk.unit, self.desk.now()
        if self.tag not in unit.scopes:
            return
        self._head.set_words(self.tag, self._family())
        self._place.text = place_words(place_of(unit, self.tag))
        self._why.text = "\n".join(lines(unit, self.tag, now))
        acts = acts_for(unit, self.tag, now)
        if self._built != tuple(acts):
            self._built = tuple(acts)
            self._leaves.to_top()
            self._leaves.show([self._button(act) for act in acts])

    def _family(self) -> str:
        unit = self.desk.unit
        scope = unit.scopes[self.tag]
        sha = unit.protocols.get(scope.protocol)
        family = shipped(self.desk.door.shelf.protocol(sha).spoken) if sha else scope.protocol
        until = full_day_words(parse_date(scope.loaned_until)) if scope.loaned_until else ""
        loan = say("scope.loan", day=until) if until else ""
        return ", ".join(part for part in (family, scope.channels, loan) if part)

    def _button(self, act: Act) -> BigButton:
        under = "" if isinstance(act, Typed) else act.under
        look = "act" if isinstance(act, Typed) else act.look
        button = BigButton(act.words, under, look=look, small=True)
        button.bind(on_command=lambda *_: self._press(act))
        return button

    def _press(self, act: Act) -> None:
        if isinstance(act, Choice):
            self.shell.choose(act)
        elif isinstance(act, Typed):
            self.shell.type_value(act)
        else:
            self._go(act)

    def _go(self, act: Go) -> None:
        ways: dict[str, Callable[[], None]] = {"release": self._ask_release, "hand": self._ask_peer}
        if act.page in ways:
            ways[act.page]()
        elif act.page.startswith("scope-"):
            self.shell.go(act.page, tag=self.tag, fresh=True)
        else:
            self.shell.go(act.page, tag=self.tag)

    def _ask_release(self) -> None:
        """Ask who releases it, and once more; the person answers by name, never the app."""

        def sure(person: Person) -> None:
            words = say("cycle.release_sure", name=person.name, tag=self.tag)
            yes = say("cycle.release_yes", tag=self.tag)
            self.shell.confirm(words, yes, lambda: self.shell.give("release", self.tag, by=person.id))

        self.shell.over(WhoPage(self.shell, sure, words=say("cycle.who_releases", tag=self.tag)))

    def _ask_peer(self) -> None:
        peers = [Option(peer.device, peer.device) for peer in self.desk.unit.peers.values()]
        words = say("hand.to", tag=self.tag)
        self.shell.over(ChoosePage(self.shell, words, peers, lambda device: self._hand(device)))

    def _hand(self, device: str) -> None:
        def give() -> None:
            if self.shell.give("hand-over", self.tag, {"device": device}).done:
                self.shell.go("handover")

        self.shell.confirm(say("hand.sure", tag=self.tag, device=device), say("hand.yes", tag=self.tag), give)
