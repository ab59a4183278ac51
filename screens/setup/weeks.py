"""Old weeks: which are still on this handheld, where each was sent, and the oldest one purged by a lead.

A purge is read back first, on a thread of its own: a stick or a server may take its time, and no tap waits for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from data.purging import Looked, look, purge
from data.receipts import Receipts
from data.stubs import gone_weeks, read_stub
from protocols.clock import local_date
from protocols.errors import BasinbellError, Defect
from protocols.event import Event
from protocols.refusals import Refusal
from protocols.wall import weeks_between
from screens.desk import Told
from screens.heading import Head
from screens.page import Page
from screens.send.sending import Sending
from screens.shown import error_words, refused
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


# The oldest weeks are what this page is for; nobody leafs through years.
_SHOWN = 40


class WeeksPage(Page):
    """The weeks on this handheld, the oldest first, and what was purged; one button for the oldest."""

    key = "setup-weeks"
    tab = "setup"

    def __init__(self, shell: Shell, sending: Sending) -> None:
        super().__init__(shell)
        self._sending = sending
        self._reading = ""
        self._cards: dict[str, Card] = {}
        # What the receipts and stubs say is read when the page is entered, after a purge and after a week has arrived,
        # not once a second.
        self._arrived: dict[str, str] = {}
        self._read_at = -1
        self._keep = BigButton("", small=True, look="plain")
        self._keep.bind(on_command=lambda *_: self._ask_keep())
        self._gone = Words("", role="quiet")
        self._leaves = Leaves()
        self._purge = BigButton("", small=True)
        self._purge.bind(on_command=lambda *_: self._ask())
        self.add_widget(Split(self._leaves, [Head(say("setup.weeks"), back=shell.back)], [self._purge], side=0.6))

    def entered(self, **what: Any) -> None:
        """Read anew what lies beside the record."""
        self._read()

    def _read(self) -> None:
        self._read_at = self._sending.kept
        self._arrived.clear()
        self._gone.text = self._gone_words()

    def _gone_words(self) -> str:
        """Which week was purged last, "" where none was; or why that can't be read."""
        disk = self.desk.door.journal.disk
        try:
            gone = gone_weeks(disk)[-1:]
        except BasinbellError as error:
            return error_words(error)
        return say("weeks.gone", last=gone[0], place=_place_of(disk, gone[0])) if gone else ""

    def refresh(self) -> None:
        """Show what is here now."""
        if self._read_at != self._sending.kept:
            self._read()
        keep = self.desk.unit.settings.keep_weeks
        self._keep.set_words(say("weeks.keep"), f"{keep}" if keep else say("weeks.keep.all"))
        weeks = self.desk.door.journal.segments()
        cards = [self._card(week, week == weeks[-1]) for week in weeks[:_SHOWN]]
        self._leaves.show([self._keep, *([self._gone] if self._gone.text else []), *cards])
        oldest = self._oldest()
        self._purge.disabled = not oldest or bool(self._reading)
        if self._reading:
            self._purge.set_words(say("weeks.reading", week=self._reading), _short(self._sending.way.place.to))
        else:
            self._purge.set_words(say("weeks.purge", week=oldest) if oldest else say("weeks.none"), "")

    def _card(self, week: str, running: bool) -> Card:
        card = self._cards.get(week)
        if card is None:
            card = self._cards[week] = Card(leads=False)
        ago = weeks_between(week, local_date(self.desk.now().wall_ms, self.desk.unit.settings.zone))
        age = say("weeks.running") if running else say("weeks.ago", count=ago)
        card.tell(week, "", age, lines=[self._line(week)])
        return card

    def _line(self, week: str) -> str:
        if week not in self._arrived:
            self._arrived[week] = self._sent(week)
        return self._arrived[week]

    def _sent(self, week: str) -> str:
        try:
            arrived = [_short(one.to) for one in Receipts(self.desk.door.journal.disk).week(week) if one.closed]
        except BasinbellError as error:
            return error_words(error)
        return say("weeks.sent", places=", ".join(arrived)) if arrived else say("weeks.not_sent")

    def _oldest(self) -> str:
        """The week that goes next, "" where the unit keeps all there is."""
        weeks, keep = self.desk.door.journal.segments(), self.desk.unit.settings.keep_weeks
        today = local_date(self.desk.now().wall_ms, self.desk.unit.settings.zone)
        return weeks[0] if keep and len(weeks) > 1 and weeks_between(weeks[0], today) > keep else ""

    def _ask_keep(self) -> None:
        self.shell.ask_text(
            say("weeks.keep.ask"), "number", lambda weeks: self.shell.give("set-unit", "unit", {"keep_weeks": weeks})
        )

    def _ask(self) -> None:
        week, place = self._oldest(), self._sending.way.place.to
        if not week:
            return
        if not place:
            self.shell.tell(Told(False, say("weeks.nowhere"), say("weeks.nowhere.remedy"), "not-sent"))
            return
        words = say("weeks.sure", week=week, place=_short(place))
        self.shell.confirm(words, say("weeks.purge", week=week), lambda: self._look(week))

    def _look(self, week: str) -> None:
        by, door, sending = self.desk.by, self.desk.door, self._sending
        if sending.busy:
            self.shell.tell(Told(False, say("weeks.busy"), say("weeks.busy.remedy"), "busy"))
            return
        try:
            public, purged, opened = sending.way.signer().public, door.unit.purged, sending.way.opening()
        except BasinbellError as error:
            self.shell.tell(Told(False, error_words(error), rule="purge"))
            return

        def read() -> Looked:
            place = opened()
            try:
                return look(door.journal.disk, purged, week, place, public)
            finally:
                place.close()

        self._reading = week
        sending.background.do(read, lambda answer: self._looked(by, answer))
        self.shell.look()

    def _looked(self, by: str, answer: Any) -> None:
        self._reading = ""
        if isinstance(answer, Looked):
            try:
                answer = purge(self.desk.door, answer, self._sending.way.signer(), by)
            except Defect:
                raise
            except BasinbellError as error:
                answer = error
        if isinstance(answer, Event):
            self.desk.seen.add(answer)
            self.shell.tell(Told(True, say("weeks.done", week=answer.subject), event=answer))
            self._read()
        elif isinstance(answer, Refusal):
            why, remedy = refused(answer, self.desk.unit.name_of)
            self.shell.tell(Told(False, say("told.refused", why=why), remedy, answer.key))
        else:
            self.shell.tell(Told(False, error_words(answer), rule="purge"))
        self.shell.look()


def _short(place: str) -> str:
    """A place in one word that fits a line: the server of an address, the last folder of a path."""
    return urlsplit(place).hostname or "" if "://" in place else place.rstrip("/").rsplit("/", 1)[-1]


def _place_of(disk: Any, week: str) -> str:
    try:
        return _short(read_stub(disk, week).stub.to)
    except BasinbellError:
        return say("fact.unknown")
