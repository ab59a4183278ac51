"""Gathering of 20 handheld-weeks (--full: 1,000) of 84 cycles each into PostgreSQL, against COPY of the same rows.

COPY goes into the same tables; half of its speed is the aim. Both run by turns, a batch each, on databases of their own
of one server, so that whatever else the machine does meets both alike. One process gathers all batches; its peak memory
after the first and after the last should be the same.

The exports are made by rehearsing one shift, and repeating it under other devices and weeks; each is signed anew and
its chain sealed anew, so that all checks have their full work. Needs the extra `unit` and Debian's `postgresql`.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from data.exporters.chain_files import chain_span
from data.exporters.manifest import MANIFEST, SIGNATURE, with_manifest
from data.exporters.week_forms import week_forms
from data.line import NO_LINE_BEFORE, TAIL_LENGTH
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.signing import signer
from data.unit_gather.found import TABLES, open_export
from data.unit_gather.postgres import SCHEMA, PostgresUnit
from tests.bench.rows import Row, growth, micro
from tests.send.database import programs, server

BATCHES = 10
# Reads a batch of folders as one line, gathers it, and says seconds and peak memory (MB); conflicts at the end only.
GATHERING = """
import resource, sys, time
from pathlib import Path
from data.unit_gather import gather
from data.unit_gather.postgres import PostgresUnit
class Batch:
    def __init__(self, unit): self.knows, self.take, self.unit = unit.knows, unit.take, unit
    def finish(self): return []
unit = PostgresUnit(sys.argv[1])
for line in sys.stdin:
    start = time.perf_counter()
    if line.strip():
        result = gather([Path(path) for path in line.split()], Batch(unit), None, lambda line: None)
        wrong = result.refused
    else:
        wrong = unit.finish()
    took = time.perf_counter() - start
    print(took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, flush=True)
    if wrong: sys.exit(str(wrong[:3]))
"""


def template() -> dict[str, bytes]:
    """One week of about 84 cycles, rehearsed."""
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(12, 40, 5), lambda line: None)
    return week_forms(disk, door.journal, door.journal.segments()[0], signer(bytes(32)))


def renamed(content: bytes, device: str) -> bytes:
    """The bytes with another device, and scopes with serials of their own."""
    content = content.replace(b"rehearsal-0", device.encode() + b"-0").replace(b'"rehearsal"', f'"{device}"'.encode())
    return content.replace(b"S-01", device.encode() + b"-S-01")


def sealed_again(lines: bytes, prev: str) -> tuple[bytes, str]:
    """The lines with hashes and predecessors that fit to their changed bytes; the last hash."""
    made, before = [], ""
    for line in lines.splitlines():
        body = line[: -TAIL_LENGTH + 1] + b"}"
        body = body.replace(before.encode(), prev.encode()) if before else body
        before, prev = line[-66:-2].decode(), sha256(body).hexdigest()
        made.append(body[:-1] + b',"hash":"' + prev.encode() + b'"}\n')
    return b"".join(made), prev


def repeated(files: dict[str, bytes], number: int) -> dict[str, bytes]:
    """The same week as another handheld would have it."""
    device = f"bench{number:04d}"
    made = {
        name: renamed(content, device)
        for name, content in files.items()
        if name not in (MANIFEST, SIGNATURE, "week.pdf")
    }
    prev = NO_LINE_BEFORE
    for name in sorted(name for name in made if name.startswith("chain/")):
        made[name], prev = sealed_again(made[name], prev)
    old = json.loads(files[MANIFEST])
    seq, before, count = chain_span(made)
    said = {k: v for k, v in old.items() if k not in ("v", "key", "files")} | {
        "device": device, "head": prev, "first_seq": seq, "before": before, "unit": f"unit {number}",
        "counts": {**old["counts"], "lines": count},
    }  # fmt: skip
    return with_manifest(made, said, signer(sha256(device.encode()).digest()))


def copy_s(address: str, folders: list[Path]) -> float:
    """Seconds that COPY takes for the same rows, one transaction an export, as gathering has it."""
    import psycopg

    unit = PostgresUnit(address)
    took = 0.0
    with psycopg.connect(address, options=f"-c search_path={SCHEMA}") as base:
        for folder in folders:
            export = open_export(folder, None)
            tables = {name: unit._table(name, export.read(name), export) for name in TABLES}
            start = time.perf_counter()
            with base.cursor() as cursor:
                for name, (columns, rows) in tables.items():
                    names = ", ".join(f'"{column}"' for column in columns)
                    with cursor.copy(f"COPY {name.removesuffix('.csv')} ({names}) FROM STDIN (FORMAT csv)") as copy:
                        copy.write(rows)
            base.commit()
            took += time.perf_counter() - start
    unit.close()
    return took


def second_database(address: str) -> str:
    """The address of another, empty database of the same server."""
    import psycopg

    with psycopg.connect(address, autocommit=True) as base:
        base.execute("CREATE DATABASE plain")
    return address.rsplit("/", 1)[0] + "/plain"


def made(files: dict[str, bytes], folder: Path, numbers: range) -> list[Path]:
    """Those exports in folders of their own."""
    found = []
    for number in numbers:
        target = folder / f"{number:04d}" / "2026-W48"
        for name, content in repeated(files, number).items():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(content)
        found.append(target)
    return found


def rows(full: bool) -> Iterator[Row]:
    """Promise the speed against COPY and the memory; none where PostgreSQL is not installed."""
    bin_folder = programs()
    if bin_folder is None:
        raise SystemExit("PostgreSQL is not installed: apt-get install postgresql")
    files = template()
    cycles = json.loads(files[MANIFEST])["counts"]["cycles"]
    folder = Path(tempfile.mkdtemp(prefix="basinbell-bench-"))
    try:
        with server(bin_folder) as address:
            yield from by_turns(files, folder, 1000 if full else 20, cycles, address, second_database(address))
    finally:
        shutil.rmtree(folder)


def by_turns(files: dict[str, bytes], folder: Path, weeks: int, cycles: int, address: str, plain: str) -> Iterator[Row]:
    """Gathers and copies batch after batch, and says what it comes to."""
    command = [sys.executable, "-c", GATHERING, address]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as gathering:
        assert gathering.stdin is not None and gathering.stdout is not None
        into, out = gathering.stdin, gathering.stdout

        def ask(line: str) -> tuple[float, float]:
            into.write(line + "\n")
            into.flush()
            took_s, peak_mb = map(float, out.readline().split())
            return took_s, peak_mb

        gathered_s = copied_s = 0.0
        points, peaks = [], []
        size = max(1, weeks // BATCHES)
        for start in range(0, weeks, size):
            folders = made(files, folder, range(start, min(start + size, weeks)))
            took_s, peak_mb = ask(" ".join(map(str, folders)))
            gathered_s += took_s
            copied_s += copy_s(plain, folders)
            points.append((start + size, took_s))
            peaks.append((start + size, peak_mb))
            for one in folders:
                shutil.rmtree(one.parent)
        finish_s, _ = ask("")
        into.close()
    of = f"{weeks} handheld-weeks, {weeks * cycles:,} cycles"
    yield Row(f"gather, {of}: speed against COPY of the same rows", round(copied_s / gathered_s, 2), 0.5,
              micro(gathered_s), micro(copied_s), at_least=True)  # fmt: skip
    yield Row(f"gather, {of}: with all conflicts listed", round(copied_s / (gathered_s + finish_s), 2), None,
              micro(gathered_s + finish_s), micro(copied_s))  # fmt: skip
    yield growth("gather, a batch by what was gathered before", points, 0.1 if weeks > 100 else None, "handheld-weeks")
    yield growth("gather, peak memory", peaks, 0.1, "handheld-weeks")
