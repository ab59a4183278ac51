"""By hand: python3 -m tests.bench.bench_verify [WEEKS]

What `verify` costs, as ratios within one run, on a rehearsed record with its ledger and exports in memory-cached files:
1. the chain alone against plain SHA-256 over the same lines (at least 1/4 of its speed);
2. the full cross-check against json.loads of the same bytes (at most 3 times its time). The same bytes are those that
   the full check reads: every journal line, every ledger and every file of the exports, the latter at the rate of the
   ledgers, for CSV can't be read as JSON. The check of a home without exports is told beside it, against the bytes of
   journal and ledgers: there the folding of every line weighs more, since less is read that only has to be compared;
3. seconds a line and peak memory (a process of its own each) of one week against all of them.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter

from data.audit import verify_home
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.leaving import leave_weeks
from data.rehearse.scene import scene_clock
from protocols.errors import CommandFault
from protocols.event import Command
from tests.world.actor import Actor

ROOT = Path(__file__).parent.parent.parent
# The system's own count for this process alone: that of `resource` starts with what its parent had.
PEAK = (
    "import main, pathlib, re, sys, time; start = time.perf_counter(); main.main(['verify', sys.argv[1]]);"
    "status = pathlib.Path('/proc/self/status').read_text();"
    "print(time.perf_counter() - start, int(re.search(r'VmHWM:\\s+(\\d+)', status)[1]) / 1024, file=sys.stderr)"
)


class Bench:
    """What an `Actor` acts on, without a world's checks and faults: a door on a disk in memory."""

    def __init__(self) -> None:
        self.chance, self.clock, self.shelf = Random(1), scene_clock(), shipped_shelf()
        self.disk = self
        self.memory = MemoryDisk()
        self.door = open_door(self.memory, self.clock, self.shelf, "bench")

    def give(self, command: Command) -> object:
        with suppress(CommandFault):
            return self.door.give(command)

    def wait(self, seconds: float) -> None:
        self.clock.advance(seconds)

    def touch(self) -> None:
        self.door.touch()

    def mend(self) -> None:
        """Nothing breaks here."""


def weeks_of_record(home: Path, weeks: int) -> None:
    """Four scopes for 40 hours a week, with ledger and exports."""
    bench = Bench()
    actor = Actor(bench, 4, faults=False)
    for week in range(weeks):
        end_ms = bench.clock.true_ms + 40 * 3_600_000
        while bench.clock.true_ms < end_ms:
            actor.act()
        if week < weeks - 1:
            bench.wait((168 - 40) * 3600)
    list(leave_weeks(bench.memory, bench.door.journal, home))
    for path, content in bench.memory.files.items():
        (home / path).parent.mkdir(parents=True, exist_ok=True)
        (home / path).write_bytes(content)


def verified(home: Path, chain_only: bool = False, exports: list[Path] | None = None) -> int:
    """Promise how many lines were verified; a difference ends the run."""
    audit = verify_home(home, exports, chain_only)
    for difference in audit.differences():
        raise SystemExit(f"a record that should be whole is not: {difference}")
    return audit.counts["lines"]


def compare(home: Path) -> None:
    """Time both audits, plain SHA-256 and json.loads in turns, so that all see the same moods of the machine."""
    lines = [line for p in sorted((home / "journal").iterdir()) for line in p.read_bytes().splitlines(keepends=True)]
    ledgers = [p.read_bytes() for p in (home / "ledger").iterdir()]
    exported = sum(p.stat().st_size for p in (home / "exports").rglob("*") if p.is_file())
    works = {
        "sha": lambda: [sha256(line).digest() for line in lines],
        "chain": lambda: verified(home, True),
        "journal": lambda: [json.loads(line) for line in lines],
        "ledgers": lambda: [json.loads(ledger) for ledger in ledgers],
        "record": lambda: verified(home, exports=[]),
        "full": lambda: verified(home),
    }
    took: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(5):
        for name, work in works.items():
            start = perf_counter()
            work()
            took[name].append(perf_counter() - start)
    sha, chain, journal, ledger, record, full = (median(took[name]) for name in works)
    exports = ledger / sum(map(len, ledgers)) * exported
    sizes = [sum(map(len, lines)), sum(map(len, ledgers)), exported]
    print(f"{len(lines)} lines; MB of journal, ledgers, exports: {', '.join(f'{size / 1e6:.1f}' for size in sizes)}")
    print(f"chain {chain:.3f} s, SHA-256 {sha:.3f} s: 1/{chain / sha:.1f} of its speed (at least 1/4)")
    per_line = f"{record / len(lines) * 1e6:.0f} us a line, with exports {full / len(lines) * 1e6:.0f} us"
    print(f"full {per_line}; times json.loads (at most 3):")
    print(
        f"  journal and ledgers, of both {record / (journal + ledger):.2f}, of the journal alone {record / journal:.2f}"
    )
    print(f"  with exports, of all bytes {full / (journal + ledger + exports):.2f}")


def flat(home: Path) -> None:
    """Seconds and peak memory of a whole process."""
    done = subprocess.run([sys.executable, "-c", PEAK, str(home)], cwd=ROOT, check=True, capture_output=True, text=True)
    took, peak = map(float, done.stderr.split())
    print(f"{done.stdout.strip().split(': ', 1)[1]}: {took:.2f} s, peak {peak:.0f} MB")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    with tempfile.TemporaryDirectory() as name:
        for weeks in (1, count):
            weeks_of_record(Path(name) / str(weeks), weeks)
            flat(Path(name) / str(weeks))
        compare(Path(name) / str(count))
