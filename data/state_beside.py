"""The unit as it stands in a record, read beside the app that owns it: nothing is locked, nothing is written."""

from __future__ import annotations

from pathlib import Path

from data.audit.snapshot import Snapshot
from data.home import require_journal
from data.real_disk import RealDisk
from data.unit_state import last_seen_ms, unit_after
from data.walk import Walk
from protocols.clock import Clock, Stamp, longest_gap_ms
from protocols.event import SCHEMA
from protocols.unit import Unit


def unit_beside(home: Path, clock: Clock) -> tuple[Unit, Stamp]:
    """Promise the unit as of the last line, and this moment on its timeline, a reboot's gap at its longest.

    Raises RecordDamaged, RecordTooNew, DiskError, or ClockError when the elapsed clock went back.
    """
    disk = RealDisk(home)
    require_journal(disk)
    walk = Walk(disk, SCHEMA, Snapshot.settle(disk).sight)
    unit = unit_after(walk.checkpoint, walk.events)
    reading, time = clock.read(), unit.time
    if time.boot != reading.boot:
        seen_elapsed, seen_wall = last_seen_ms(time, walk.head)
        time = time.rebooted(reading.boot, seen_elapsed, longest_gap_ms(seen_wall, reading) if time.boot else 0)
    return unit, time.stamp(reading)
