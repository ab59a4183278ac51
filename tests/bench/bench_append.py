"""How long the record takes, as ratios within one run.

By hand: python -m tests.bench.bench_append [folder on the disk to try]
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from time import perf_counter
from typing import Any

from data.journal import Journal
from data.line import NO_LINE_BEFORE, check_chain, seal
from data.real_disk import RealDisk

ROUNDS = 3000
EVENT: dict[str, Any] = {
    "v": 1,
    "device": "H1",
    "kind": "soak-started",
    "subject": "H1-12",
    "refs": {"cycle": "H1-12", "scope": "G7", "bath": "H1-3", "lot": "L-22-81", "person": "P3", "case": "C-2026-0091"},
    "elapsed": 123_456_789,
    "wall": "2026-11-25T10:42:00.123+01:00",
    "boot": "0b1d3c5e-7f11-4a1c-9a0e-2f5b7d9c1e3a",
    "by": "P3",
    "data": {
        "step": "disinfect",
        "required_s": 720,
        "soak_s_max": 1200,
        "bath_temp_c": 25.4,
        "claim": {"chemistry": "invented", "contact_s_min": 720, "temp_c_min": 20},
        "strip": "pass",
        "text_sha256": "a" * 64,
        "channels": ["biopsy", "suction"],
    },
}


def seconds(work: Callable[[], Any]) -> float:
    """Promise how long one call takes."""
    start = perf_counter()
    work()
    return perf_counter() - start


def told(name: str, ours: list[float], theirs: list[float]) -> None:
    """Print medians and 99th percentiles side by side, and the ratio of the medians."""
    texts = [
        f"{statistics.median(times) * 1e6:9.1f} us (p99 {sorted(times)[len(times) * 99 // 100] * 1e6:9.1f})"
        for times in (ours, theirs)
    ]
    print(f"{name:44} {texts[0]}  against {texts[1]}  ratio {statistics.median(ours) / statistics.median(theirs):.2f}")


def append(folder: Path) -> None:
    """One event to durable, against writing and syncing the same bytes."""
    journal = Journal(RealDisk(folder / "append"), checkpoint_every=10**9)
    journal.open()
    journal.append(EVENT, "2026-W48", dict)
    line = (folder / "append/journal/2026-W48.jsonl").read_bytes().splitlines(keepends=True)[-1]
    bare = os.open(folder / "bare", os.O_CREAT | os.O_RDWR | os.O_APPEND)
    ours, theirs = [], []
    # In turns of 50, so that both see the same moods of the disk and neither the other's caches.
    for _ in range(ROUNDS // 50):
        theirs += [seconds(lambda: (os.write(bare, line), os.fsync(bare))) for _ in range(50)]
        ours += [seconds(lambda: journal.append(EVENT, "2026-W48", dict)) for _ in range(50)]
    told("event to durable / write and fsync", ours, theirs)
    wall = str(EVENT["wall"])
    told("touch / write and fsync", [seconds(lambda: journal.touch(1, wall)) for _ in range(ROUNDS)], theirs)
    os.close(bare)


def chain() -> None:
    """The quick check of a chain, against SHA-256 of the same lines."""
    lines, prev = [], NO_LINE_BEFORE
    for seq in range(1, ROUNDS + 1):
        line, prev = seal({**EVENT, "seq": seq, "prev": prev})
        lines.append(line)
    data = b"".join(lines)
    ours = [seconds(lambda: check_chain(data, NO_LINE_BEFORE)) for _ in range(20)]
    theirs = [seconds(lambda: [sha256(line).digest() for line in lines]) for _ in range(20)]
    told(f"check_chain of {ROUNDS} lines / SHA-256 of them", ours, theirs)


def opening(folder: Path) -> None:
    """Opening ten years of segments, against opening a new record; both 300 events after the last checkpoint."""
    times: dict[str, list[float]] = {}
    for name, weeks in (("ten", 520), ("new", 1)):
        disk = RealDisk(folder / name)
        journal = Journal(disk)
        journal.open()
        for week in range(weeks):
            journal.append(EVENT, f"{2026 + week // 52}-W{week % 52 + 1:02d}", dict)
        for _ in range(300):
            journal.append(EVENT, f"{2026 + weeks // 52}-W48", dict)
        disk.close()
    for _ in range(100):
        for name in ("ten", "new"):
            times.setdefault(name, []).append(seconds(lambda name=name: Journal(RealDisk(folder / name)).open()))
    told("opening with 520 old weeks / with none", times["ten"], times["new"])


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as place:
        append(Path(place))
        chain()
        opening(Path(place))
