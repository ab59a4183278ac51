"""By hand, once for each version of the record, before it leaves the house: python3 -m tests.handheld.freeze

Writes a home, and what the app of that day read in it, to frozen/schema-N. A frozen record is never written again: it
stands for the handhelds that hold such a record when the app on them is updated.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from data.door import Door
from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.run import Plan, rehearse
from protocols.clock import FakeClock, parse_wall
from protocols.event import SCHEMA
from protocols.lane import lanes

FROZEN = Path(__file__).parent / "frozen"
# So that the record holds checkpoints of a unit under way, with events after the last one.
CHECKPOINT_EVERY = 40
# What a record holds; the rest of a home (lock, key, index) is not of it.
PARTS = ("journal/", "ledger/", "texts/", "head")
TOLD = "told.json"


def folder_of(schema: int) -> Path:
    """Where the frozen record of a version lies."""
    return FROZEN / f"schema-{schema}"


def files_of(folder: Path) -> dict[str, bytes]:
    """The files of a frozen home, by their path in it."""
    paths = [path for path in folder.rglob("*") if path.is_file() and path.name != TOLD]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


def reopened(disk: MemoryDisk) -> tuple[Door, FakeClock]:
    """The door into a record a second after its last line, in the same boot."""
    journal = Journal(disk)
    journal.open()
    last = list(journal.lines())[-1]
    clock = FakeClock(parse_wall(last["wall"]), boot=last["boot"], elapsed_ms=last["elapsed"])
    clock.advance(1)
    return open_door(disk, clock, shipped_shelf()), clock


def told(door: Door, disk: MemoryDisk) -> dict[str, Any]:
    """What the record says to people: who, which scopes and baths, where each scope is, which cycles ended how."""
    unit = door.unit
    rows = [row for week in door.journal.segments() for row in Ledger(disk).week(week)]
    found = {
        "device": door.device,
        "head": door.journal.head,
        "unit": (unit.settings.name, unit.settings.zone),
        "people": sorted((p.id, p.name, p.role) for p in unit.people.values()),
        "scopes": sorted((s.tag, s.protocol, s.model, s.serial) for s in unit.scopes.values()),
        "baths": sorted((b.label, b.claim, b.lot, b.closed, b.uses) for b in unit.baths.values()),
        "open": [
            (x.scope, x.step.id, x.state.name, x.kind, x.passed_s, x.needed_s, x.limit_in_s, sorted(x.cycle.flags))
            for x in lanes(unit, door.shelf, door.now())
        ],
        "ended": sorted((row["cycle"], row["scope"], row["case"], row["outcome"]["kind"]) for row in rows),
    }
    plain: dict[str, Any] = json.loads(json.dumps(found))
    return plain


def main() -> None:
    folder = folder_of(SCHEMA)
    if folder.exists():
        raise SystemExit(f"{folder} is there already; a frozen record is never written again")
    own = Journal.__init__.__defaults__ or ()
    Journal.__init__.__defaults__ = (*own[:-1], CHECKPOINT_EVERY)
    disk = MemoryDisk()
    rehearse(disk, Plan(scopes=2, hours=2, seed=7), lambda _: None)
    door, _ = reopened(disk)
    catch_up(Ledger(disk), door.journal)
    files = {path: bytes(data) for path, data in disk.files.items() if path.startswith(PARTS)}
    files[TOLD] = json.dumps(told(door, disk), indent=1, ensure_ascii=False).encode() + b"\n"
    for path, data in files.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


if __name__ == "__main__":
    main()
