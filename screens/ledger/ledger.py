"""The Ledger page: ended cycles, newest first, found by tag, case, bath lot or person.

Everything is read off the screen's thread: a tap never waits for the ledger, however long the record is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from kivy.clock import Clock
from kivy.uix.widget import Widget

from data.disk import Disk
from data.ledger_entry import Entry, Query
from protocols.clock import Stamp
from protocols.labels import LabelFault
from protocols.unit import Person
from screens.asking import WhoPage
from screens.background import PROGRESS_AFTER_S, Background, takes_long
from screens.desk import Told
from screens.heading import Head, HeadRow
from screens.ledger.facts import ended_words
from screens.ledger.reader import START, Batch, Reader, Unread
from screens.moments import day_and_time, span_words
from screens.page import Page
from screens.posting import on_screen
from screens.shown import error_words, in_words
from screens.widgets.button import BigButton
from screens.widgets.card import Card, SideKey
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_WAYS = ("tag", "case", "bath", "person")


class LedgerPage(Page):
    """The list of ended cycles and its search."""

    key = "ledger"
    tab = "ledger"

    def __init__(self, shell: Shell, disk: Disk) -> None:
        super().__init__(shell)
        self.background = Background("ledger", on_screen)
        self.reader = Reader(disk, self.desk.door.journal, self.background.stopping)
        self.query = Query()
        self._asked: Stamp | None = None
        self._through = -1
        self._blocks: list[Widget] = []
        self._go_on: tuple[str, int] | None = None
        self._count = 0
        self._head = Head(say("ledger.title"))
        self._ways = {way: SideKey(say(f"ledger.by.{way}"), size_hint_x=1) for way in _WAYS}
        for way, button in self._ways.items():
            button.bind(on_command=self._asker(way))
        self._progress = Words("", step="detail", role="quiet")
        self._fault = Words("", step="detail", role="over_text")
        self._all = BigButton(say("ledger.all"), small=True, look="plain")
        self._all.bind(on_command=lambda *_: self.search(Query()))
        self._back = BigButton(say("ledger.look_back"), say("ledger.look_back_under"), small=True, look="plain")
        self._back.bind(on_command=lambda *_: self._look_back())
        self._more = BigButton(say("ledger.more"), small=True, look="plain")
        self._more.bind(on_command=lambda *_: self._read_on())
        self._leaves = Leaves()
        for widget in (HeadRow(self._head, list(self._ways.values())), self._progress, self._leaves):
            self.add_widget(widget)

    # --- what is shown

    def entered(self, **what: Any) -> None:
        """Read anew where something was recorded since, or where a tag or a case is asked for."""
        if "tag" in what or "case" in what:
            self.search(Query(tag=what.get("tag", ""), case=what.get("case", "")))
        elif self._through != self.desk.door.journal.head[0]:
            self.search(self.query)

    def refresh(self) -> None:
        """Show how far reading has come, when it takes longer than half a second."""
        slow = takes_long(self._asked, self.desk.now())
        if not slow:
            self._progress.text = ""
        elif self.reader.progress[1]:
            at, of = self.reader.progress
            self._progress.text = say("ledger.reading", at=at + 1, of=of)
        else:
            self._progress.text = say("ledger.catching_up")

    def scanned(self, text: str) -> bool:
        """A scan searches: a scope's tag or label, else a bath, a lot or its label, else it is taken for a case."""
        try:
            tag, lot = self.desk.scope_of(text), self.desk.label(text).lot
        except LabelFault as fault:
            self.shell.tell(Told(False, in_words(fault.args[0]), rule="label-unread"))
            return True
        bath = _known(lot or text, self._bath_names()) or lot
        self.search(Query(tag=tag) if tag else Query(bath=bath) if bath else Query(case=text))
        return True

    # --- search

    def search(self, query: Query) -> None:
        """Show what fits, from the newest on."""
        self.query = query
        for way, button in self._ways.items():
            value = getattr(query, way)
            shown = self.desk.unit.name_of(value) if way == "person" else value
            button.set_words(shown or say(f"ledger.by.{way}"), bool(value))
        self._through = self.desk.door.journal.head[0]
        self._read(START)

    def _asker(self, way: str) -> Callable[..., None]:
        def ask(*_: Any) -> None:
            words = say(f"ledger.ask.{way}")
            if way == "person":
                self.shell.over(WhoPage(self.shell, self._of_person, words=words, proof=False))
            else:
                kind = "case" if way == "case" else "tag"
                self.shell.ask_text(words, kind, lambda text: self._typed(way, text))

        return ask

    def _of_person(self, person: Person) -> None:
        self.search(replace(self.query, person=person.id))

    def _typed(self, way: str, text: str) -> None:
        # The keys type capitals; what the unit knows by another spelling is found all the same.
        known = {"tag": list(self.desk.unit.scopes), "bath": self._bath_names()}.get(way, [])
        self.search(replace(self.query, **{way: _known(text, known) or text}))

    def _bath_names(self) -> list[str]:
        return [name for bath in self.desk.unit.baths.values() for name in (bath.label, bath.lot)]

    def _look_back(self) -> None:
        """Go on to the look-back, with what the list is searched for."""
        query = self.query
        for kind, about in (("scope", query.tag), ("case", query.case), ("person", query.person)):
            if about:
                self.shell.go("look-back", kind=kind, about=about)
                return
        if query.bath:
            label = any(bath.label == query.bath for bath in self.desk.unit.baths.values())
            self.shell.go("look-back", kind="bath" if label else "lot", about=query.bath)
        else:
            self.shell.go("look-back")

    # --- reading

    def _read(self, start: tuple[str, int]) -> None:
        query = self.query
        self._asked, self.reader.progress = self.desk.now(), (0, 0)
        self.background.run(lambda: self.reader.find(query, start), lambda answer: self._found(query, start, answer))
        Clock.schedule_once(lambda _: self.refresh(), PROGRESS_AFTER_S)

    def _read_on(self) -> None:
        """Read the next screenful of what is shown; a second press before that is shown must not show it twice."""
        if self._go_on is not None and self._asked is None:
            self._read(self._go_on)

    def _found(self, query: Query, start: tuple[str, int], answer: Any) -> None:
        if query != self.query:
            return
        self._asked = None
        if not isinstance(answer, Batch):
            self._show_fault(error_words(answer))
            return
        if start == START:
            self._blocks, self._count = [], 0
        self._go_on = answer.go_on
        self._blocks += [block for one in answer.unread for block in self._unread(one)]
        self._blocks += [self._entry(one) for one in answer.entries]
        self._count += len(answer.entries)
        self._show_fault(answer.fault, keep=start != START)

    def _show_fault(self, fault: str, keep: bool = False) -> None:
        self._fault.text = say("ledger.fault", why=fault) if fault else ""
        empty = say("ledger.none_found") if self.query != Query() else say("ledger.none")
        head = [*([self._fault] if fault else []), *([self._all] if self.query != Query() else [])]
        shown = self._blocks or [Words(empty, role="quiet")]
        self._leaves.show([self._back, *head, *shown, *([self._more] if self._go_on else [])])
        if not keep:
            self._leaves.to_top()
        self._head.set_words(say("ledger.title"), say("ledger.count", count=self._count) if self._count else "")
        self.refresh()

    def _entry(self, entry: Entry) -> Card:
        card = Card()
        zone = self.desk.unit.settings.zone
        when = day_and_time(entry.ended_ms, zone)
        case = say("ledger.line", case=entry.case, procedure=entry.procedure, time=span_words(entry.length_s))
        lines = [case, *([say("ledger.lates", count=entry.lates)] if entry.lates else [])]
        title = say("ledger.ended", outcome=ended_words(entry.outcome), when=when)
        card.tell(entry.tag, "", title, "", lines, self._mark(entry), "calm")
        card.bind(on_command=lambda *_: self.shell.go("cycle", week=entry.week, cycle=entry.cycle))
        return card

    def _mark(self, entry: Entry) -> str:
        """Only a scope's latest cycle says what state it is in; an earlier one carries no mark."""
        scope = self.desk.unit.scopes.get(entry.tag)
        if scope is None or scope.last is None or scope.last.cycle != entry.cycle or entry.tag in self.desk.unit.cycles:
            return ""
        if scope.hold is not None:
            return "not_disinfected"
        if scope.last.released_by:
            return "released"
        return "disinfected" if entry.disinfected and scope.last.outcome == "completed" else "not_disinfected"

    def _unread(self, unread: Unread) -> list[Widget]:
        """A week that can't be read: why, and where that helps the button that makes it again."""
        card = Card(leads=False)
        what = say("ledger.damaged") if unread.damaged else say("ledger.too_new")
        card.tell("", "", say("ledger.unread", week=unread.week), "", [what, unread.why], "", "over")
        if not unread.damaged:
            return [card]
        again = BigButton(say("ledger.again", week=unread.week), small=True, look="ink")
        again.bind(on_command=lambda *_: self._make_again(unread.week))
        return [card, again]

    def _make_again(self, week: str) -> None:
        self._asked = self.desk.now()
        self.background.do(lambda: self.reader.make_again(week), lambda answer: self._made_again(week, answer))

    def _made_again(self, week: str, answer: Any) -> None:
        words = say("ledger.made_again", week=week) if answer is None else error_words(answer)
        self.shell.tell(Told(answer is None, words))
        self.search(self.query)


def _known(text: str, names: Iterable[str]) -> str:
    """Give the known name that reads like the text whatever its capitals, "" when there is none."""
    return next((name for name in names if name.casefold() == text.casefold()), "")
