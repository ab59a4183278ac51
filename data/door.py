"""The one door into the record: decide, make durable, fold in, in that order.

A tap, a scan, a replay line, a rehearsal and a test all come through `Door.give`. Nothing is shown as done before it
is durable; a refusal, a fault and a failed disk all leave the unit exactly as it was.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from data.home import Texts
from data.journal import Journal, Opened
from data.settling import settle
from data.stubs import require_prepared
from data.unit_state import last_seen_ms, texts_in_use, unit_after
from protocols.clock import Clock, Reading, Stamp, iso_week, longest_gap_ms, wall_text
from protocols.commands import check
from protocols.errors import DiskError
from protocols.event import SCHEMA, Command, Decision, Event, from_envelope
from protocols.fold import evolve, without_archived
from protocols.handover import SIGNED
from protocols.plain import to_plain
from protocols.refusals import Refusal, refuse
from protocols.shelf import Shelf
from protocols.unit import Unit

DEVICE = "device"
# Lines kept of what was read at opening, to see who worked here last: own figure, far more than a few minutes hold.
TAIL = 100
# Why a message of another handheld can't be taken here, None where it is signed by it and meant for this one.
Genuine = Callable[[Unit, str, Command], Refusal | None]


def decide(unit: Unit, command: Command, now: Stamp, shelf: Shelf) -> Decision | Refusal:
    """Promise what `protocols.decide` answers; it is loaded by the first command, for a start only shows."""
    from protocols import decide as judge

    return judge.decide(unit, command, now, shelf)


@dataclass
class Found:
    """What opening the record found that somebody should know: torn writes set aside, a lost witness, a reboot.

    `unpurged` are weeks that are still there though the record says that they were purged. `tail` holds the last lines
    as they were read.
    """

    set_aside: list[str] = field(default_factory=list)
    witness_lost: bool = False
    tail: list[dict[str, Any]] = field(default_factory=list)
    rebooted: bool = False
    unpurged: list[str] = field(default_factory=list)


class Door:
    """The unit as it stands, and the only way to change it. Owned by one thread of one process."""

    def __init__(
        self,
        journal: Journal,
        texts: Texts,
        clock: Clock,
        shelf: Shelf,
        device: str = "",
        genuine: Genuine | None = None,
    ) -> None:
        """Promise an open record, every open cycle as it was left.

        A new record takes the name `device`, or a random one. `genuine` looks at messages of other handhelds; without
        it none is taken. Raises RecordDamaged, RecordTooNew or DiskError as
        `Journal.open` does; ClockError when the clock contradicts the record.
        """
        self.journal = journal
        self.texts = texts
        self.shelf = shelf
        self.clock = clock
        self.found = Found()
        self.genuine = genuine
        opened = journal.open()
        self.device = self._device(opened) or device or f"hh-{os.urandom(3).hex()}"
        self.unit = unit_after(opened.checkpoint, opened.events)
        self._read_texts()
        with suppress(DiskError):  # kept for the next opening; it keeps nobody from the bench
            self.found.unpurged = settle(journal.disk, self.unit.purged)
        self.found.tail = opened.events[-TAIL:]
        self.found.set_aside = opened.set_aside
        self.found.witness_lost = opened.witness_lost
        self._enter_boot(opened)

    @staticmethod
    def _device(opened: Opened) -> str:
        return str(opened.checkpoint["device"]) if opened.checkpoint else ""

    def _read_texts(self) -> None:
        self.shelf.add(self.texts.get(sha) for sha in texts_in_use(self.unit) if not self.shelf.holds(sha))

    def _enter_boot(self, opened: Opened) -> None:
        """Record that a new boot has begun, with the longest time that no clock saw."""
        reading = self.clock.read()
        if self.unit.time.boot == reading.boot:
            self.unit.time.stamp(reading)
            return
        seen_elapsed, seen_wall = last_seen_ms(self.unit.time, opened.sight)
        first = not self.unit.time.boot
        data = {
            "seen_elapsed_ms": 0 if first else seen_elapsed,
            "gap_longest_ms": 0 if first else longest_gap_ms(seen_wall, reading),
            "before": self.unit.time.boot,
        }
        self._append(Decision("boot", self.device, {}, data), reading, DEVICE)
        self.found.rebooted = not first

    def now(self) -> Stamp:
        """Promise this moment on the unit's timeline. Raises ClockError when the elapsed clock went back."""
        return self.unit.time.stamp(self.clock.read())

    def give(self, command: Command) -> Event | Refusal:
        """Promise the durable event that the command became, or the refusal, which changed nothing.

        Raises CommandFault for a command that can't be read, DiskError when it could not be made durable (nothing has
        changed), ClockError, or Defect.
        """
        reading = self.clock.read()
        stamp = self.unit.time.stamp(reading)
        if command.do in SIGNED:
            check(command)
            false = self.genuine(self.unit, self.device, command) if self.genuine else refuse("no-identity")
            if false is not None:
                return false
        if command.do == "pair-handheld" and command.subject == self.device:
            return refuse("own-device", device=self.device)
        decision = decide(self.unit, command, stamp, self.shelf)
        if isinstance(decision, Refusal):
            return decision
        if decision.kind in ("adopt-protocol", "take-over"):
            # The text must be safe before the event that relies on it; a text without an event does no harm.
            self.texts.keep(self.shelf.text(decision.data["text_sha256"]))
        if decision.kind == "purge":
            # Nobody but `data.purging`, which has looked at the week's export, gives a purge that takes something away.
            require_prepared(self.journal.disk, decision.subject, decision.data)
        return self._append(decision, reading, command.by, stamp)

    def _append(self, decision: Decision, reading: Reading, by: str, stamp: Stamp | None = None) -> Event:
        zone = self.unit.settings.zone
        envelope = {
            "v": SCHEMA,
            "device": self.device,
            "kind": decision.kind,
            "subject": decision.subject,
            "refs": decision.refs,
            "elapsed": reading.elapsed_ms,
            "wall": wall_text(reading.wall_ms, zone),
            "boot": reading.boot,
            "by": by,
            "data": decision.data,
        }
        sealed = self.journal.append(envelope, iso_week(reading.wall_ms, zone), self._checkpoint)
        event = from_envelope(sealed)
        base = self.unit if sealed["seq"] == self.unit.seq + 1 else without_archived(self.unit)
        self.unit = evolve(base, event, stamp)
        return event

    def _checkpoint(self) -> dict[str, object]:
        plain: dict[str, object] = to_plain(without_archived(self.unit))
        return plain

    def touch(self) -> None:
        """Note how far the clocks have been seen, so that a power cut leaves only a short gap unproven."""
        reading = self.clock.read()
        self.journal.touch(reading.elapsed_ms, wall_text(reading.wall_ms, self.unit.settings.zone))
