"""The truth: an append-only, hashed and chained record of every accepted command, one line each.

An event lies in the segment of the ISO week in which it was appended; the week never goes back. The first line of a
segment, and then one line in `CHECKPOINT_EVERY` events, is a checkpoint that holds the unit's whole state before it, so
opening reads the last checkpoint and the events after it, however long the record is.

Opening has three outcomes. All fits: the record goes on. An unterminated piece beyond the witnessed head: a write that
was cut off by a crash, never shown as done; it is moved to `set-aside/` and reported. Anything else: RecordDamaged (or
RecordTooNew), nothing is written, and `readable` gives what can be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from data.disk import Disk
from data.line import seal
from data.segments import CHECKPOINT, WEEK, Readable, read_whole, segment_path, segment_weeks
from data.stubs import carried_lines
from data.walk import EMPTY, Walk
from data.witness import Sight, Witness
from protocols.errors import BasinbellError, Defect, DiskError
from protocols.event import SCHEMA

# Bounds what opening has to read; a checkpoint then costs a few percent of the record's length.
CHECKPOINT_EVERY = 400
SET_ASIDE = "set-aside"


@dataclass(frozen=True)
class Opened:
    """What opening found: the last checkpoint line (None for an empty record) and the event lines after it.

    `sight` is the last line with the clocks as last seen (None for an empty record). `set_aside` names the files that
    hold a torn write. `witness_lost` says that no witness vouched for the end of the record.
    """

    checkpoint: dict[str, Any] | None
    events: list[dict[str, Any]]
    sight: Sight | None
    set_aside: list[str]
    witness_lost: bool


class Journal:
    """The journal of one home. Owned by one thread of one process; `open` comes first."""

    def __init__(self, disk: Disk, known_v: int = SCHEMA, checkpoint_every: int = CHECKPOINT_EVERY) -> None:
        """Promise a journal on `disk` that reads lines up to version `known_v`."""
        self._disk = disk
        self._known_v = known_v
        self._every = checkpoint_every
        self._witness = Witness(disk)
        self._head = EMPTY
        self._events_since_checkpoint = 0
        self._why_not: BasinbellError | None = Defect("the journal was not opened")
        # Why the last note beside the journal could not be written; None while all is well.
        self.witness_fault: str | None = None

    @property
    def disk(self) -> Disk:
        """Promise the disk of the home."""
        return self._disk

    @property
    def head(self) -> tuple[int, str]:
        """Promise seq and hash of the last line; (0, 64 zeros) for an empty record."""
        return self._head.seq, self._head.hash

    def open(self) -> Opened:
        """Promise the state to start from, after everything read was checked and a torn write was set aside.

        Raises RecordDamaged or RecordTooNew, having written nothing, or DiskError; then every append is refused.
        """
        try:
            witnessed = self._witness.read()
            walk = Walk(self._disk, self._known_v, witnessed)
            set_aside = [] if walk.torn is None else [_set_aside(self._disk, *walk.torn)]
            if walk.head is not EMPTY and (witnessed is None or walk.head.seq != witnessed.seq):
                # A line that was written but not yet synced when the app ended can be read, and could still be lost:
                # appending nothing syncs it before anything is built on it and before the witness names it.
                self._disk.append(segment_path(walk.head.segment), b"")
        except BasinbellError as error:
            self._why_not = error
            raise
        self._head, self._events_since_checkpoint, self._why_not = walk.head, len(walk.events), None
        if walk.head is not EMPTY and walk.head != witnessed:
            self._note(self._witness.slot(walk.head))
        sight = None if walk.head is EMPTY else walk.head
        return Opened(walk.checkpoint, walk.events, sight, set_aside, witnessed is None and sight is not None)

    def append(self, event: dict[str, Any], week: str, checkpoint: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """Promise that the event is durable; gives it with `seq`, `prev` and `hash`.

        `event` holds exactly `line.FIELDS`; `week` is the ISO week it is appended in (one earlier than the last
        event's counts as that). `checkpoint` is called only when a checkpoint line is due before the event, and gives
        the unit's state without the event. On DiskError nothing has changed, neither in memory nor in the file.
        """
        if self._why_not is not None:
            raise self._why_not
        if event["kind"] == CHECKPOINT:
            raise Defect("checkpoints are the journal's own lines; an event is of another kind")
        seq, prev, segment, size, at_segment, at_offset, _, _, _ = self._head
        if week > segment:
            if not WEEK.fullmatch(week):
                raise Defect(f"{week!r} is not an ISO week like 2026-W48")
            segment, size = week, 0
        lines, count = b"", self._events_since_checkpoint
        if size == 0 or count >= self._every:
            seq += 1
            # Nobody did this: it has no subject and no person, only the clocks of the event that follows.
            state = {**event, "kind": CHECKPOINT, "subject": "", "refs": {}, "by": "", "data": checkpoint()}
            lines, prev = seal({**state, "seq": seq, "prev": prev})
            at_segment, at_offset, count = segment, size, 0
        sealed = {**event, "seq": seq + 1, "prev": prev}
        line, digest = seal(sealed)
        lines += line
        head = Sight(
            seq + 1, digest, segment, size + len(lines), at_segment, at_offset,
            event["elapsed"], event["wall"], event["boot"],
        )  # fmt: skip
        slot = self._witness.slot(head)
        self._disk.append(segment_path(segment), lines)
        # The event is durable from here on, so nothing below may raise.
        self._head, self._events_since_checkpoint = head, count + 1
        self._note(slot)
        sealed["hash"] = digest
        return sealed

    def touch(self, elapsed: int, wall: str) -> None:
        """Promise that the witness holds this as the last sight of the clocks, in the boot of the last event.

        Needs no line of the journal and no sync; keeps the unproven gap after a crash short.
        """
        if self._why_not is None and self._head is not EMPTY:
            self._head = self._head._replace(elapsed=elapsed, wall=wall)
            self._note(self._witness.slot(self._head))

    def segments(self) -> list[str]:
        """Promise the weeks that have a segment, oldest first, like 2026-W48."""
        return segment_weeks(self._disk)

    def iter_segment(self, week: str) -> Iterator[dict[str, Any]]:
        """Promise the lines of one week, checkpoints included, each checked against the one before.

        Raises RecordDamaged or RecordTooNew when it comes to a line that does not fit.
        """
        return read_whole(self._disk, week, self._known_v, None, None)

    def carried(self) -> list[tuple[dict[str, Any], bytes]]:
        """Promise the lines of purged weeks that later weeks rest on, each with its bytes. Raises RecordDamaged."""
        return carried_lines(self._disk)

    def lines(self, from_seq: int = 1) -> Iterator[dict[str, Any]]:
        """Promise all lines still here from `from_seq` on, across segments, each checked against the one before.

        Raises RecordDamaged or RecordTooNew at the first line that does not fit.
        """
        weeks: list[str] = []
        for week in reversed(self.segments()):
            weeks.insert(0, week)
            first = next(self.iter_segment(week), None)
            if first is not None and first["seq"] <= from_seq:
                break
        prev: str | None = None
        seq: int | None = None
        for week in weeks:
            for line in read_whole(self._disk, week, self._known_v, prev, seq):
                prev, seq = line["hash"], line["seq"] + 1
                if line["seq"] >= from_seq:
                    yield line

    def readable(self) -> Readable:
        """Promise what can be read of the record, and the names of what can't, after a pass over all of it.

        Works whatever `open` said, also before it.
        """
        return Readable(self._disk, self._known_v, self._witness.read())

    def _note(self, slot: bytes) -> None:
        # A note that can't be written leaves the older one, which is allowed to lag; the event itself is durable.
        try:
            self._witness.write(slot)
            self.witness_fault = None
        except DiskError as error:
            self.witness_fault = str(error)


def _set_aside(disk: Disk, week: str, offset: int) -> str:
    """Moves a torn write out of the journal: first kept, then cut, so that it is never in neither place."""
    torn = disk.read_from(segment_path(week), offset)
    path, copies = f"{SET_ASIDE}/{week}-{offset}", 1
    while disk.exists(path) and disk.read(path) != torn:
        copies += 1
        path = f"{SET_ASIDE}/{week}-{offset}-{copies}"
    disk.replace(path, torn)
    disk.truncate(segment_path(week), offset)
    return path
