"""The unit as it stands in a record, read beside the app that owns it: nothing is locked, nothing is written."""

from __future__ import annotations

from pathlib import Path

from data.audit.snapshot import Snapshot
from data.home import require_journal
from data.real_disk import RealDisk
from data.walk import Walk
from protocols.clock import Clock, Stamp, longest_gap_ms, parse_wall
from protocols.event import SCHEMA, from_envelope
from protocols.fold import evolve
from protocols.plain import from_plain
from protocols.unit import Unit


def unit_beside(home: Path, clock: Clock) -> tuple[Unit, Stamp]:
    """Promise the unit as of the last line, and this moment on its timeline, a reboot's gap at its longest.

    Raises RecordDamaged, RecordTooNew, DiskError, or ClockError when the elapsed clock went back.
    """
    disk = RealDisk(home)
    require_journal(disk)
    walk = Walk(disk, SCHEMA, Snapshot.settle(disk).sight)
    unit = Unit()
    if walk.checkpoint is not None:
        unit = from_plain(Unit, walk.checkpoint["data"])
        for line in walk.events:
            unit = evolve(unit, from_envelope(line))
    reading, time = clock.read(), unit.time
    if time.boot != reading.boot:
        seen_wall = max(time.last_wall_ms, parse_wall(walk.head.wall)) if walk.head.wall else time.last_wall_ms
        gap = longest_gap_ms(seen_wall, reading) if time.boot else 0
        time = time.rebooted(reading.boot, max(time.last_elapsed_ms, walk.head.elapsed), gap)
    return unit, time.stamp(reading)
