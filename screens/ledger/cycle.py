"""One ended cycle: its time ribbon, its facts, and its release, which a named person gives and the app never does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from data.disk import Disk
from data.ribbon import ribbon
from protocols.clock import parse_wall
from protocols.unit import Person
from screens.asking import WhoPage
from screens.background import Background
from screens.heading import Head
from screens.ledger.facts import facts_of
from screens.ledger.reader import Later, Reader, Whole
from screens.ledger.ribbon_view import Ribbon
from screens.moments import day_and_time, span_words
from screens.page import Page
from screens.posting import on_screen
from screens.shown import error_words, in_words
from screens.widgets.button import BigButton
from screens.widgets.fact_row import FactRow
from screens.widgets.leaves import Leaves
from screens.widgets.state_mark import StateMark
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_LATER = {
    "release": "cycle.released", "void": "cycle.voided_later", "correct": "cycle.returned",
    "issue-scope": "cycle.issued", "return-checked": "cycle.checked",
}  # fmt: skip


class CyclePage(Page):
    """One ended cycle from the ledger."""

    key = "cycle"
    tab = "ledger"

    def __init__(self, shell: Shell, disk: Disk) -> None:
        super().__init__(shell)
        self.background = Background("cycle", on_screen)
        self.reader = Reader(disk, self.desk.door.journal, self.background.stopping)
        self._week = self._cycle = ""
        self._whole: Whole | None = None
        self._head = Head("", back=shell.back)
        self._mark = StateMark()
        self._leaves = Leaves()
        self._release = BigButton("", look="ink", small=True)
        self._release.bind(on_command=lambda *_: self._ask_release())
        self.add_widget(self._head)
        self.add_widget(self._leaves)

    def entered(self, **what: Any) -> None:
        """Read the cycle that is asked for; coming back shows the one from before."""
        if what:
            self._week, self._cycle = what["week"], what["cycle"]
            self._whole = None
            self._leaves.show([])
            self._leaves.to_top()
            self._head.set_words("", "")
        self._read()

    def refresh(self) -> None:
        """Name whoever would sign the release now: the page may stand here while somebody is signed out."""
        if self._whole is not None and self._release.parent is not None:
            self._name_releaser(self._whole.document["scope"]["tag"])

    def _read(self) -> None:
        week, cycle = self._week, self._cycle
        self.background.run(lambda: self.reader.whole(week, cycle), lambda answer: self._found(cycle, answer))

    def _found(self, cycle: str, answer: Any) -> None:
        if cycle != self._cycle:
            return
        if not isinstance(answer, Whole):
            words = say("cycle.gone", week=self._week) if answer is None else error_words(answer)
            self._leaves.show([Words(words, role="over_text")])
            return
        self._whole = answer
        self._show(answer)

    # --- what is shown

    def _show(self, whole: Whole) -> None:
        document, zone = whole.document, self.desk.unit.settings.zone
        tag, case = document["scope"]["tag"], document["case"]["reference"]
        length_s = (parse_wall(document["outcome"]["at"]) - parse_wall(document["received"]["at"])) / 1000
        self._head.set_words(tag, say("cycle.took", case=case, time=span_words(length_s)))
        bars = ribbon(document)
        blocks: list[Any] = [*self._standing(whole), *([Ribbon(bars, zone)] if bars else [])]
        if whole.fault:
            blocks.append(Words(say("cycle.later_fault", why=whole.fault), step="detail", role="over_text"))
        blocks += [FactRow(fact.about, fact.words, bad=fact.bad) for fact in facts_of(document, zone)]
        self._leaves.show(blocks)

    def _standing(self, whole: Whole) -> list[Any]:
        """How the cycle stands today: its mark while it says something of the scope, and its release."""
        tag, outcome = whole.document["scope"]["tag"], whole.document["outcome"]
        later = [Words(self._later(one), bold=True) for one in whole.later]
        if not self._is_latest(tag):
            past = outcome["outcome"] == "completed" and not whole.later
            return [*later, *([Words(say("cycle.past", tag=tag), role="quiet")] if past else [])]
        last, hold = self.desk.unit.scopes[tag].last, self.desk.unit.scopes[tag].hold
        if hold is not None:
            self._mark.kind = "not_disinfected"
            return [self._mark, Words(say("held.title", why=in_words(hold.why)), role="over_text"), *later]
        if last.released_by:
            self._mark.kind = "released"
            return [self._mark, *later]
        sound = outcome["disinfected"] and last.outcome == "completed"
        self._mark.kind = "disinfected" if sound else "not_disinfected"
        if not sound:
            return [self._mark, *later]
        self._name_releaser(tag)
        return [self._mark, self._release, *later]

    def _name_releaser(self, tag: str) -> None:
        person = self.desk.unit.people.get(self.desk.by)
        under = say("cycle.release_under", name=person.name) if person else say("cycle.not_now")
        self._release.set_words(say("cycle.release", tag=tag), under)

    def _later(self, later: Later) -> str:
        unit = self.desk.unit
        name = unit.name_of(later.by)
        return say(_LATER[later.kind], name=name, when=day_and_time(later.at_ms, unit.settings.zone))

    def _is_latest(self, tag: str) -> bool:
        scope = self.desk.unit.scopes.get(tag)
        known = scope is not None and scope.last is not None and scope.last.cycle == self._cycle
        return known and tag not in self.desk.unit.cycles

    # --- release

    def _ask_release(self) -> None:
        if self._whole is None:
            return
        tag = self._whole.document["scope"]["tag"]
        person = self.desk.unit.people.get(self.desk.by)
        if person is None:
            words = say("cycle.who_releases", tag=tag)
            self.shell.over(WhoPage(self.shell, lambda who: self._sure(tag, who), words=words))
        else:
            self._sure(tag, person)

    def _sure(self, tag: str, person: Person) -> None:
        words = say("cycle.release_sure", name=person.name, tag=tag)
        self.shell.confirm(words, say("cycle.release_yes", tag=tag), lambda: self._give(tag, person))

    def _give(self, tag: str, person: Person) -> None:
        # The cycle that the person saw must still be the scope's latest: a screen may have stood here for hours.
        if not self._is_latest(tag):
            self._read()
            return
        self.shell.give("release", tag, by=person.id)
        self._read()
