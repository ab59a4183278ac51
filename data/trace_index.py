"""The look-back index: which cycles and events touched a scope, bath, lot, person or case, and where they stand.

It lies in `index.sqlite` in the home folder, holds places in the journal and no facts, and follows the journal by
itself: from its own last line on where that line is still there, from the first line where it is not (another record,
an older copy, weeks purged since), and anew where the file is missing or damaged. Nothing here takes the home's lock:
the journal only grows, and is read up to its last whole line.

Rows (`data.trace_store`):
    c␟seq               a cycle, by the seq of its receipt: {"id", "at": {week: [byte offsets]}}
    k␟kind␟key           the newest week in which a key was touched: {"week", "before", "cycles", "lines"}
    k␟kind␟key␟week      an earlier such week; `before` leads from each to the one before it
    b␟uid                what a bath holds: {"label", "lots"}
`cycles` are seqs of receipts, `lines` byte offsets of events that belong to no cycle.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from data.disk import Disk
from data.segments import CHECKPOINT, Placed, damaged, read_placed, segment_path, segment_weeks
from data.stubs import carried_lines, gone_weeks
from data.trace_store import IndexDamaged, Store, discard
from protocols.errors import RecordDamaged

FILE = "index.sqlite"
KINDS = ("scope", "bath", "lot", "person", "case")
_OF_STRIPS = ("register-strips", "strip-control", "close-strips")
_UNIT_SEPARATOR = "\x1f"
# Segments between two commits while a long record is read for the first time.
_COMMIT_EVERY = 16
KNOWN_V = 1


def _key(*parts: object) -> str:
    return _UNIT_SEPARATOR.join(map(str, parts))


def open_index(disk: Disk, home: Path) -> Index:
    """Promise an index that knows every whole line of the journal.

    Where the home can't be written to, the index is made in memory. Raises RecordDamaged or RecordTooNew when the
    journal does not fit, DiskError when it can't be read.
    """
    path = home / FILE
    try:
        index = Index(disk, Store(path))
        if index.follow():
            return index
        index.close()
    except IndexDamaged:
        pass
    return rebuilt(disk, home)


def rebuilt(disk: Disk, home: Path) -> Index:
    """Promise an index made anew from the first line of the journal; raises as `open_index`."""
    for path in (home / FILE, None):
        try:
            if path is not None:
                discard(path)
            index = Index(disk, Store(path))
            index.follow()
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

    def follow(self) -> bool:
        """Promise that every whole line of the journal is known; False where the journal is not the one known."""
        store = self.store
        weeks = segment_weeks(self._disk)
        known = store.meta.get("week", "")
        later = [week for week in weeks if week > known]
        gone = (gone_weeks(self._disk) or [""])[-1]
        if known and (known not in weeks or gone != store.meta.get("gone", "")):
            return False
        if known and not later and not self._grown(known):
            return True
        store.begin()
        known = store.meta.get("week", "")
        if not known:
            store.meta["gone"] = gone
            self._take_carried()
        last: tuple[str | None, int | None] = (None, None)
        for count, week in enumerate(w for w in weeks if w >= known):
            batch = _Batch(store, week)
            try:
                last = self._read(week, batch, last, week == weeks[-1])
            except RecordDamaged:
                if week != known:
                    raise
                return False
            if week == known and (last[1] or 0) <= store.meta["seq"]:
                return False  # the journal ends before the line that was known
            batch.flush()
            if count % _COMMIT_EVERY == _COMMIT_EVERY - 1:
                store.commit()
                store.begin()
        store.commit()
        return True

    def _take_carried(self) -> None:
        """Take the lines that purged weeks left behind; they stand in a file of the newest of those weeks."""
        carried, start = carried_lines(self._disk), 0
        if carried:
            batch = _Batch(self.store, gone_weeks(self._disk)[-1])
            for line, raw in carried:
                batch.take(Placed(line, start, start + len(raw)))
                start += len(raw)
            batch.flush()

    def _read(
        self, week: str, batch: _Batch, last: tuple[str | None, int | None], newest: bool
    ) -> tuple[str | None, int | None]:
        """Take the new lines of a segment; gives the last line's hash and the seq after it.

        Raises RecordDamaged also where the line that was the last one known has another hash.
        """
        prev, seq = last
        meta = dict(self.store.meta)
        for placed in self._lines(week, prev, seq, newest):
            line = placed.envelope
            prev, seq = line["hash"], line["seq"] + 1
            if line["seq"] > meta.get("seq", 0):
                batch.take(placed)
            elif line["seq"] == meta["seq"] and line["hash"] != meta["hash"]:
                raise damaged(week, placed.start, "it is not the line that the look-back index knows there")
        return prev, seq

    def _grown(self, week: str) -> bool:
        """Whether the segment's end differs from the one known, or its last line from the one known."""
        end = self._disk.size(segment_path(week))
        known: int = self.store.meta["end"]
        if end != known:
            return True
        tail = self._disk.read_from(segment_path(week), max(0, end - 80))
        return not tail.endswith(f'"hash":"{self.store.meta["hash"]}"}}\n'.encode())

    def _lines(self, week: str, prev: str | None, seq: int | None, last: bool) -> Iterator[Placed]:
        known = self.store.meta.get("week") == week
        # Reading starts at a checkpoint, the last one before the end that is known.
        end = offset = self.store.meta["checkpoint"] if known else 0
        if known and self._disk.size(segment_path(week)) <= offset:
            return
        for placed in read_placed(self._disk, week, KNOWN_V, offset, prev, seq):
            end = placed.end
            yield placed
        if not last and end < self._disk.size(segment_path(week)):
            raise damaged(week, end, "it has no line end though the record goes on after it")

    def find(self, kind: str, key: str, from_week: str = "") -> tuple[list[int], list[tuple[str, int]]]:
        """Promise what touched a key in that week or later: the seqs of cycles, and the places of other events.

        Raises IndexDamaged when the index can't vouch for its answer.
        """
        cycles: set[int] = set()
        places: list[tuple[str, int]] = []
        row = self.store.get(_key("k", kind, key))
        if row is None and not self.store.sound():
            raise IndexDamaged("the look-back index has lost rows")
        while row is not None and row["week"] >= from_week:
            cycles.update(row["cycles"])
            places += [(row["week"], offset) for offset in row["lines"]]
            before = row["before"]
            row = self.store.get(_key("k", kind, key, before)) if before else None
            if before and row is None:
                raise IndexDamaged(f"the look-back index has lost the week {before} of {kind} {key!r}")
        return sorted(cycles), sorted(places)

    def cycle(self, cycle_seq: int) -> tuple[str, list[tuple[str, int]]]:
        """Promise a cycle's id and where its events stand: week and byte offset, in order. Raises IndexDamaged."""
        row = self.store.get(_key("c", cycle_seq))
        if row is None:
            raise IndexDamaged(f"the look-back index has lost the cycle of line {cycle_seq}")
        return row["id"], [(week, offset) for week in sorted(row["at"]) for offset in row["at"][week]]


class _Batch:
    """The lines of one segment on their way into the rows."""

    def __init__(self, store: Store, week: str) -> None:
        self._store = store
        self._week = week
        self._cycles: dict[int, list[int]] = {}
        self._ids: dict[int, str] = {}
        self._touched: dict[tuple[str, str], tuple[set[int], list[int]]] = {}
        self._baths: dict[str, dict[str, Any]] = {}
        self._changed: set[str] = set()

    def take(self, placed: Placed) -> None:
        """Count one new line in."""
        line = placed.envelope
        meta = self._store.meta
        meta.update(week=self._week, seq=line["seq"], hash=line["hash"], end=placed.end)
        if line["kind"] == CHECKPOINT:
            meta["checkpoint"] = placed.start
            return
        cycle = self._cycle(line)
        # A failing strip is part of the story of every cycle that it holds.
        held = {self._named(one["cycle"]): one["scope"] for one in line["data"].get("holds", ())}
        for one in {cycle, *held} - {0}:
            self._cycles.setdefault(one, []).append(placed.start)
        for one, scope in held.items():
            self._touched.setdefault(("scope", scope), (set(), []))[0].add(one)
        for kind, key in set(self._keys(line)):
            cycles, lines = self._touched.setdefault((kind, key), (set(), []))
            if cycle:
                cycles.add(cycle)
            else:
                lines.append(placed.start)

    def _cycle(self, line: dict[str, Any]) -> int:
        name = line["refs"].get("cycle", "")
        if line["kind"] == "receive":
            name = f"{line['device']}-{line['seq']:06d}"
        return self._named(name) if name else 0

    def _named(self, cycle: str) -> int:
        seq = int(cycle.rsplit("-", 1)[1])
        self._ids[seq] = cycle
        return seq

    def _keys(self, line: dict[str, Any]) -> Iterator[tuple[str, str]]:
        refs, data = line["refs"], line["data"]
        if line["by"] and line["kind"] != "boot":
            yield "person", line["by"]
        if line["kind"] == "add-person":
            yield "person", line["subject"]
        for kind in ("scope", "case"):
            if refs.get(kind):
                yield kind, refs[kind]
        lots = [refs.get("lot"), data.get("bath_lot"), data.get("strip_lot"), data.get("strips")]
        if line["kind"] in _OF_STRIPS:
            lots.append(line["subject"])
        yield from (("lot", lot) for lot in lots if lot and isinstance(lot, str))
        uid = refs.get("bath", "")
        if line["kind"] == "pour-bath":
            uid = f"{line['device']}-{line['seq']:06d}"
        if uid:
            bath = self._bath(uid, line)
            yield "bath", uid
            yield from (("lot", lot) for lot in bath["lots"])
            if bath["label"]:
                yield "bath", bath["label"]

    def _bath(self, uid: str, line: dict[str, Any]) -> dict[str, Any]:
        bath = self._baths.get(uid)
        if bath is None:
            bath = self._baths[uid] = self._store.get(_key("b", uid)) or {"label": "", "lots": []}
        lot = line["refs"].get("lot")
        poured = line["kind"] in ("pour-bath", "top-up")
        label = line["subject"] if poured else line["data"].get("bath") or bath["label"]
        if isinstance(label, str) and label != bath["label"]:
            bath["label"] = label
            self._changed.add(uid)
        if poured and lot and lot not in bath["lots"]:
            bath["lots"].append(lot)
            self._changed.add(uid)
        return bath

    def flush(self) -> None:
        """Promise that all that was taken is in the rows."""
        store, week = self._store, self._week
        for seq, offsets in self._cycles.items():
            key = _key("c", seq)
            row = store.get(key)
            fresh = row is None
            row = row or {"id": self._ids[seq], "at": {}}
            row["at"].setdefault(week, []).extend(offsets)
            store.put(key, row, fresh)
        for (kind, name), (cycles, lines) in self._touched.items():
            self._touch(_key("k", kind, name), cycles, lines)
        for uid in self._changed:
            key = _key("b", uid)
            store.put(key, self._baths[uid], store.get(key) is None)

    def _touch(self, key: str, cycles: set[int], lines: list[int]) -> None:
        store, week = self._store, self._week
        row = store.get(key)
        if row is not None and row["week"] == week:
            known = sorted(cycles.union(row["cycles"]))
            store.put(key, {**row, "cycles": known, "lines": row["lines"] + lines}, False)
            return
        if row is not None:
            store.put(_key(key, row["week"]), row, True)
        before = row["week"] if row is not None else ""
        store.put(key, {"week": week, "before": before, "cycles": sorted(cycles), "lines": lines}, row is None)
