"""The journal's lines as the look-back index needs them: every hash checked, JSON read only where it must be.

Reading all of a line's JSON takes most of the time of a long record, and the index needs little of it. A line in the
form in which it was sealed (`data.line`) gives its members by their places; any other line is read in full.
"""

from __future__ import annotations

import json
import re
from typing import Any, Protocol

from data.disk import Disk
from data.line import TAIL_LENGTH, begin_hash, follow_chain
from data.segments import CHECKPOINT, check_shape, damaged, segment_path

# A line whose texts outside `data` hold no escapes and whose refs hold no braces. What stands in `data` can't be taken
# for the members after it: the last `kind` before a `prev` is the envelope's.
_LINE = re.compile(
    rb'\{"boot":"[^"\\\n]*","by":("[^"\\\n]*"),"data":\{.*,"kind":"([a-z-]+)","prev":"([0-9a-f]{64})",'
    rb'"refs":(\{[^{}\\\n]*\}),"seq":(\d+),"subject":"[^"\\\n]*","v":(\d+),"wall":"[^"\\\n]*","hash":"([0-9a-f]{64})"\}\n'
)
# What a cycle's own taps are keyed by stands in `by` and `refs`, and in what is known of a bath that refs name.
_TAPS = frozenset((
    b"look", b"pass", b"count", b"start", b"lift", b"check", b"read", b"run-end", b"skip", b"choose", b"interrupt",
    b"undo", b"note",
))  # fmt: skip
_CHECKPOINT = CHECKPOINT.encode()


class Taker(Protocol):
    """Takes lines in by their first byte: a checkpoint, a tap, a tap with a bath in its refs, and any other."""

    def take_checkpoint(self, start: int) -> None: ...

    def take_tap(self, start: int, by: bytes, refs: bytes) -> None: ...

    def take_in_bath(self, start: int, by: bytes, refs: bytes, text: bytes) -> None: ...

    def take(self, start: int, envelope: dict[str, Any]) -> None: ...


def opened(text: bytes, week: str, start: int) -> dict[str, Any]:
    """Promise the envelope of a line whose hash fits. Raises RecordDamaged."""
    try:
        envelope = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise damaged(week, start, f"its hash fits but it is not JSON ({error})") from error
    if not isinstance(envelope, dict):
        raise damaged(week, start, "its hash fits but it is not an object that ends with it")
    return envelope


class Reading:
    """One reading of a segment from `offset` on; `hash`, `seq` and `end` are of the last whole line given.

    `prev` and `seq` are what its first line must carry, None where that is known by other means.
    """

    def __init__(self, disk: Disk, week: str, known_v: int, offset: int, prev: str | None, seq: int | None) -> None:
        self._week, self._known_v, self._offset = week, known_v, offset
        data = disk.read_from(segment_path(week), offset)
        self._data = data[: data.rfind(b"\n") + 1]
        self._prev = None if prev is None else prev.encode()
        self._expected = seq
        self.end = offset + len(self._data)
        self.seq = 0

    @property
    def hash(self) -> str:
        """The hash of the last line given, that of the line before where none was; "" where neither is known."""
        return (self._prev or b"").decode()

    def feed(self, taker: Taker, known_seq: int, known_hash: str) -> None:
        """Promise that the taker has every whole line after the known one, each checked against the one before.

        Raises RecordDamaged or RecordTooNew at the first that does not fit, and where the line that is known has
        another hash.
        """
        data, offset, at = self._data, self._offset, 0
        for match in _LINE.finditer(data):
            start, end = match.span()
            while at < start:
                at = self._feed_other(taker, at, known_seq, known_hash)
            by, kind, prev, refs, number, version, digest = match.groups()
            state = begin_hash()
            state.update(data[start : end - TAIL_LENGTH])
            state.update(b"}")
            if state.hexdigest().encode() != digest or prev != (self._prev or prev) or int(version) > self._known_v:
                at = self._feed_other(taker, start, known_seq, known_hash)
                continue
            seq, at = int(number), end
            self._follows(start, seq, digest, kind == _CHECKPOINT, known_seq, known_hash)
            if seq <= known_seq:
                continue
            if kind == _CHECKPOINT:
                taker.take_checkpoint(offset + start)
            elif kind not in _TAPS:
                taker.take(offset + start, opened(data[start:end], self._week, offset + start))
            elif b'"bath":' in refs:
                taker.take_in_bath(offset + start, by, refs, data[start:end])
            else:
                taker.take_tap(offset + start, by, refs)
        while at < len(data):
            at = self._feed_other(taker, at, known_seq, known_hash)

    def _follows(self, start: int, seq: int, digest: bytes, checkpoint: bool, known_seq: int, known_hash: str) -> None:
        if seq != self._expected and self._expected is not None:
            raise damaged(
                self._week, self._offset + start, f"its seq is {seq}, the line before calls for {self._expected}"
            )
        if start == 0 and not checkpoint:
            raise damaged(self._week, self._offset, "a checkpoint belongs here")
        if seq == known_seq and digest.decode() != known_hash:
            raise damaged(self._week, self._offset + start, "it is not the line that the look-back index knows there")
        self._prev, self._expected, self.seq = digest, seq + 1, seq

    def _feed_other(self, taker: Taker, start: int, known_seq: int, known_hash: str) -> int:
        """Take a line of another form, or name what is wrong with it; gives where the next one starts."""
        end = self._data.find(b"\n", start) + 1
        text, at = self._data[start:end], self._offset + start
        chain = follow_chain(text, None if self._prev is None else self._prev.decode())
        if chain.fault is not None or chain.hash is None:
            raise damaged(self._week, at, chain.fault or "it is empty")
        envelope = opened(text, self._week, at)
        check_shape(envelope, self._week, at, self._known_v)
        seq, checkpoint = envelope.get("seq"), envelope["kind"] == CHECKPOINT
        if type(seq) is not int:
            raise damaged(self._week, at, f"its seq is {seq!r}")
        self._follows(start, seq, chain.hash.encode(), checkpoint, known_seq, known_hash)
        if seq > known_seq:
            if checkpoint:
                taker.take_checkpoint(at)
            else:
                taker.take(at, envelope)
        return end
