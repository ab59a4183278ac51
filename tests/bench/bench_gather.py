"""By hand: python3 -m tests.bench.bench_gather [WEEKS]

Gathering of so many handheld-weeks (1,000) of 84 cycles each into PostgreSQL, against COPY of the same rows into the
same tables, by the same server in the same run: half of COPY's speed is the aim. And the peak memory of gathering a
tenth of them and all of them, which should be the same.

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
from tests.send.database import programs, server

CYCLES_A_WEEK = 84
GATHERING = """
import resource, sys, time
from pathlib import Path
from data.unit_gather import gather
from data.unit_gather.postgres import PostgresUnit
start = time.perf_counter()
result = gather([Path(path) for path in sys.argv[2:]], PostgresUnit(sys.argv[1]), None, lambda line: None)
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
sys.exit(str(result) if result.refused or result.conflicts else 0)
"""


def template() -> dict[str, bytes]:
    """One week of about CYCLES_A_WEEK cycles, rehearsed."""
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
    unit.close()
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
    return took


def emptied(address: str) -> None:
    import psycopg

    with psycopg.connect(address, autocommit=True) as base:
        base.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
        base.execute("CHECKPOINT")


def gather_run(address: str, folders: list[Path]) -> tuple[float, float]:
    """Seconds of gathering and peak memory (MB) of a process of its own that gathers these."""
    command = [sys.executable, "-c", GATHERING, address, *map(str, folders)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    seconds, peak_mb = map(float, done.stdout.split())
    return seconds, peak_mb


def main() -> None:
    weeks = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    bin_folder = programs()
    if bin_folder is None:
        raise SystemExit("PostgreSQL is not installed: apt-get install postgresql")
    files = template()
    cycles = json.loads(files[MANIFEST])["counts"]
    print(f"one week: {cycles}")
    folder = Path(tempfile.mkdtemp(prefix="basinbell-bench-"))
    try:
        folders = []
        for number in range(weeks):
            target = folder / f"{number:04d}" / "2026-W48"
            for name, content in repeated(files, number).items():
                (target / name).parent.mkdir(parents=True, exist_ok=True)
                (target / name).write_bytes(content)
            folders.append(target)
        size = sum(path.stat().st_size for path in folder.rglob("*"))
        print(f"{weeks} handheld-weeks, {weeks * cycles['cycles']} cycles, {size / 1e9:.2f} GB")
        with server(bin_folder) as address:
            _, few_mb = gather_run(address, folders[: max(1, weeks // 10)])
            emptied(address)
            gathering_s, all_mb = gather_run(address, folders)
            again_s, _ = gather_run(address, folders)
            emptied(address)
            copying_s = copy_s(address, folders)
        print(f"COPY {copying_s:.1f} s, gathered {gathering_s:.1f} s, gathered again {again_s:.1f} s")
        print(f"speed against COPY {copying_s / gathering_s:.2f} (at least 0.5)")
        print(f"peak memory of a tenth {few_mb:.0f} MB, of all {all_mb:.0f} MB: ratio {all_mb / few_mb:.2f}")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
