"""Records to verify, and the ways in which they are spoilt."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from record_cases import copied, event
from recorded_bench import RecordedBench

from data.audit import Audit, Difference, exports_in
from data.canonical import canonical
from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.line import NO_LINE_BEFORE, seal
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.leaving import leave_weeks
from data.segments import segment_path, segment_weeks
from data.witness import Witness
from protocols.clock import FakeClock, parse_wall
from protocols.event import Command
from tests.engine.driver import shelf
from tests.send.cases import put

WEDNESDAY = "2026-11-25T08:00:00+01:00"
WEEK, NEXT_WEEK, THIRD_WEEK = "2026-W48", "2026-W49", "2026-W50"


def no_pause(seconds: float) -> None:
    """A look at a record at rest: nothing is waited for."""


def differences(disk: MemoryDisk | RealDisk, exports: list[Path] | None = None, chain_only: bool = False):
    """Promise all differences of the home on a disk."""
    return list(Audit(disk, exports or [], chain_only, no_pause).differences())


def in_folder(home: Path) -> list[Difference]:
    return differences(RealDisk(home), exports_in(home / "exports"))


def small() -> MemoryDisk:
    """A record of a boot, the unit's name and two people: five lines with the checkpoint."""
    disk = MemoryDisk()
    door = Door(Journal(disk), Texts(disk), FakeClock(parse_wall(WEDNESDAY)), shelf(), "hh1")
    door.give(Command("set-unit", "unit", {"name": "B"}, "a"))
    door.give(Command("add-person", "a", {"name": "A", "role": "lead"}, "a"))
    door.give(Command("add-person", "b", {"name": "B", "role": "technician"}, "a"))
    return disk


def three_weeks(checkpoint_every: int = 400) -> RecordedBench:
    """Cycles of several ends, two of them in the week after the one in which they began, and one left open."""
    bench = RecordedBench(WEDNESDAY, checkpoint_every=checkpoint_every)
    bench.whole_cycle("L8")
    bench.receive("C5")
    bench.wait(2)
    bench.must("undo", "C5")
    bench.take_to("B2", "inspect")
    bench.take_to("G4", "inspect")
    bench.wait(5 * 86_400)
    bench.must("release", "L8")
    bench.must("void", "G4", reason="left over the weekend")
    bench.wait(1)
    bench.must("out-of-service", "B2", reason="dried in", owner="ann")
    bench.whole_cycle("L8")
    bench.wait(7 * 86_400)
    bench.take_to("B3", "inspect")
    return bench


def leave(bench: RecordedBench, home: Path) -> Path:
    """Promise the bench's home as a folder, with its ledger and the exports of all weeks."""
    list(leave_weeks(bench.disk, bench.journal, home))
    write_out(bench.disk, home)
    return home


def write_out(disk: MemoryDisk, home: Path) -> None:
    put(copied(disk), home)


def changed_lines(lines: list[bytes]) -> Iterator[tuple[str, list[bytes], int]]:
    """Every line removed, repeated, moved and put in: what was done, the lines then, and the first that differs."""
    stranger = seal({**event(8), "seq": 3, "prev": "ab" * 32})[0]
    for place in range(len(lines)):
        yield f"removed {place}", [*lines[:place], *lines[place + 1 :]], place + 1
        yield f"repeated {place}", [*lines[: place + 1], *lines[place:]], place + 2
        yield f"inserted before {place}", [*lines[:place], stranger, *lines[place:]], place + 1
        for other in range(place + 1, len(lines)):
            swapped = list(lines)
            swapped[place], swapped[other] = swapped[other], swapped[place]
            yield f"swapped {place} and {other}", swapped, place + 1
    yield "appended", [*lines, stranger], len(lines) + 1
    seq = json.loads(lines[-1])["seq"]
    chained = seal({**event(8), "seq": seq + 1, "prev": json.loads(lines[-1])["hash"]})[0]
    yield "appended in the chain", [*lines, chained], len(lines) + 1


def forged(disk: MemoryDisk, old: str, new: str) -> None:
    """Write the journal anew with one text changed everywhere, every hash made to fit, and the witness too."""
    prev, sight = NO_LINE_BEFORE, Journal(disk).open().sight
    assert sight is not None
    changed = False
    for week in segment_weeks(disk):
        lines = []
        for line in disk.read(segment_path(week)).splitlines():
            envelope = json.loads(line)
            del envelope["hash"]
            text = canonical(envelope).decode()
            changed = changed or old in text
            sealed, prev = seal({**json.loads(text.replace(old, new)), "prev": prev})
            lines.append(sealed)
        disk.replace(segment_path(week), b"".join(lines))
    assert changed
    witness = Witness(disk)
    for _ in range(2):  # both slots
        size = disk.size(segment_path(sight.segment))
        witness.write(witness.slot(sight._replace(hash=prev, size=size)))
