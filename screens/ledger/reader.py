"""Reading the ledger a screenful at a time, newest cycle first. Runs off the screen's thread; needs no window.

A week whose file is damaged hides nothing else: it is named, and the other weeks are read.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from data.disk import Disk
from data.home import LEDGER
from data.journal import Journal
from data.ledger import Ledger, catch_up, rebuild
from data.ledger_entries import Entries, open_entries
from data.ledger_entry import Entry, Query
from data.real_disk import RealDisk
from data.trace import cycle_events
from data.unchanged import stamp
from protocols.clock import parse_wall
from protocols.errors import BasinbellError, RecordDamaged, RecordTooNew
from screens.shown import error_words

# What may be added to a cycle after its end.
LATER_KINDS = ("release", "void", "correct", "issue-scope", "return-checked")
BATCH = 12
# So many weeks are read for what came after a cycle before the look-back's index is asked: own figure.
_NEAR_WEEKS = 4
# The newest week, and none of its finds to pass over.
START = ("", 0)


@dataclass(frozen=True, slots=True)
class Unread:
    """A week of the ledger that can't be read: why, and whether making it again from the journal is the way out."""

    week: str
    why: str
    damaged: bool


@dataclass(frozen=True, slots=True)
class Batch:
    """A screenful: entries, weeks that can't be read, where to go on (None at the end), and what else went wrong."""

    entries: tuple[Entry, ...]
    unread: tuple[Unread, ...]
    go_on: tuple[str, int] | None
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Later:
    """What was recorded of a cycle after its end: a release, a void, a return to service."""

    kind: str
    by: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Whole:
    """One cycle with everything: its document and what came later."""

    document: dict[str, Any]
    later: tuple[Later, ...]
    fault: str = ""


class Reader:
    """Reads for the page. `progress` is how many weeks of how many the job under way has read."""

    def __init__(self, disk: Disk, journal: Journal, stopping: threading.Event | None = None) -> None:
        self._disk = disk
        self._ledger = Ledger(disk)
        self._journal = journal
        self._stopping = stopping or threading.Event()
        self.progress: tuple[int, int] = (0, 0)
        # The record and the ledger's folder as they were when nothing was to be folded in any more.
        self._caught_up: tuple[object, str] = (None, "")

    def find(self, query: Query, start: tuple[str, int] = START) -> Batch:
        """Promise the next screenful; `start` is a week ("" for the newest) and how many of its finds to pass over."""
        fault = ""
        if start == START:
            fault = self._catch_up()
        home = self._disk.root if isinstance(self._disk, RealDisk) else None
        with open_entries(self._disk, self._ledger, home) as kept:
            return self._screenful(kept, query, start, fault)

    def _catch_up(self) -> str:
        """Bring the ledger up to the record where either has changed since; gives what went wrong."""
        now = (self._journal.head, stamp(self._disk, LEDGER))
        if now[1] and now == self._caught_up:
            return ""
        try:
            catch_up(self._ledger, self._journal)
        except BasinbellError as error:
            # The list shows what the files hold; a damaged week shows itself there.
            return "" if self._damaged_newest() else error_words(error)
        self._caught_up = now
        return ""

    def _screenful(self, kept: Entries, query: Query, start: tuple[str, int], fault: str) -> Batch:
        first, skip = start
        weeks = [week for week in kept.weeks(query) if not first or week <= first]
        entries: list[Entry] = []
        unread: list[Unread] = []
        for at, week in enumerate(weeks):
            passed = skip if week == first else 0
            if len(entries) == BATCH or self._stopping.is_set():
                return Batch(tuple(entries), tuple(unread), (week, passed), fault)
            self.progress = (at, len(weeks))
            try:
                found = kept.week(week, query)[passed:]
            except (RecordDamaged, RecordTooNew) as error:
                unread.append(Unread(week, error_words(error), isinstance(error, RecordDamaged)))
                found = []
            room = BATCH - len(entries)
            entries.extend(found[:room])
            if len(found) > room:
                return Batch(tuple(entries), tuple(unread), (week, passed + room), fault)
        return Batch(tuple(entries), tuple(unread), None, fault)

    def whole(self, week: str, cycle: str) -> Whole | None:
        """Promise one cycle with what came later, None when that week does not hold it. Raises as `Ledger.week`."""
        document = self._document(week, cycle)
        if document is None:
            # It may have ended since the ledger was last written.
            catch_up(self._ledger, self._journal)
            document = self._document(week, cycle)
        if document is None:
            return None
        try:
            return Whole(document, tuple(self._later(document)))
        except BasinbellError as error:
            return Whole(document, (), error_words(error))

    def _document(self, week: str, cycle: str) -> dict[str, Any] | None:
        if week not in self._ledger.weeks():
            return None
        return next((d for d in self._ledger.week(week) if d["cycle"] == cycle), None)

    def make_again(self, week: str) -> None:
        """Promise that the week is made again from the journal. Raises UnknownWeek, RecordDamaged or DiskError."""
        rebuild(self._ledger, self._journal, week)

    def _damaged_newest(self) -> bool:
        weeks = self._ledger.weeks()
        try:
            if weeks:
                self._ledger.through(weeks[-1])
        except (RecordDamaged, RecordTooNew):
            return True
        return False

    def _later(self, document: dict[str, Any]) -> Iterator[Later]:
        """Looks from the cycle's end on, until its scope comes in again: nothing can be added to it after that.

        A scope that has not come in for some weeks may have left for good; then the look-back's index knows the places.
        """
        cycle, tag, seq = document["cycle"], document["scope"]["tag"], document["ended_seq"]
        weeks = [week for week in self._journal.segments() if week >= document["week"]]
        for line in _lines_after(self._journal, weeks[:_NEAR_WEEKS], seq, self._stopping.is_set):
            if line["kind"] in ("receive", "take-over") and line["subject"] == tag:
                return
            if line["kind"] in LATER_KINDS and line["refs"].get("cycle") == cycle:
                yield Later(line["kind"], line["by"], parse_wall(line["wall"]))
            seq = line["seq"]
        if weeks[_NEAR_WEEKS:]:
            for event in cycle_events(self._disk, cycle, lambda at, of: not self._stopping.is_set()):
                if event.seq > seq and event.kind in LATER_KINDS and event.refs.get("cycle") == cycle:
                    yield Later(event.kind, event.by, parse_wall(event.wall))


def _lines_after(journal: Journal, weeks: list[str], seq: int, stop: Callable[[], bool]) -> Iterator[dict[str, Any]]:
    # The running segment may grow meanwhile: its lines up to the head of now are whole, later ones are not looked at.
    head = journal.head[0]
    for week in weeks:
        if stop():
            continue
        for line in journal.iter_segment(week):
            if line["seq"] > seq:
                yield line
            if line["seq"] >= head:
                return
