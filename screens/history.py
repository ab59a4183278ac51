"""What has been done in a cycle, in short rows: from what this desk saw, and from the record's last weeks when asked.

For showing only: nothing decides by it. Reading the record goes in small portions, so that no tap waits for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from data.door import Door
from protocols.clock import clock_text, local, parse_wall
from protocols.errors import BasinbellError
from protocols.event import Event, from_envelope
from protocols.model import Protocol
from screens.telling import step_name
from screens.words import has, say

# Lines of the record read per second while a page that needs them is shown: a few ms.
PORTION = 300
# Weeks looked through for the start of a cycle: it may have begun just before midnight on Sunday.
WEEKS = 2


@dataclass(frozen=True, slots=True)
class Row:
    """One thing done: when, what, and how it came out."""

    time: str
    what: str
    how: str
    bad: bool = False


class History:
    """Events by cycle. `add` takes what the door has just recorded, `more` reads the record on."""

    def __init__(self, door: Door) -> None:
        self._door = door
        self._events: dict[str, dict[int, Event]] = {}
        self._head = door.journal.head[0]
        self._reading: Iterator[None] | None = None
        self.whole = False
        self.failed = False

    def add(self, event: Event) -> None:
        """Keep an event of a cycle."""
        cycle = event.id if event.kind in ("receive", "take-over") else event.refs.get("cycle", "")
        if cycle:
            self._events.setdefault(cycle, {})[event.seq] = event

    def more(self) -> None:
        """Read a portion of the record; does nothing once it has been read."""
        if self.whole or self.failed:
            return
        if self._reading is None:
            self._reading = self._read()
        try:
            for _ in range(PORTION):
                next(self._reading)
        except StopIteration:
            self.whole = True
        except BasinbellError:
            # What can't be read is a matter for the audit; here it only means that earlier rows are missing.
            self.failed = True

    def _read(self) -> Iterator[None]:
        for week in self._door.journal.segments()[-WEEKS:]:
            for line in self._door.journal.iter_segment(week):
                if line["kind"] != "checkpoint":
                    self.add(from_envelope(line))
                yield
                # Beyond this the desk has seen everything itself; a file that grows meanwhile is not read on.
                if line["seq"] >= self._head:
                    return

    def ended(self, cycle: str) -> str:
        """Promise when the procedure of a cycle ended, as RFC 3339, "" while that is unknown or not read yet."""
        for event in self._events.get(cycle, {}).values():
            if event.kind == "receive":
                return str(event.data.get("procedure_end") or "")
        return ""

    def precleaners(self, most: int = 5) -> list[str]:
        """Promise the names last given as who pre-cleaned, newest first."""
        received = [e for events in self._events.values() for e in events.values() if e.kind == "receive"]
        names = [e.data.get("precleaned_by") for e in sorted(received, key=lambda e: -e.seq)]
        return list(dict.fromkeys(name for name in names if name))[:most]

    def rows(self, cycle: str, protocol: Protocol, zone: str) -> list[Row]:
        """Promise the rows of a cycle, oldest first: a count or brush step is one row, a tap taken back none."""
        kept: dict[int, Event] = {}
        for seq, event in sorted(self._events.get(cycle, {}).items()):
            if event.kind == "dip-strip":
                continue  # the row of its reading says all
            if event.kind == "undo":
                kept.pop(event.data["undoes"], None)
            else:
                kept[seq] = event
        rows: list[Row] = []
        last: tuple[str, Any] = ("", "")
        for event in kept.values():
            now = (event.kind, event.data.get("step"))
            if event.kind in ("pass", "count") and now == last:
                rows.pop()
            last = now
            rows.append(_row(event, protocol, zone))
        return rows


def _row(event: Event, protocol: Protocol, zone: str) -> Row:
    data = event.data
    step = data.get("step")
    name = step_name(protocol.step(step)) if step in protocol.positions else ""
    time = f"{local(parse_wall(event.wall), zone):%H:%M}"
    what, how, bad = _words(event, name, data)
    return Row(time, what, how, bad)


def _words(event: Event, name: str, data: Mapping[str, Any]) -> tuple[str, str, bool]:
    kind = event.kind
    if kind == "receive":
        return say("done.receive"), say("steps.delayed") if data["marks"].get("delayed") else "", False
    if kind == "strip-test":
        good = data["result"] == "pass"
        return say("done.strip", bath=event.subject), say(f"done.strip_{data['result']}"), not good
    if kind == "look":
        return name, _outcome(data["outcome"]), data["outcome"] == "leak"
    if kind == "pass":
        return name, _passes(data), False
    if kind == "count":
        return name, say("done.count", done=data["count"], of=data["of"]), False
    if kind == "start":
        if "bath" in data:
            return name, say("done.start", bath=data["bath"], temp=f"{data['bath_temp_c']:g}"), False
        return name, say("done.started"), False
    if kind == "lift":
        result = data.get("result", "full")
        key = {"full": "done.lift", "late": "done.lift_late"}.get(result, "done.lift_early")
        return name, say(key, time=clock_text(data["contact_s"])), result != "full"
    if kind == "check":
        return name, say("done.dry" if data["dry"] else "done.wet"), False
    if kind == "read":
        value = f"{data['value']:g}"
        words = say("done.read", value=value, unit=data["unit"], verdict=say(f"fact.verdict.{data['verdict']}"))
        return name, words, data["verdict"] == "fail"
    if kind == "note":
        return say("done.note"), data["text"], False
    if kind == "choose":
        return say("done.choose", by=say(f"word.{data['by']}")), "", False
    if kind == "run-end":
        return name, say(f"run.{data['result']}"), data["result"] != "complete"
    simple = {"skip": "done.skip", "interrupt": "done.interrupt"}
    if kind in simple:
        return name, say(simple[kind]), False
    return (
        say({"decide": "done.decide", "correct": "done.correct"}.get(kind, "done.note")),
        data.get("reason", ""),
        False,
    )


def _outcome(word: str) -> str:
    if word == "leak":
        return say("done.leak")
    key = f"did.{word}"
    return say(key) if has(key) else word


def _passes(data: Mapping[str, Any]) -> str:
    if data["debris"] == "seen":
        return say("done.pass_seen", count=data["passes"])
    count = data.get("pass_count", 1)
    return say("done.one_pass") if count == 1 else say("done.pass_none", count=count)
