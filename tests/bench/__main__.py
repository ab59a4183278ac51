"""Everything measured, in one table: python3 -m tests.bench [--full] [--only NAME...] [--json FILE]

Every bench is a module of this package with `rows(full)`. Each runs in a process of its own, one after the other, so
that none pays for another's memory; the table gives the peak memory of each. --full adds the long ones. A limit that
is not kept ends the run with 1.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import time
from importlib import import_module
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent.parent


def measured(name: str, full: bool) -> dict[str, Any]:
    """Promise the rows of one bench, its wall seconds and its peak memory, its children's included (MB)."""
    start = time.perf_counter()
    command = [sys.executable, "-m", "tests.bench", "--one", name, *(["--full"] if full else [])]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    took = time.perf_counter() - start
    if done.returncode:
        return {"bench": name, "rows": [], "took_s": took, "peak_mb": 0, "failed": done.stderr.strip()[-2000:]}
    found: dict[str, Any] = json.loads(done.stdout.strip().splitlines()[-1])
    return {"bench": name, **found, "took_s": took, "failed": ""}


def one(name: str, full: bool) -> None:
    """Run one bench here and print its rows as the last line, as JSON."""
    import resource

    rows = [row.plain(name) for row in import_module(f"tests.bench.bench_{name}").rows(full)]
    peaks = [resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print()
    print(json.dumps({"rows": rows, "peak_mb": round(max(peaks))}))


def machine() -> str:
    """Promise the class of machine, without its name."""
    model = next(
        (
            line.split(":", 1)[1].strip()
            for line in Path("/proc/cpuinfo").read_text().splitlines()
            if "model name" in line
        ),
        platform.machine(),
    )
    cores = len(import_module("os").sched_getaffinity(0))
    return f"{model}, {cores} cores, Python {platform.python_version()}, {platform.system()}"


def table(found: list[dict[str, Any]]) -> str:
    """Promise the table as Markdown."""
    lines = ["| bench | what | value | limit | ours | peer | kept |", "|---|---|---|---|---|---|---|"]
    for bench in found:
        for row in bench["rows"]:
            limit = "" if row["limit"] is None else f"{'at least' if row['at_least'] else 'at most'} {row['limit']:g}"
            kept = {None: "", True: "yes", False: "**no**"}[row["met"]]
            value = f"{row['value']:g} {row['unit']}"
            lines.append(
                f"| {bench['bench']} | {row['what']} | {value} | {limit} | {row['ours']} | {row['peer']} | {kept} |"
            )
    return "\n".join(lines)


def main() -> int:
    """Promise 0 when every limit is kept, else 1."""
    parser = argparse.ArgumentParser(prog="python3 -m tests.bench", description="what Basinbell costs, in one table")
    parser.add_argument("--full", action="store_true", help="the long ones too")
    parser.add_argument("--only", nargs="*", default=[], help="these benches alone")
    parser.add_argument("--json", type=Path, help="write the figures there; with --only those of the others stay")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        one(options.one, options.full)
        return 0
    there = sorted(path.stem.removeprefix("bench_") for path in Path(__file__).parent.glob("bench_*.py"))
    names = options.only or there
    start, found = time.perf_counter(), []
    for name in names:
        print(f"{name} ...", file=sys.stderr, flush=True)
        found.append(measured(name, options.full))
    print(machine())
    print(table(found))
    for bench in found:
        print(f"{bench['bench']}: {bench['took_s']:.0f} s, peak {bench['peak_mb']} MB {bench['failed']}")
    print(f"all: {time.perf_counter() - start:.0f} s")
    if options.json:
        kept = json.loads(options.json.read_text())["benches"] if options.only and options.json.exists() else []
        # Each bench is a run of its own: some measured anew take the place of theirs, the others stay.
        benches = [bench for bench in kept if bench["bench"] not in names and bench["bench"] in there] + found
        benches.sort(key=lambda bench: bench["bench"])
        options.json.write_text(json.dumps({"machine": machine(), "benches": benches}, indent=1) + "\n")
    missed = any(bench["failed"] or any(row["met"] is False for row in bench["rows"]) for bench in found)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
