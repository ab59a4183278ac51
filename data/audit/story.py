"""The record told again from its first line: what every line is, what the unit then was, which cycles had ended.

Goes along with the chain, one segment at a time, and keeps between two of them only the unit's state and the cycles
under way. Every checkpoint must be the state that the lines before it give; only the first one after purged weeks is
taken as it stands.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from data.audit.chain import Segment
from data.audit.difference import Difference, first_unlike
from data.gather import BEGINNINGS, Sorting, WeekRead, cycle_of
from data.line import FIELDS, NO_LINE_BEFORE
from data.segments import CHECKPOINT, segment_path
from data.stubs import Stub
from protocols.clock import Stamp, parse_wall
from protocols.errors import UNREADABLE, BasinbellError
from protocols.event import SCHEMA, Event, from_envelope
from protocols.fold import evolve, without_archived
from protocols.plain import from_plain, to_plain
from protocols.unit import Unit

_read_json = json.JSONDecoder().decode


class Walls:
    """Reads the wall times of a record, which come minute by minute, without reading each minute twice."""

    def __init__(self) -> None:
        self._minute = ""
        self._minute_ms = 0

    def ms(self, wall: str) -> int:
        """Promise ms since 1970 UTC of a wall time; CommandFault when it is none."""
        seconds, point, thousandths = wall[17:19], wall[19:20], wall[20:23]
        if len(wall) != 29 or point != "." or not (seconds + thousandths).isdecimal() or seconds > "59":
            return parse_wall(wall)
        minute = wall[:17] + wall[23:]
        if minute != self._minute:
            self._minute_ms = parse_wall(f"{wall[:17]}00.000{wall[23:]}")
            self._minute = minute
        return self._minute_ms + int(seconds) * 1000 + int(thousandths)


@dataclass
class Told:
    """One segment told: the week as gathered (None once the story broke off), line hashes by seq, the difference."""

    read: WeekRead | None
    hashes: dict[int, str] = field(default_factory=dict)
    difference: Difference | None = None
    _documents: tuple[int, list[dict[str, Any]]] = (-1, [])

    def documents(self, through: int) -> list[dict[str, Any]]:
        """Promise the documents of the cycles that had ended by that seq, made once for ledger and export."""
        if self.read is None:
            return []
        if self._documents[0] != through:
            self._documents = through, self.read.as_of(through, "", self.read.closed).documents()
        return self._documents[1]


class StoryAudit:
    """The unit's state and the cycles under way, line by line. After a difference nothing more is told."""

    def __init__(self, purged: Stub | None = None, carried: Sequence[Mapping[str, Any]] = ()) -> None:
        """After a purge the story begins at the checkpoint that follows, with the lines that were `carried` along."""
        self.unit = Unit()
        self.broken = False
        # Every protocol text that some cycle or adoption of the record rests on, with the line that names it first.
        self.texts: dict[str, Difference] = {}
        self._device = ""
        self._pending: dict[str, list[Event]] = {}
        self._pours: dict[str, Event] = {}
        self._walls = Walls()
        self._seq, self._prev = 0, NO_LINE_BEFORE
        self._begins_anew = purged is not None
        if purged is not None:
            self._device, self._seq, self._prev = purged.device, purged.last_seq, purged.head
        for event in map(from_envelope, carried):
            if event.kind == "pour-bath":
                self._pours[event.id] = event
            else:
                self._pending.setdefault(cycle_of(event), []).append(event)

    def segment(self, segment: Segment, closed: bool, wanted: frozenset[int]) -> Told:
        """Promise the segment told; `hashes` holds those of the lines whose seq is `wanted`."""
        read = WeekRead(segment.week, closed, pours=self._pours)
        told = Told(read)
        sorting = Sorting(read, self._pending)
        start = 0
        lines = segment.data[: segment.size].decode("utf-8", "surrogatepass").split("\n")
        for number, line in enumerate(lines[:-1], 1):
            try:
                what = self._line(line, sorting)
            except (BasinbellError, *UNREADABLE) as error:
                what = f"it can't be folded into the record: {error!r}"
            if what:
                self.broken = True
                path = segment_path(segment.week)
                told.read, told.difference = None, Difference(path, what, number, start, self._seq + 1)
                return told
            self._seq += 1
            if self._seq in wanted:
                told.hashes[self._seq] = read.head
            start += len(line.encode()) + 1 if not line.isascii() else len(line) + 1
        self._pours = self._still_wanted(read.pours)
        return told

    def _line(self, text: str, sorting: Sorting) -> str:
        """Tell one line; gives what is wrong with it, or "" when nothing is."""
        line: dict[str, Any] = _read_json(text)
        if line["seq"] != self._seq + 1 or type(line["seq"]) is not int:
            return f"its seq is {line['seq']!r}, the line before calls for {self._seq + 1}"
        if line["prev"] != self._prev or line["hash"] != text[-66:-2]:
            return f"its prev is {line['prev']!r} and its hash {line['hash']!r}, both are other ones in the chain"
        self._prev = line["hash"]
        if line["v"] != SCHEMA:
            return f"it is of version {line['v']!r}, this app knows {SCHEMA}; verify it with the app that wrote it"
        if not line.keys() >= FIELDS:
            return f"it lacks {', '.join(sorted(FIELDS - line.keys()))}"
        event = from_envelope(line)
        if event.device != self._device:
            if self._device:
                return f"it is of device {event.device!r}, the record is of {self._device!r}"
            self._device = event.device
        if event.kind == CHECKPOINT:
            what = self._checkpoint(event)
        elif not sorting.first_seq:
            what = f"a segment starts with a checkpoint, not with {event.kind!r}"
        else:
            what = self._event(event)
        if not what:
            sorting.take(event, line["hash"])
        return what

    def _checkpoint(self, event: Event) -> str:
        if self._begins_anew:
            # What gave this state was purged; the chain vouches for it. What was under way must have been carried.
            self._begins_anew = False
            self.unit = from_plain(Unit, event.data)
            under_way = {cycle.id for cycle in self.unit.cycles.values()}
            if under_way != self._pending.keys() or any(e[0].kind not in BEGINNINGS for e in self._pending.values()):
                return "the lines that the purged weeks left behind are not those of the cycles under way then"
            return ""
        kept = without_archived(self.unit)
        expected = to_plain(kept)
        if event.data != expected:
            return f"its state is not what the lines before it give: {first_unlike(event.data, expected)}"
        self.unit = kept
        return ""

    def _event(self, event: Event) -> str:
        time = self.unit.time
        if event.kind != "boot":
            if event.boot != time.boot:
                return f"it is of boot {event.boot!r} without an event that begins it; the record is in {time.boot!r}"
            if event.elapsed < time.last_elapsed_ms:
                return f"its elapsed time {event.elapsed} ms is before that of an earlier line, {time.last_elapsed_ms}"
            proven_ms, longest_ms = time.proven_base_ms + event.elapsed, time.longest_base_ms + event.elapsed
            self.unit = evolve(self.unit, event, Stamp(proven_ms, longest_ms, self._walls.ms(event.wall)))
        else:
            self.unit = evolve(self.unit, event)
        if event.kind in ("adopt-protocol", *BEGINNINGS):
            self._text(event)
        return ""

    def _text(self, event: Event) -> None:
        sha = event.data["text_sha256"]
        if sha not in self.texts:
            missing = f"it is not there; {event.kind} of {event.subject}, seq {event.seq}, rests on it"
            self.texts[sha] = Difference(f"texts/{sha}", missing)

    def _still_wanted(self, pours: dict[str, Event]) -> dict[str, Event]:
        """The pourings that a cycle ending in a later week may name: of its own events, and of baths that stand."""
        wanted = {bath.uid for bath in self.unit.baths.values()}
        wanted.update(e.refs["bath"] for events in self._pending.values() for e in events if e.refs.get("bath"))
        return {uid: pour for uid, pour in pours.items() if uid in wanted}
