"""What one week of the journal says: the cycles that ended in it with all their events, and everything else in it.

A cycle belongs to the week in which it ends, so its first events may lie in earlier segments, and so may the pourings
of its baths; those are fetched, and no more of the earlier weeks than that. Reads only; nothing of this is on a tap's
path. A record that is read while it grows is read up to the head it had at the start.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Protocol

from data.cycles import summarise
from data.segments import CHECKPOINT, segment_path
from protocols.errors import RecordDamaged, TechnicianError
from protocols.event import Event, device_of, from_envelope, seq_of
from protocols.plain import from_plain
from protocols.unit import Settings, Unit
from protocols.wall import week_begins

# Events with which a cycle begins in this record: its receipt, or its taking over from another handheld.
BEGINNINGS = ("receive", "take-over")


class UnknownWeek(TechnicianError):
    """The record has nothing of that week."""


class Segments(Protocol):
    """What is asked of a record to read a week of it; a `Journal` gives it, and so does `data.beside.Beside`."""

    @property
    def head(self) -> tuple[int, str]:
        """Promise seq and hash of the last line."""
        ...

    def segments(self) -> list[str]:
        """Promise the weeks, oldest first."""
        ...

    def iter_segment(self, week: str) -> Iterator[dict[str, Any]]:
        """Promise the lines of one week, each checked."""
        ...

    def carried(self) -> list[tuple[dict[str, Any], bytes]]:
        """Promise the lines that purged weeks left behind for later ones, each with its bytes."""
        ...


@dataclass(slots=True)
class Ended:
    """One cycle that ended in the week: all its events in order, and the unit's zone at its end."""

    events: list[Event]
    zone: str


@dataclass(slots=True)
class WeekRead:
    """One week as read. `through` and `head` are the seq and hash of the last line read.

    `closed` says that a later week has begun, so nothing can be added any more; `others` are amendments of ended cycles
    and what was done to the unit (baths, strips without a cycle, people, scopes, protocols, settings), in order.
    """

    week: str
    closed: bool
    through: int = 0
    head: str = ""
    ended: list[Ended] = field(default_factory=list)
    others: list[Event] = field(default_factory=list)
    pours: dict[str, Event] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)

    def documents(self, after_seq: int = 0) -> list[dict[str, Any]]:
        """Promise the summary of every cycle that ended after that seq, in the order in which they ended."""
        return [
            {"week": self.week, **summarise(ended.events, ended.zone, self.pours, self.names)}
            for ended in self.ended if ended.events[-1].seq > after_seq
        ]  # fmt: skip

    def as_of(self, through: int, head: str, closed: bool) -> WeekRead:
        """Promise the week as it was read when the line of that seq and hash was the last one in it."""
        if (through, closed) == (self.through, self.closed):
            return self
        ended = [one for one in self.ended if one.events[-1].seq <= through]
        others = [event for event in self.others if event.seq <= through]
        return WeekRead(self.week, closed, through, head, ended, others, self.pours, self.names)


def checked_week(text: str) -> str:
    """Promise a week as ISO 8601 writes it, like 2026-W48; CommandFault for anything else."""
    week_begins(text)
    return text


def read_week(journal: Segments, week: str, after_seq: int = 0) -> WeekRead:
    """Promise what the journal holds of a week; cycles that ended up to `after_seq` may lack their earlier events.

    Raises CommandFault for a malformed week, UnknownWeek, RecordDamaged or RecordTooNew.
    """
    checked_week(week)
    weeks = journal.segments()
    if week not in weeks:
        known = f"from {weeks[0]} to {weeks[-1]}" if weeks else "none yet"
        raise UnknownWeek(f"nothing is recorded in {week}; weeks with a record: {known}")
    read = WeekRead(week, closed=week != weeks[-1])
    sorting = Sorting(read, {})
    for line in _lines(journal, week, read.closed):
        sorting.take(from_envelope(line), line["hash"])
    _fetch_earlier(journal, read, weeks[: weeks.index(week)], sorting.first_seq, after_seq)
    return read


class Sorting:
    """Sorts the lines of one week, given in order, into a `WeekRead`.

    `pending` holds the events of cycles under way, by cycle: empty to begin with, or as the week before left it.
    """

    def __init__(self, read: WeekRead, pending: dict[str, list[Event]]) -> None:
        self.read = read
        self.pending = pending
        self.first_seq = 0
        # Which cycles are under way, as the record's own state says: what names another one amends it.
        self._open: set[str] = set()
        self._zone = Settings().zone

    def take(self, event: Event, digest: str) -> None:
        """Promise that the event of a line (checkpoints included), and the line's hash, are counted in."""
        read = self.read
        read.through, read.head = event.seq, digest
        if event.kind == CHECKPOINT:
            if not self.first_seq:
                self.first_seq = event.seq
                unit: Unit = from_plain(Unit, event.data)
                self._zone = unit.settings.zone
                self._open = {cycle.id for cycle in unit.cycles.values()}
                everybody = (*unit.retired.values(), *unit.people.values())
                read.names.update((person.id, person.name) for person in everybody)
            return
        if event.kind == "boot":
            return
        if event.kind == "set-unit":
            self._zone = event.data["settings"]["zone"]
        elif event.kind == "add-person":
            read.names[event.subject] = event.data["name"]
        cycle = cycle_of(event)
        if event.kind in BEGINNINGS:
            self._open.add(cycle)
        if cycle not in self._open:
            read.others.append(event)
            if event.kind == "pour-bath":
                read.pours[event.id] = event
            return
        self.pending.setdefault(cycle, []).append(event)
        if event.data.get("ends"):
            self._open.remove(cycle)
            read.ended.append(Ended(self.pending.pop(cycle), self._zone))


def cycle_of(event: Event) -> str:
    """Promise the id of the cycle that an event belongs to or amends; "" for none."""
    return event.id if event.kind in BEGINNINGS else event.refs.get("cycle", "")


def _lines(journal: Segments, week: str, closed: bool) -> Iterator[dict[str, Any]]:
    # The running segment may grow meanwhile, so it ends at the head; a closed one is read, and checked, to its end.
    head = journal.head[0]
    for line in journal.iter_segment(week):
        yield line
        if not closed and line["seq"] >= head:
            return


def _fetch_earlier(journal: Segments, read: WeekRead, earlier: list[str], first_seq: int, after_seq: int) -> None:
    """Adds the events before this segment: of cycles that began in earlier ones, and the pourings of their baths."""
    cut = {cycle_of(e.events[0]): e for e in read.ended if e.events[0].kind not in BEGINNINGS}
    cut = {cycle: e for cycle, e in cut.items() if e.events[-1].seq > after_seq}
    before: dict[str, list[Event]] = {cycle: [] for cycle in cut}
    baths = _named_baths([e for e in read.ended if e.events[-1].seq > after_seq]) - read.pours.keys()
    upper = first_seq
    for week in reversed(earlier):
        if not cut and not baths:
            break
        first = next(journal.iter_segment(week))["seq"]
        found: dict[str, list[Event]] = {}
        if cut or any(first <= seq_of(uid) < upper for uid in baths):
            found = _scan(journal, week, set(cut), baths, read)
        upper = first
        for cycle, events in found.items():
            before[cycle][:0] = events
        # A cycle met for the first time here may name baths that were poured still earlier.
        baths = (baths | {e.refs["bath"] for events in found.values() for e in events if e.refs.get("bath")}) - (
            read.pours.keys()
        )
        _join(cut, before)
    if cut or baths:
        _take_carried(journal, read, cut, before)
        _join(cut, before)
    if cut:
        raise RecordDamaged(
            f"cycle {', '.join(sorted(cut))} ended in {segment_path(read.week)} but its receipt is in no earlier "
            "segment; bring the earlier weeks back from a copy"
        )


def _join(cut: dict[str, Ended], before: dict[str, list[Event]]) -> None:
    """Puts what was found before the events of those cycles whose receipt is among it, and takes them off the list."""
    for cycle in [c for c in cut if before[c] and before[c][0].kind in BEGINNINGS]:
        cut.pop(cycle).events[:0] = before[cycle]


def _take_carried(journal: Segments, read: WeekRead, cut: dict[str, Ended], before: dict[str, list[Event]]) -> None:
    """Looks among the lines that purged weeks left behind."""
    found: dict[str, list[Event]] = {}
    for line, _ in journal.carried():
        event = from_envelope(line)
        if event.kind == "pour-bath":
            read.pours[event.id] = event
        elif (cycle := cycle_of(event)) in cut:
            found.setdefault(cycle, []).append(event)
    for cycle, events in found.items():
        before[cycle][:0] = events


def _scan(journal: Segments, week: str, cycles: set[str], baths: set[str], read: WeekRead) -> dict[str, list[Event]]:
    found: dict[str, list[Event]] = {}
    for line in journal.iter_segment(week):
        if line["kind"] == CHECKPOINT:
            continue
        event = from_envelope(line)
        if event.kind == "pour-bath" and (event.id in baths or cycles):
            read.pours[event.id] = event
        elif (cycle := cycle_of(event)) in cycles:
            found.setdefault(cycle, []).append(event)
    return found


def _named_baths(ended: list[Ended]) -> set[str]:
    foreign = {p["device"] for one in ended for e in one.events if e.kind == "take-over" for p in e.data["pours"]}
    named = {e.refs["bath"] for one in ended for e in one.events if e.refs.get("bath")}
    return {uid for uid in named if device_of(uid) not in foreign}  # those came with the cycle
