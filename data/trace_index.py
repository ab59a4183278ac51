"""The look-back index: which cycles and events touched a scope, bath, lot, person or case, and where they stand.

It lies in `index.sqlite` in the home folder, holds places in the journal and no facts, and follows the journal by
itself: from its own last line on where that line is still there, from the first line where it is not (another record,
an older copy, weeks purged since), and anew where the file is missing or damaged. Nothing here takes the home's lock:
the journal only grows, and is read up to its last whole line. Segments are listed only where their folder has changed
since (`data.unchanged`), so that a question costs the same after one year and after ten.

Rows (`data.trace_store`):
    c␟seq               a cycle, by the seq of its receipt: {"id", "at": {week: [byte offsets]}}
    k␟kind␟key           the newest week in which a key was touched: {"week", "before", "cycles", "lines"}
    k␟kind␟key␟week      an earlier such week; `before` leads from each to the one before it
    n␟width␟number       notes of the keys that there are, in levels
    b␟uid                what a bath holds: {"label", "lots", "poured"}; `poured` where its pouring was read
`cycles` are seqs of receipts, `lines` byte offsets of events that belong to no cycle.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from data.disk import Disk
from data.segments import CHECKPOINT, FOLDER, damaged, segment_path, segment_weeks
from data.stubs import carried_lines, gone_weeks
from data.trace_batch import Batch
from data.trace_lines import Reading
from data.trace_store import IndexDamaged, Store, discard, row_key
from data.unchanged import stamp
from protocols.errors import DeviceError, RecordDamaged
from protocols.event import SCHEMA

FILE = "index.sqlite"
KINDS = ("scope", "bath", "lot", "person", "case")
# Segments between two commits while a long record is read for the first time.
_COMMIT_EVERY = 16


# Called with how many segments of how many have been read; False ends the reading.
Progress = Callable[[int, int], bool]


class LookBackStopped(DeviceError):
    """Reading for a look-back was stopped by whoever asked; the next one goes on from there."""


def going_on(at: int, of: int) -> bool:
    """Promise to read to the end."""
    return True


def open_index(disk: Disk, home: Path | None, progress: Progress = going_on) -> Index:
    """Promise an index that knows every whole line of the journal.

    Where there is no home folder, or it can't be written to, the index is made in memory. Raises RecordDamaged or
    RecordTooNew when the journal does not fit, DiskError when it can't be read, LookBackStopped once `progress` says
    False.
    """
    try:
        index = Index(disk, Store(home / FILE if home is not None else None))
        if index.follow(progress):
            return index
        index.close()
    except IndexDamaged:
        pass
    return rebuilt(disk, home, progress)


def rebuilt(disk: Disk, home: Path | None, progress: Progress = going_on) -> Index:
    """Promise an index made anew from the first line of the journal; raises as `open_index`."""
    for path in (home / FILE, None) if home is not None else (None,):
        try:
            if path is not None:
                discard(path)
            index = Index(disk, Store(path))
            index.follow(progress)
            return index
        except (IndexDamaged, OSError):
            if path is None:
                raise
    raise IndexDamaged("the look-back index can't be made")


class Index:
    """One open index over the journal on `disk`."""

    def __init__(self, disk: Disk, store: Store) -> None:
        self._disk = disk
        self.store = store

    def close(self) -> None:
        """Promise that the file is not held open."""
        self.store.close()

    def follow(self, progress: Progress = going_on) -> bool:
        """Promise that every whole line of the journal is known; False where the journal is not the one known."""
        store = self.store
        folder, known = stamp(self._disk, FOLDER), store.meta.get("week", "")
        weeks, gone = self._there(folder)
        if known and (known not in weeks or gone != store.meta.get("gone", "")):
            return False
        if known and weeks[-1] == known and not self._grown(known):
            return True
        store.begin()
        if store.meta.get("week", "") != known:  # another look-back went on with it meanwhile
            known = store.meta.get("week", "")
            weeks, gone = self._there(folder)
        if not known:
            store.meta["gone"] = gone
            self._take_carried()
        prev, seq = None, None
        ahead = [week for week in weeks if week >= known]
        for count, week in enumerate(ahead):
            if not progress(count, len(ahead)):
                if count:
                    store.commit()
                self.close()
                raise LookBackStopped("the look-back was stopped; ask again to go on")
            batch = Batch(store, week)
            try:
                prev, seq = self._read(week, batch, prev, seq, week == weeks[-1])
            except RecordDamaged:
                if week != known:
                    raise
                return False
            if week == known and (seq or 0) <= store.meta["seq"]:
                return False  # the journal ends before the line that was known
            batch.flush()
            if count % _COMMIT_EVERY == _COMMIT_EVERY - 1:
                store.commit()
                store.begin()
        store.meta["folder"] = folder
        store.commit()
        return True

    def _there(self, folder: str) -> tuple[list[str], str]:
        """The segments that may hold something new, oldest first, and the newest purged week."""
        meta = self.store.meta
        if folder and folder == meta.get("folder"):
            return [meta["week"]], meta["gone"]  # no segment has come or gone: only the newest one can have grown
        return segment_weeks(self._disk), (gone_weeks(self._disk) or [""])[-1]

    def _take_carried(self) -> None:
        """Take the lines that purged weeks left behind; they stand in a file of the newest of those weeks."""
        carried, start = carried_lines(self._disk), 0
        if carried:
            week = gone_weeks(self._disk)[-1]
            batch = Batch(self.store, week)
            for line, raw in carried:
                if line["kind"] != CHECKPOINT:
                    batch.take(start, line)
                start += len(raw)
                self.store.meta.update(week=week, seq=line["seq"], hash=line["hash"], end=start)
            batch.flush()

    def _read(
        self, week: str, batch: Batch, prev: str | None, seq: int | None, newest: bool
    ) -> tuple[str | None, int | None]:
        """Take the new lines of a segment; gives the last line's hash and the seq after it.

        Raises RecordDamaged also where the line that was the last one known has another hash.
        """
        meta = self.store.meta
        known_seq = meta.get("seq", 0)
        size = self._disk.size(segment_path(week))
        # Reading starts at a checkpoint, the last one before the end that is known.
        offset = meta["checkpoint"] if meta.get("week") == week else 0
        if offset and size <= offset:
            return prev, seq
        reading = Reading(self._disk, week, SCHEMA, offset, prev, seq)
        reading.feed(batch, known_seq, meta.get("hash", ""))
        if not newest and reading.end < size:
            raise damaged(week, reading.end, "it has no line end though the record goes on after it")
        if not reading.seq:
            return prev, seq
        if reading.seq > known_seq:
            meta.update(week=week, seq=reading.seq, hash=reading.hash, end=reading.end)
        return reading.hash, reading.seq + 1

    def _grown(self, week: str) -> bool:
        """Whether the segment's end differs from the one known, or its last line from the one known."""
        end = self._disk.size(segment_path(week))
        known: int = self.store.meta["end"]
        if end != known:
            return True
        tail = self._disk.read_from(segment_path(week), max(0, end - 80))
        return not tail.endswith(f'"hash":"{self.store.meta["hash"]}"}}\n'.encode())

    def find(self, kind: str, key: str, from_week: str = "") -> tuple[list[int], list[tuple[str, int]]]:
        """Promise what touched a key in that week or later: the seqs of cycles, and the places of other events.

        Raises IndexDamaged when the index can't vouch for its answer.
        """
        cycles: set[int] = set()
        places: list[tuple[str, int]] = []
        row = self.store.get(row_key("k", kind, key))
        if row is None and not self.store.lacks(row_key("k", kind, key)):
            raise IndexDamaged("the look-back index has lost rows")
        while row is not None and row["week"] >= from_week:
            cycles.update(row["cycles"])
            places += [(row["week"], offset) for offset in row["lines"]]
            before = row["before"]
            row = self.store.get(row_key("k", kind, key, before)) if before else None
            if before and row is None:
                raise IndexDamaged(f"the look-back index has lost the week {before} of {kind} {key!r}")
        return sorted(cycles), sorted(places)

    def cycle(self, cycle_seq: int) -> tuple[str, list[tuple[str, int]]]:
        """Promise a cycle's id and where its events stand: week and byte offset, in order. Raises IndexDamaged."""
        row = self.store.get(row_key("c", cycle_seq))
        if row is None:
            raise IndexDamaged(f"the look-back index has lost the cycle of line {cycle_seq}")
        return row["id"], [(week, offset) for week in sorted(row["at"]) for offset in row["at"][week]]
