"""By hand: python3 -m tests.bench.bench_record [FOLDER]

Ratios in one run, so that the machine's mood cancels out:
1. command to durable (decide, seal, write, fsync, witness, evolve) against a bare append and fsync of the same bytes,
   taken in turn, line by line, on the same disk; on an empty record and on one with ten years behind it;
2. restart with ten years of record against restart with an empty one (a whole process each);
3. a rehearsal of 8 hours and 6 scopes: seconds and peak memory.
Ten years are 44,000 cycles and about 2.6 million events; they are made by copying one rehearsed week's segments under
the names of earlier weeks, since an old segment is never read on the command's path or at restart.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median

from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.scene import places, scene_clock
from data.rehearse.shift import Shift
from protocols.event import Event

ROOT = Path(__file__).parent.parent.parent
SEGMENTS, EVENTS_A_SEGMENT = 522, 5000


class Timed(Door):
    """A door that measures each accepted command, then a bare append and fsync of the bytes it wrote."""

    def __init__(self, *arguments, bare: Path, segments: Path, **named):
        self.took, self.bare_took = [], []
        self._bare = os.open(bare, os.O_CREAT | os.O_APPEND | os.O_WRONLY)
        self._segments = segments
        super().__init__(*arguments, **named)

    def give(self, command):
        before = self._size()
        start = time.perf_counter()
        answer = super().give(command)
        took = time.perf_counter() - start
        if isinstance(answer, Event):
            after = self._size()
            # A new segment starts at zero; its first command is left out of the comparison.
            if 0 < after - before < 4000:
                line = b"x" * (after - before - 1) + b"\n"
                start = time.perf_counter()
                os.write(self._bare, line)
                os.fsync(self._bare)
                self.bare_took.append(time.perf_counter() - start)
                self.took.append(took)
        return answer

    def _size(self):
        path = self._segments / "2026-W48.jsonl"
        return path.stat().st_size if path.exists() else 0


def command_ratio(folder: Path, behind: bytes = b"") -> str:
    """Medians of a command and of the bare append, and their ratio, over one rehearsed shift.

    `behind` is a week of lines put behind the record for each of the ten years' weeks before it.
    """
    disk, clock = RealDisk(folder), scene_clock()
    bare = folder.parent / f"{folder.name}.bare"
    door = Timed(Journal(disk), Texts(disk), clock, shipped_shelf(), "bench", bare=bare, segments=folder / "journal")
    put_behind(folder, behind)
    Shift(door, clock, places(6), 24, Random(1)).run()
    disk.close()
    took, bare_took = median(door.took), median(door.bare_took)
    return f"{took * 1e6:.0f} us, bare append and fsync {bare_took * 1e6:.0f} us, ratio {took / bare_took:.2f}"


def put_behind(folder: Path, week: bytes) -> None:
    """Write the week's bytes as every week of the ten years before the record's own."""
    for number in range(SEGMENTS if week else 0):
        name = f"{2016 + number // 52}-W{number % 52 + 1:02d}"
        if name < "2026-W48":
            (folder / "journal" / f"{name}.jsonl").write_bytes(week)


def ten_years(folder: Path) -> bytes:
    """A home with ten years behind its newest segment; gives the bytes of one of their weeks."""
    disk = RealDisk(folder)
    rehearse(disk, Plan(hours=8), lambda line: None)
    disk.close()
    lines = (folder / "journal" / "2026-W48.jsonl").read_bytes().splitlines(keepends=True)
    week = b"".join((lines * (EVENTS_A_SEGMENT // len(lines) + 1))[:EVENTS_A_SEGMENT])
    put_behind(folder, week)
    return week


RESTART = """
import sys, time
from pathlib import Path
from data.opening import owned_door
from data.real_disk import RealDisk
from data.rehearse.scene import scene_clock
clock = scene_clock(); clock.advance(400000)
with owned_door(RealDisk(Path(sys.argv[1])), clock, "bench") as (door, _):
    door.unit
"""


def restart_s(folder: Path) -> float:
    """Seconds of a whole process that opens the home, median of nine."""
    times = []
    for _ in range(9):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", RESTART, str(folder)], cwd=ROOT, check=True)
        times.append(time.perf_counter() - start)
    return median(times)


def main() -> None:
    base = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory(dir=base) as name:
        folder = Path(name)
        print(f"command, empty record: {command_ratio(folder / 'young')} (at most 1.5)")
        week = ten_years(folder / "old")
        print(f"command, ten years behind: {command_ratio(folder / 'long', week)} (at most 1.5)")
        disk = RealDisk(folder / "empty")
        open_door(disk, scene_clock(), shipped_shelf(), "bench")
        disk.close()
        size = sum(p.stat().st_size for p in (folder / "old" / "journal").iterdir())
        empty, old = restart_s(folder / "empty"), restart_s(folder / "old")
        print(f"restart empty {empty:.3f} s, with ten years ({size / 1e9:.2f} GB) {old:.3f} s")
        print(f"restart ratio {old / empty:.2f} (at most 1.2)")
        start = time.perf_counter()
        done = subprocess.run(
            [
                sys.executable,
                "-c",
                "import resource, main, sys; main.main(['rehearse', '--out', sys.argv[1]]); "
                "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)",
                str(folder / "shift"),
            ],
            cwd=ROOT,
            check=True,
            capture_output=True,
            text=True,
        )
        print(f"rehearse {time.perf_counter() - start:.2f} s (under 5), peak {float(done.stderr):.0f} MB (under 150)")


if __name__ == "__main__":
    main()
