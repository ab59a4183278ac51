"""The look-back: every cycle and event that touched a scope, a bath, a lot, a person or a case.

Places come from the index (`data.trace_index`), facts from the journal's own lines, each checked against its hash as it
is read. Nothing is locked or changed but the index itself, so it works while the app runs. A bath is named by its label
or by the id of its pouring, a lot by what stands on the container or strip bottle; a lot's cycles are those that lay
in a bath with that lot in it, or whose strip came from it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, NamedTuple, TypeVar

from data.disk import Disk
from data.gather import BEGINNINGS
from data.line import open_line
from data.real_disk import RealDisk
from data.segments import damaged, segment_path
from data.stubs import Stub, carried_path, gone_weeks, read_stub
from data.trace_index import Index, Progress, going_on, open_index, rebuilt
from data.trace_store import IndexDamaged
from protocols.clock import parse_date
from protocols.errors import DiskError, RecordDamaged
from protocols.event import Event, from_envelope, seq_of
from protocols.wall import week_of

Answer = TypeVar("Answer")


class TracedCycle(NamedTuple):
    """One cycle with every event that belongs to it, amends it, or holds its scope, in order.

    `own` are the events of the cycle itself, amendments included. `week` is that of the segment in which it ended, ""
    while it goes on: the one that its ledger goes by, whatever the unit's zone is now.
    """

    id: str
    events: tuple[Event, ...]
    own: tuple[Event, ...]
    week: str = ""

    @property
    def scope(self) -> str:
        held = (one["scope"] for e in self.events for one in e.data.get("holds", ()) if one["cycle"] == self.id)
        # Of a purged cycle that a later strip holds, nothing but that is still here.
        return next((e.refs["scope"] for e in self.own if e.refs.get("scope")), "") or next(held, "")

    @property
    def case(self) -> str:
        return next((e.refs["case"] for e in self.own if e.refs.get("case")), "")

    @property
    def received(self) -> str:
        """Wall time of its receipt, or of its taking over from another handheld; "" where that was purged."""
        return next((e.wall for e in self.own if e.kind in BEGINNINGS), "")

    @property
    def ended(self) -> Event | None:
        """The event that ended it, None while it goes on."""
        return next((e for e in self.own if e.data.get("ends")), None)

    @property
    def outcome(self) -> str:
        """How it ended, as amended since: by a void, or by a lead's decision about the stored scope."""
        ended = self.ended
        word = "" if ended is None else str(ended.data["ends"])
        for event in self.own:
            if event.kind == "void" and not event.data.get("ends"):
                word = "voided"
            word = str(event.data.get("stored_outcome") or word)
        if not word and not any(e.kind in BEGINNINGS for e in self.own):
            return "purged"  # only what was added to it in later weeks is still here
        return word or "under way"

    @property
    def people(self) -> list[str]:
        return list(dict.fromkeys(e.by for e in self.own))

    @property
    def baths(self) -> list[str]:
        """Labels of the baths that it lay in, with the lots, in order."""
        lain = [e for e in self.own if e.refs.get("bath") and e.kind in ("look", "start")]
        return list(dict.fromkeys(f"{e.data['bath']} ({e.data['bath_lot']})" for e in lain))

    @property
    def strips(self) -> list[tuple[str, str]]:
        """What each strip read for it showed (pass, fail or void), and the label of its bottle, in order."""
        return [(e.data["result"], e.data["strip_lot"]) for e in self.own if e.kind == "strip-test"]

    @property
    def held(self) -> tuple[Event, ...]:
        """The failed strip that holds its scope, the last one of several, and what leads decided since."""
        found: tuple[Event, ...] = ()
        for event in self.events:
            if any(one["cycle"] == self.id for one in event.data.get("holds", ())):
                found = (event,)
            elif found and event.kind == "decide" and event.data.get("decision"):
                found += (event,)
        return found


class Trace(NamedTuple):
    """What a look-back found: cycles by their receipt, and other events, both in order.

    `purged` are the weeks asked about that are no longer here, with where their exports lie.
    """

    kind: str
    key: str
    cycles: tuple[TracedCycle, ...]
    others: tuple[Event, ...]
    purged: tuple[Stub, ...] = ()

    @property
    def events(self) -> list[Event]:
        """Every event once, in order."""
        found = {e.seq: e for c in self.cycles for e in c.events} | {e.seq: e for e in self.others}
        return [found[seq] for seq in sorted(found)]


def trace(home: Path, kind: str, key: str, since: date | None = None, progress: Progress = going_on) -> Trace:
    """Promise the look-back over the record in a home folder, as `look_back` does."""
    return look_back(RealDisk(home), kind, key, since, progress)


def look_back(disk: Disk, kind: str, key: str, since: date | None = None, progress: Progress = going_on) -> Trace:
    """Promise every cycle and event that touched a key, with `since` only cycles and events of that day and later.

    `kind` is one of `trace_index.KINDS`. A cycle counts as of its last event, by the date in the unit's zone. While the
    index is behind the record, `progress` is told how far it has come. Raises RecordDamaged, RecordTooNew or DiskError
    as reading the journal does, LookBackStopped once `progress` says False.
    """
    purged = tuple(s for s in (read_stub(disk, w).stub for w in gone_weeks(disk)) if s.week >= _week_of(since))
    return _asked(disk, progress, lambda index: _answer(index, disk, kind, key, since))._replace(purged=purged)


def cycle_events(disk: Disk, cycle: str, progress: Progress = going_on) -> tuple[Event, ...]:
    """Promise every event of one cycle, amendments of later weeks and strips that hold it included, in order.

    Raises as `look_back`, and IndexDamaged for a cycle that the record does not have.
    """

    def told(index: Index) -> tuple[Event, ...]:
        _, at = index.cycle(seq_of(cycle))
        with _Lines(disk) as lines:
            return tuple(lines.at(week, offset) for week, offset in at)

    return _asked(disk, progress, told)


def _asked(disk: Disk, progress: Progress, ask: Callable[[Index], Answer]) -> Answer:
    """What an index that is up to date answers, made anew where it can't vouch for that."""
    home = disk.root if isinstance(disk, RealDisk) else None
    index = open_index(disk, home, progress)
    try:
        return ask(index)
    except IndexDamaged:
        index.close()
        index = rebuilt(disk, home, progress)
        return ask(index)
    finally:
        index.close()


def _week_of(since: date | None) -> str:
    return "" if since is None else week_of(since)


def _answer(index: Index, disk: Disk, kind: str, key: str, since: date | None) -> Trace:
    from_week = _week_of(since)
    seqs, places = index.find(kind, key, from_week)
    cycles = []
    with _Lines(disk) as lines:
        for seq in seqs:
            name, at = index.cycle(seq)
            if at[-1][0] < from_week:
                continue
            events = tuple(lines.at(week, offset) for week, offset in at)
            if since is None or _day(events[-1]) >= since:
                own = tuple(e for e in events if e.refs.get("cycle") == name or e.seq == seq)
                cycle = TracedCycle(name, events, own)
                week = "" if cycle.ended is None else at[events.index(cycle.ended)][0]
                cycles.append(cycle._replace(week=week))
        others = [lines.at(week, offset) for week, offset in places]
    kept = tuple(e for e in others if since is None or _day(e) >= since)
    return Trace(kind, key, tuple(cycles), kept)


def _day(event: Event) -> date:
    return parse_date(event.wall[:10])


class _Lines:
    """Single lines of the journal, read at their places."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        self._files: dict[str, BinaryIO] = {}

    def __enter__(self) -> _Lines:
        return self

    def __exit__(self, *_: object) -> None:
        for file in self._files.values():
            file.close()

    def at(self, week: str, offset: int) -> Event:
        """Promise the event at a place. Raises RecordDamaged where no line stands, IndexDamaged without a file."""
        file = self._files.get(week) or self._open(week)
        try:
            file.seek(offset)
            line = file.readline()
        except OSError as error:
            raise IndexDamaged(f"{segment_path(week)} can't be read ({error.strerror})") from error
        try:
            return from_envelope(open_line(line, None, None))
        except RecordDamaged as error:
            raise damaged(week, offset, str(error)) from error

    def _open(self, week: str) -> BinaryIO:
        if len(self._files) >= 8:
            self._files.pop(next(iter(self._files))).close()
        path = segment_path(week) if self._disk.exists(segment_path(week)) else carried_path(week)
        try:
            file = self._file(path)
        except (OSError, DiskError) as error:
            raise IndexDamaged(f"{path} can't be read ({error})") from error
        self._files[week] = file
        return file

    def _file(self, path: str) -> BinaryIO:
        if isinstance(self._disk, RealDisk):
            return (self._disk.root / path).open("rb")
        return BytesIO(self._disk.read(path))
