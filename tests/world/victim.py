"""A handheld that is killed: python3 -m tests.world.victim HOME

Waits for a line on its standard input, then starts a process of its own that opens the record in HOME and gives
command after command through the door, telling each acknowledgement once it has it. Whoever gave the line kills that
process; then the next line starts another. Everything is imported once, so that a kill costs no start of Python.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from data.door import Door
from data.home import LOCK, Texts
from data.journal import Journal
from data.real_disk import RealDisk
from data.rehearse.scene import LEAD, fresh_bath, opening, places, scene_clock
from protocols.clock import FakeClock
from protocols.event import Command, Event
from protocols.shelf import Shelf
from tests.engine.driver import shelf

CHECKPOINT_EVERY = 7


def clock_after(journal_lines: int) -> FakeClock:
    """Promise a clock that goes on where the record may have got to: each line took a second at most."""
    clock = scene_clock()
    clock.advance(journal_lines + 1)
    return clock


def open_home(home: Path, who: str, texts: Shelf) -> tuple[RealDisk, Door, FakeClock]:
    """Promise the locked disk, the door and the clock of the home."""
    disk = RealDisk(home)
    disk.lock(LOCK, who)
    lines = sum(p.read_bytes().count(b"\n") for p in (home / "journal").glob("*.jsonl"))
    clock = clock_after(lines)
    return disk, Door(Journal(disk, checkpoint_every=CHECKPOINT_EVERY), Texts(disk), clock, texts, "victim"), clock


def live(home: Path, texts: Shelf) -> None:
    """Give commands for ever; tell "seq hash" of each event after the door has answered with it."""
    _, door, clock = open_home(home, "victim", texts)
    number = door.unit.seq
    if "H1" not in door.unit.baths:
        commands = opening(door.unit, places(2)) if not door.unit.people else []
        for command in [*commands, fresh_bath("disinfectant", "H1", 1, clock.true_ms, LEAD)]:
            tell(door, door.give(command))
    while True:
        number += 1
        clock.advance(0.9)
        label = f"W{number}"
        tell(door, door.give(fresh_bath("detergent", label, number, clock.true_ms, LEAD)))
        tell(door, door.give(Command("close-bath", label, {"reason": "x" * (number * 37 % 200 + 1)}, LEAD)))
        door.touch()


def tell(door: Door, answer: object) -> None:
    if isinstance(answer, Event):
        os.write(1, f"{answer.seq} {door.journal.head[1]}\n".encode())


def main() -> None:
    home, texts = Path(sys.argv[1]), shelf()
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                live(home, texts)
            finally:
                os._exit(1)
        os.write(1, f"pid {child}\n".encode())
        _, status = os.waitpid(child, 0)
        os.write(1, f"ended {status}\n".encode())


if __name__ == "__main__":
    main()
