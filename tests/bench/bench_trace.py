"""By hand: python3 -m tests.bench.bench_trace [FOLDER]

The look-back over records of 1, 3.2 and 10 years (ten: 50,000 cycles, 2.6 million events), each a real chained journal
made from one rehearsed stretch whose lines are numbered, dated and chained anew for every week. For each: the time to
make the index from nothing, then a whole process of the command line from a cold start with its index (median of nine,
and its peak memory) for answers of the same size; and the exponent of that time against the length of the record.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from math import log
from pathlib import Path
from statistics import median
from typing import Any

from data.journal import Journal
from data.line import NO_LINE_BEFORE, seal
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.trace_index import rebuilt

ROOT = Path(__file__).parent.parent.parent
FIRST_DAY = date(2016, 12, 5)  # a Monday
WEEKS = (52, 165, 522)
CYCLES_A_WEEK = 97
SCOPES = 24
AT_MOST_S, AT_MOST_MB, AT_MOST_EXPONENT = 0.5, 150, 0.1

ASK = """
import resource, sys
import main
code = main.main(sys.argv[1:])
print(code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)
"""


def template() -> list[dict[str, Any]]:
    """Promise the lines of as many whole cycles as a week has, in order, without checkpoints and boots."""
    disk = MemoryDisk()
    rehearse(disk, Plan(SCOPES, 48, 1), lambda line: None)
    lines = [line for line in Journal(disk).lines() if line["kind"] not in ("boot", "checkpoint")]
    ended = [line["refs"]["cycle"] for line in lines if line["data"].get("ends")][:CYCLES_A_WEEK]
    kept = set(ended)
    return [line for line in lines if _cycle(line) in kept or not _cycle(line)]


def _cycle(line: dict[str, Any]) -> str:
    own = f"{line['device']}-{line['seq']:06d}"
    return own if line["kind"] == "receive" else line["refs"].get("cycle", "")


def write_record(home: Path, weeks: int, lines: list[dict[str, Any]]) -> tuple[int, int]:
    """Promise a record of so many weeks; gives its cycles and lines. Each week repeats the work on its own days."""
    folder = home / "journal"
    folder.mkdir(parents=True)
    seq, prev, cycles = 0, NO_LINE_BEFORE, 0
    base = date.fromisoformat(lines[0]["wall"][:10])
    for number in range(weeks):
        monday = FIRST_DAY + timedelta(weeks=number)
        shift = monday - (base - timedelta(days=base.weekday()))
        week = "{}-W{:02d}".format(*monday.isocalendar()[:2])
        seq += 1
        checkpoint = {**_bare(lines[0]), "kind": "checkpoint", "subject": "", "refs": {}, "by": "", "data": {}}
        out = [seal({**checkpoint, "seq": seq, "prev": prev})]
        ids = {f"{line['device']}-{line['seq']:06d}": seq + 1 + place for place, line in enumerate(lines)}
        for line in lines:
            seq += 1
            refs = {name: f"rehearsal-{ids[text]:06d}" if text in ids else text for name, text in line["refs"].items()}
            if "case" in refs:
                refs["case"] = f"{week}-{refs['case']}"
            day = date.fromisoformat(line["wall"][:10]) + shift
            event = {**_bare(line), "refs": refs, "wall": day.isoformat() + line["wall"][10:]}
            out.append(seal({**event, "seq": seq, "prev": out[-1][1]}))
            cycles += bool(line["data"].get("ends"))
        prev = out[-1][1]
        (folder / f"{week}.jsonl").write_bytes(b"".join(line for line, _ in out))
    return cycles, seq


def _bare(line: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in line.items() if name not in ("hash", "seq", "prev")}


def questions(weeks: int, case: str) -> dict[str, list[str]]:
    """Promise questions whose answers are of the same size whatever the length of the record."""
    last = FIRST_DAY + timedelta(weeks=weeks - 1)
    week = "{}-W{:02d}".format(*last.isocalendar()[:2])
    recent = (last - timedelta(weeks=7)).isoformat()
    return {
        "one case": ["--case", f"{week}-{case}"],
        "a scope, 8 weeks": ["--scope", "B2", "--since", recent],
        "a person, 1 week": ["--person", "joss", "--since", last.isoformat()],
        "a bath, 1 week": ["--bath", "H1", "--since", last.isoformat()],
        "nothing there": ["--scope", "NONE"],
    }


def asked(home: Path, question: list[str]) -> tuple[float, float, float, int]:
    """Promise a whole process's seconds on the wall and on the processor, its peak memory (MB), lines of answer."""
    whole, processor, memory, lines = [], [], [], 0
    for _ in range(9):
        start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run([sys.executable, "-c", ASK, "--home", str(home), "trace", *question], cwd=ROOT,
                              check=True, capture_output=True, text=True)  # fmt: skip
        whole.append(time.perf_counter() - start)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        processor.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        code, peak = done.stderr.split()
        if code != ("1" if "NONE" in question else "0"):
            raise RuntimeError(f"{question} found nothing")
        memory.append(float(peak))
        lines = len(done.stdout.splitlines())
    return median(whole), median(processor), max(memory), lines


def main() -> None:
    base = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    lines = template()
    case = next(line["refs"]["case"] for line in lines if line["data"].get("ends"))
    found: dict[str, list[tuple[int, float, float]]] = {}
    with tempfile.TemporaryDirectory(dir=base) as name:
        for weeks in WEEKS:
            home = Path(name) / str(weeks)
            start = time.perf_counter()
            cycles, events = write_record(home, weeks, lines)
            made = time.perf_counter() - start
            start, before = time.perf_counter(), time.process_time()
            rebuilt(RealDisk(home), home).close()
            built, busy = time.perf_counter() - start, time.process_time() - before
            both = (home / "journal").iterdir(), home.glob("index*")
            sizes = [sum(p.stat().st_size for p in files) / 1e6 for files in both]
            print(f"{weeks} weeks: {cycles} cycles, {events} lines, {sizes[0]:.0f} MB (made in {made:.0f} s); "
                  f"index {sizes[1]:.0f} MB, built in {built:.0f} s, {busy:.0f} s of it on the processor")  # fmt: skip
            for what, question in questions(weeks, case).items():
                whole, processor, memory, length = asked(home, question)
                found.setdefault(what, []).append((events, whole, processor))
                print(f"  {what:18} {whole:.3f} s whole process (at most {AT_MOST_S}), {processor:.3f} s of it on the "
                      f"processor, {memory:.0f} MB (at most {AT_MOST_MB}), {length} lines of answer")  # fmt: skip
    for what, rows in found.items():
        (few, first, first_in), *_, (many, last, last_in) = rows
        whole, processor = (log(b / a) / log(many / few) for a, b in ((first, last), (first_in, last_in)))
        print(f"exponent of time against history, {what:18} {whole:+.3f} on the wall, {processor:+.3f} on the "
              f"processor (at most {AT_MOST_EXPONENT})")  # fmt: skip


if __name__ == "__main__":
    main()
