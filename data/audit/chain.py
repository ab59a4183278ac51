"""The chain of a record: every line's own hash, its place after the one before, and the end that the witness saw.

The quick half of an audit. No JSON is read but that of a line whose seq has to be named.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from data.audit.difference import Difference
from data.audit.snapshot import Snapshot
from data.disk import Disk
from data.line import NO_LINE_BEFORE, TAIL_LENGTH, follow_chain
from data.segments import segment_path
from data.stubs import Stub, stub_path
from data.witness import Sight


@dataclass
class Segment:
    """One segment as read: its bytes, how many of them and how many lines hold together, and what differs."""

    week: str
    data: bytes
    lines: int
    size: int
    differences: list[Difference]


class ChainAudit:
    """Follows the segments of a snapshot one after the other; holds no more than where the last one ended."""

    def __init__(self, disk: Disk, snapshot: Snapshot, purged: Stub | None = None) -> None:
        """`purged` is the newest purged week, after which the record is to go on."""
        self._disk = disk
        self._snapshot = snapshot
        self._last = next(reversed(snapshot.sizes), "")
        self._prev: str | None = purged.head if purged else NO_LINE_BEFORE
        self._purged_through = purged.week if purged else ""
        self._before = stub_path(purged.week) if purged else ""
        # The seq that the next line must carry; None where that can't be known.
        self._seq: int | None = purged.last_seq + 1 if purged else 1

    def segment(self, week: str) -> Segment:
        """Promise a week's segment, read up to the snapshot, with the first line in it that does not fit."""
        path = segment_path(week)
        data = self._disk.read(path)[: self._snapshot.sizes[week]]
        first_seq = self._seq
        chain = follow_chain(data, self._prev)
        found = []
        if chain.fault is not None and chain.lines == 0 and self._prev is not None:
            alone = follow_chain(data, None)
            if alone.lines:  # whole in itself: something before it is not there
                found.append(Difference(path, self._gap(chain.fault), 1, 0, _seq_of(data, 0)))
                chain, first_seq = alone, None
        if chain.fault is not None:
            found.append(self._fault(data, week, chain.lines, chain.size, chain.fault, first_seq))
        found += self._against_witness(data, week, chain.lines, chain.size)
        whole = chain.fault is None
        self._prev = chain.hash if whole else None
        last = _seq_of(data, data.rfind(b"\n", 0, max(0, chain.size - 1)) + 1) if whole else None
        self._seq = None if last is None else last + 1
        self._before = path
        return Segment(week, data, chain.lines, chain.size, found)

    def missing(self) -> list[Difference]:
        """Promise what the witness saw of a segment that is not there at all."""
        sight = self._snapshot.sight
        if sight is None or sight.segment in self._snapshot.sizes or sight.segment <= self._purged_through:
            return []
        what = f"the segment is not there; it held the last line that the witness saw, seq {sight.seq}"
        return [Difference(segment_path(sight.segment), what)]

    def _gap(self, fault: str) -> str:
        if not self._before:
            return f"the record begins here, and what came before is not there ({fault})"
        return f"it does not follow the last line of {self._before} ({fault}); what lay between is not there"

    def _fault(self, data: bytes, week: str, lines: int, start: int, fault: str, first_seq: int | None) -> Difference:
        before = data.rfind(b"\n", 0, max(0, start - 1)) + 1
        seq = first_seq if lines == 0 else _next(_seq_of(data, before))
        if week == self._last and b"\n" not in data[start:] and not _seen(self._snapshot.sight, week, start):
            fault = (
                f"a torn write of {len(data) - start} bytes without a line end, beyond the last line that the witness "
                "saw; Basinbell sets it aside when it opens the record"
            )
        return Difference(segment_path(week), fault, lines + 1, start, seq)

    def _against_witness(self, data: bytes, week: str, lines: int, size: int) -> list[Difference]:
        sight, path = self._snapshot.sight, segment_path(week)
        if sight is None or week < sight.segment:
            return []
        after = f"the last line that the witness saw (seq {sight.seq})"
        beyond = (
            f"it comes after {after}: the app ended before it could note it, or it was added since; Basinbell takes it "
            "in when it opens the record"
        )
        if week > sight.segment:
            return [Difference(path, beyond, 1, 0, _seq_of(data, 0))] if lines else []
        if len(data) < sight.size:
            if size < len(data):
                return []  # the fault is named already, and the end can't be told
            what = f"the record ends here; {after} ended at byte {sight.size}"
            return [Difference(path, what, lines + 1, size, _next(self._seq_at_end(data, size)))]
        if size < sight.size:
            return []
        start = data.rfind(b"\n", 0, sight.size - 1) + 1
        number = data.count(b"\n", 0, start) + 1
        if not data.endswith(f',"hash":"{sight.hash}"}}\n'.encode(), 0, sight.size):
            what = f"it is not {after}, which had the hash {sight.hash}"
            return [Difference(path, what, number, start, _seq_of(data, start))]
        if _seq_of(data, start) != sight.seq:
            return [Difference(path, f"its seq is not that of {after}", number, start, _seq_of(data, start))]
        if size > sight.size:
            return [Difference(path, beyond, number + 1, sight.size, _seq_of(data, sight.size))]
        return []

    @staticmethod
    def _seq_at_end(data: bytes, size: int) -> int | None:
        return _seq_of(data, data.rfind(b"\n", 0, max(0, size - 1)) + 1)


def _seen(sight: Sight | None, week: str, start: int) -> bool:
    """Whether the witness saw bytes of the segment at or after `start`, so that they can't be a torn write."""
    return sight is not None and (week < sight.segment or (week == sight.segment and start < sight.size))


def _seq_of(data: bytes, start: int) -> int | None:
    end = data.find(b"\n", start)
    if end - start < TAIL_LENGTH:
        return None
    try:
        seq = json.loads(data[start:end])["seq"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return seq if type(seq) is int else None


def _next(seq: int | None) -> int | None:
    return None if seq is None else seq + 1
