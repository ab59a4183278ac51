"""Reading the journal's segments: one file a week, `journal/2026-W48.jsonl`, each starting with a checkpoint.

Nothing here writes. What does not fit is named with its file and byte, and left as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from data.disk import Disk
from data.line import FIELDS, first_line, follow_chain, open_line
from data.witness import Sight
from protocols.errors import RecordDamaged, RecordTooNew

FOLDER = "journal"
CHECKPOINT = "checkpoint"
WEEK = re.compile(r"[0-9]{4}-W[0-9]{2}")

_WHAT_NOW = "nothing has been changed; the record opens read-only: export what is readable and keep this handheld"


class Placed(NamedTuple):
    """One line read: its envelope, the byte it starts at, and the byte after it."""

    envelope: dict[str, Any]
    start: int
    end: int


def segment_path(week: str) -> str:
    """Promise the path of a week's segment."""
    return f"{FOLDER}/{week}.jsonl"


def segment_weeks(disk: Disk) -> list[str]:
    """Promise the weeks that have a segment, oldest first; a file of any other name is not a segment."""
    return weeks_in(disk, FOLDER, ".jsonl")


def weeks_in(disk: Disk, folder: str, ending: str) -> list[str]:
    """Promise the weeks that have a file in a folder, named by the week and that ending, oldest first."""
    weeks = [name.removesuffix(ending) for name in disk.names(folder) if name.endswith(ending)]
    return [week for week in weeks if WEEK.fullmatch(week)]


def damaged(week: str, start: int, what: str) -> RecordDamaged:
    """Promise the error that names a place in the record, what is wrong there, and what to do."""
    return RecordDamaged(f"{segment_path(week)}, line at byte {start}: {what}; {_WHAT_NOW}")


def read_placed(
    disk: Disk, week: str, known_v: int, offset: int = 0, prev: str | None = None, seq: int | None = None
) -> Iterator[Placed]:
    """Promise the whole lines of a segment from `offset` on, each checked against the one before.

    The first must be a checkpoint, and carry `prev` and `seq` where given. Stops before an unterminated tail, which
    starts at the last line's end. Raises RecordDamaged or RecordTooNew at the first line that does not fit.
    """
    data = disk.read_from(segment_path(week), offset)
    start = 0
    while (end := data.find(b"\n", start) + 1) > 0:
        try:
            envelope = open_line(data[start:end], prev, seq)
        except RecordDamaged as error:
            raise damaged(week, offset + start, str(error)) from error
        check_shape(envelope, week, offset + start, known_v)
        if start == 0 and envelope["kind"] != CHECKPOINT:
            raise damaged(week, offset, f"a checkpoint belongs here, not {envelope['kind']!r}")
        yield Placed(envelope, offset + start, offset + end)
        prev, seq, start = envelope["hash"], envelope["seq"] + 1, end


def read_whole(disk: Disk, week: str, known_v: int, prev: str | None, seq: int | None) -> Iterator[dict[str, Any]]:
    """Promise the lines of a segment as `read_placed` does; an unterminated tail is damage here."""
    end = 0
    for placed in read_placed(disk, week, known_v, 0, prev, seq):
        end = placed.end
        yield placed.envelope
    if end != disk.size(segment_path(week)):
        raise damaged(week, end, "it has no line end")


def check_shape(envelope: dict[str, Any], week: str, start: int, known_v: int) -> None:
    version = envelope.get("v")
    if type(version) is int and version > known_v:
        raise RecordTooNew(
            f"{segment_path(week)}, line at byte {start}, is of version {version}, this app knows up to {known_v}; "
            "the record opens read-only: install the newer app to go on"
        )
    missing = sorted(FIELDS - envelope.keys())
    if type(version) is not int or missing:
        raise damaged(week, start, f"it has version {version!r} and lacks {', '.join(missing) or 'nothing'}")


class Readable:
    """What can be read of a record, whole or not, and the names of what can't.

    Made from a quick pass over all hashes. In each segment the lines up to the first one that does not fit count as
    readable; the segments after it are read on their own.
    """

    def __init__(self, disk: Disk, known_v: int, sight: Sight | None) -> None:
        self._disk = disk
        self._known_v = known_v
        self._sizes: dict[str, int] = {}
        self.missing: list[str] = []
        head: str | None = None
        before = ""
        for week in segment_weeks(disk):
            data = disk.read(segment_path(week))
            chain = follow_chain(data, None)
            if chain.fault is not None:
                self.missing.append(f"{segment_path(week)} from byte {chain.size} to its end: {chain.fault}")
            if chain.lines and before and follow_chain(first_line(data), head).fault is not None:
                self.missing.append(f"what lay between {segment_path(before)} and {segment_path(week)}")
            if chain.lines:
                before, head = week, chain.hash
            self._sizes[week] = chain.size
        self._check_sight(sight)

    def lines(self) -> Iterator[dict[str, Any]]:
        """Promise every readable line, oldest first; what shows as unreadable only now is added to `missing`."""
        for week, size in self._sizes.items():
            try:
                for placed in read_placed(self._disk, week, self._known_v):
                    if placed.end > size:
                        break
                    yield placed.envelope
            except (RecordDamaged, RecordTooNew) as error:
                text = str(error)
                if not any(part.startswith(segment_path(week)) for part in self.missing):
                    self.missing.append(text)

    def _check_sight(self, sight: Sight | None) -> None:
        path = "" if sight is None else segment_path(sight.segment)
        if sight is None or any(part.startswith(path) for part in self.missing):
            return
        if self._sizes and self._disk.exists(f"purged/{sight.segment}.json"):
            return  # a witness that lags behind a purge (`data.stubs`)
        data = self._disk.read(path)[: sight.size] if self._disk.exists(path) else b""
        if len(data) < sight.size or not data.endswith(f'"hash":"{sight.hash}"}}\n'.encode()):
            self.missing.append(f"line {sight.seq}, which was the last one of {path}")
