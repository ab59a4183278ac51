"""A whole process that opens the record, with none, 1 and 10 years behind it, with --full also 3.2, taken in turns.

Ten years are 2.6 million events; old segments are one rehearsed week under the names of earlier weeks. And a rehearsal
of 8 hours and 6 scopes. The growth is fitted over seconds on the processor, which a busy machine disturbs less than
those on the wall.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.scene import scene_clock
from tests.bench.bench_command import EVENTS_A_WEEK, put_behind, rehearsed_week
from tests.bench.rows import Row, growth, micro, seconds

ROOT = Path(__file__).parent.parent.parent
YEARS, MORE_YEARS = {"1 year": 52, "10 years": 520}, {"3.2 years": 165}
TURNS, AT_MOST, AT_MOST_EXPONENT, REHEARSAL_S, REHEARSAL_MB = 25, 1.2, 0.05, 5, 150

RESTART = """
import sys
from pathlib import Path
from data.opening import owned_door
from data.real_disk import RealDisk
from data.rehearse.scene import scene_clock
clock = scene_clock(); clock.advance(400000)
with owned_door(RealDisk(Path(sys.argv[1])), clock, "bench") as (door, _):
    door.unit
"""
REHEARSE = """
import main, re, sys
from pathlib import Path
code = main.main(["rehearse", "--out", sys.argv[1]])
print(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1], file=sys.stderr)
raise SystemExit(code)
"""


def process(program: str, folder: Path) -> str:
    """Promise what a whole process over the folder says on its standard error."""
    command = [sys.executable, "-c", program, str(folder)]
    return subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stderr


def processor_s() -> float:
    """Promise how long the processes that have ended were on the processor."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def rows(full: bool) -> Iterator[Row]:
    """Promise restart against an empty record, its growth, and the rehearsal's wall time and memory."""
    lengths = {**YEARS, **(MORE_YEARS if full else {})}
    with tempfile.TemporaryDirectory() as name:
        homes = {years: Path(name) / str(number) for number, years in enumerate(("empty", *lengths))}
        disk = RealDisk(homes["empty"])
        open_door(disk, scene_clock(), shipped_shelf(), "bench")
        disk.close()
        week = rehearsed_week()
        for years, weeks in lengths.items():
            disk = RealDisk(homes[years])
            rehearse(disk, Plan(hours=8), lambda line: None)
            disk.close()
            put_behind(homes[years] / "journal", week, weeks * EVENTS_A_WEEK)
        took: dict[str, list[float]] = {years: [] for years in homes}
        points = []
        for _ in range(TURNS):
            for years, home in homes.items():
                before = processor_s()
                took[years].append(seconds(lambda home=home: process(RESTART, home)))
                if years in lengths:
                    points.append((lengths[years] * EVENTS_A_WEEK, processor_s() - before))
        empty, ten = median(took["empty"]), median(took["10 years"])
        yield Row(
            "restart with 10 years against an empty record", round(ten / empty, 3), AT_MOST, micro(ten), micro(empty)
        )
        yield growth("restart", points, AT_MOST_EXPONENT, "events", in_turns=True)
        peaks: list[float] = []
        runs = []
        for _ in range(3):
            out = Path(name) / "shift"
            shutil.rmtree(out, ignore_errors=True)
            runs.append(seconds(lambda out=out: peaks.append(int(process(REHEARSE, out).split()[-1]) / 1024)))
        yield Row("rehearsal of 8 h and 6 scopes, all forms exported", round(median(runs), 2), REHEARSAL_S, unit="s")
        yield Row("rehearsal: peak memory", round(max(peaks)), REHEARSAL_MB, unit="MB")
