"""What `verify` costs on a rehearsed record of 1 and 4 weeks with its ledger and exports (--full: 12 weeks too).

1. The chain alone against plain SHA-256 over the same lines.
2. The full cross-check against json.loads of the same bytes: those that it reads, which are every journal line, every
   ledger and every file of the exports, the latter at the rate of the ledgers, for CSV can't be read as JSON. The check
   of a home without exports is told beside it, against the bytes of journal and ledgers: there the folding of every
   line weighs more, since less is read that only has to be compared.
3. Seconds and peak memory of a whole process each, and how they grow with the lines; and how seconds of our own code on
   the processor grow, where no start of Python hides it.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from hashlib import sha256
from pathlib import Path
from random import Random
from statistics import median

from data.audit import verify_home
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.leaving import leave_weeks
from data.rehearse.scene import scene_clock
from protocols.errors import CommandFault
from protocols.event import Command
from tests.bench.rows import Row, growth, micro, own_seconds, seconds
from tests.send.cases import put
from tests.world.actor import Actor

ROOT = Path(__file__).parent.parent.parent
TURNS, INSIDE = 3, 2
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

    def wait(self, wait_s: float) -> None:
        self.clock.advance(wait_s)

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
    put(bench.memory.files, home)


def verified(home: Path, chain_only: bool = False, exports: list[Path] | None = None) -> int:
    """Promise how many lines were verified; a difference ends the run."""
    audit = verify_home(home, exports, chain_only)
    for difference in audit.differences():
        raise SystemExit(f"a record that should be whole is not: {difference}")
    return audit.counts["lines"]


def compared(home: Path, weeks: int) -> Iterator[Row]:
    """Promise both audits beside plain SHA-256 and json.loads, in turns, so that all see the machine's same moods."""
    lines = [line for p in sorted((home / "journal").iterdir()) for line in p.read_bytes().splitlines(keepends=True)]
    ledgers = [p.read_bytes() for p in (home / "ledger").iterdir()]
    exported = sum(p.stat().st_size for p in (home / "exports").rglob("*") if p.is_file())
    works: dict[str, Callable[[], object]] = {
        "sha": lambda: [sha256(line).digest() for line in lines],
        "chain": lambda: verified(home, True),
        "journal": lambda: [json.loads(line) for line in lines],
        "ledgers": lambda: [json.loads(ledger) for ledger in ledgers],
        "record": lambda: verified(home, exports=[]),
        "full": lambda: verified(home),
    }
    took: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(TURNS):
        for name, work in works.items():
            took[name].append(seconds(work))
    sha, chain, journal, ledger, record, full = (median(took[name]) for name in works)
    exports = ledger / sum(map(len, ledgers)) * exported
    of = f"{weeks} weeks, {len(lines):,} lines"
    yield Row(f"verify --chain-only, {of}, against SHA-256 of the same lines", round(chain / sha, 2), 4.0,
              micro(chain), micro(sha))  # fmt: skip
    read = journal + ledger + exports
    yield Row(f"verify with exports, {of}, against json.loads of all bytes read", round(full / read, 2), 3.0,
              micro(full), micro(read))  # fmt: skip
    yield Row(f"verify without exports, {of}, against json.loads of journal and ledgers",
              round(record / (journal + ledger), 2), None, micro(record), micro(journal + ledger))  # fmt: skip


def whole_process(home: Path) -> tuple[float, float]:
    """Promise seconds and peak memory (MB) of a whole process."""
    done = subprocess.run([sys.executable, "-c", PEAK, str(home)], cwd=ROOT, check=True, capture_output=True, text=True)
    took, peak = map(float, done.stderr.splitlines()[-1].split())
    return took, peak


def rows(full: bool) -> Iterator[Row]:
    """Promise the comparison on the longest record, and how time and memory grow from one week to all of them."""
    whole, inside, peaks = [], [], []
    lengths = (1, 4, 12) if full else (1, 4)
    with tempfile.TemporaryDirectory() as name:
        homes = [Path(name) / str(weeks) for weeks in lengths]
        for home, weeks in zip(homes, lengths, strict=True):
            weeks_of_record(home, weeks)
        for _ in range(TURNS):
            for home in homes:
                lines = sum(p.read_bytes().count(b"\n") for p in (home / "journal").iterdir())
                took, peak = whole_process(home)
                whole.append((lines, took))
                peaks.append((lines, peak))
                inside += [(lines, own_seconds(partial(verified, home))[1]) for _ in range(INSIDE)]
        yield from compared(homes[-1], lengths[-1])
    yield growth("verify, a whole process", whole, 1.05, "lines")
    yield growth("verify, without the start of a process", inside, 1.05, "lines")
    yield growth("verify, its peak memory", peaks, None, "lines")
