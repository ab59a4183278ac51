"""What the start loads, in fresh processes by turns, medians of five: time of importing and resident memory after it.

bare    a window of Kivy and nothing else
engine  the engine with its record, without a screen
bench   the app up to a Bench on the screen of a new record

The app's own share is bench less bare. Then the modules of the app that cost most by themselves. Nothing here
was run on a handheld: there the processor is slower, and Python is compiled ahead with -OO.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from tests.bench.rows import Row, micro

ROOT = Path(__file__).parent.parent.parent
TURNS = 5
_MEMORY = "\nimport re; print(re.search(r'VmRSS:\\s+(\\d+)', open('/proc/self/status').read())[1])"
_BENCH = """
import sys, screens.app as app
from kivy.app import App
from kivy.clock import Clock
real = app.build
def build(*given):
    shell = real(*given)
    Clock.schedule_once(lambda _: App.get_running_app().stop(), 0)
    return shell
app.build = build
import main
main.main(["--home", sys.argv[1]])
"""
JOBS = {
    "bare": "from kivy.core.window import Window\nfrom kivy.core.audio import SoundLoader",
    "engine": "import data.opening, data.system_clock, data.real_disk\ndata.opening.shipped_shelf()",
    "bench": _BENCH,
}


def run(job: str, *flags: str) -> tuple[float, int, str]:
    """Seconds of processor time, resident KiB, and what Python said of its imports."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            **os.environ, "KIVY_NO_ARGS": "1", "KIVY_HOME": folder, "XDG_CACHE_HOME": folder, "KIVY_NO_FILELOG": "1",
            "KIVY_LOG_MODE": "PYTHON", "SDL_VIDEODRIVER": "offscreen", "SDL_AUDIODRIVER": "dummy",
        }  # fmt: skip
        before = os.times()
        done = subprocess.run(
            [sys.executable, *flags, "-c", JOBS[job] + _MEMORY, f"{folder}/home"],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=True,
        )  # fmt: skip
        after = os.times()
    spent_s = after.children_user + after.children_system - before.children_user - before.children_system
    return spent_s, int(done.stdout.split()[-1]), done.stderr


def rows(full: bool) -> Iterator[Row]:
    """Promise what engine and Bench take of a bare window, and the costliest of the app's own modules."""
    for job in JOBS:  # once for the caches of bytecode
        run(job)
    found: dict[str, list[tuple[float, int]]] = {job: [] for job in JOBS}
    for _ in range(TURNS):
        for job in JOBS:
            found[job].append(run(job)[:2])
    bare_s, bare_kib = (median(column) for column in zip(*found.pop("bare"), strict=True))
    for job, turns in found.items():
        spent_s, kib = (median(column) for column in zip(*turns, strict=True))
        yield Row(f"start of the {job}: processor time against a bare window", round(spent_s / bare_s, 2), None,
                  micro(spent_s), micro(bare_s))  # fmt: skip
        yield Row(f"start of the {job}: memory against a bare window", round(kib / bare_kib, 2), None,
                  f"{kib / 1024:.0f} MB", f"{bare_kib / 1024:.0f} MB")  # fmt: skip
    _, _, said = run("bench", "-X", "importtime")
    lines = re.findall(r"import time:\s+(\d+) \|\s+\d+ \|\s+((?:protocols|data|screens|tinydb)(?:\.\S+)?)\n", said)
    total_us = sum(int(us) for us, _ in re.findall(r"import time:\s+(\d+) \|\s+\d+ \|\s+(\S+)", said))
    own_us = sum(int(us) for us, _ in lines)
    costly = ", ".join(name for _, name in sorted(((int(us), name) for us, name in lines), reverse=True)[:5])
    yield Row(f"the app's own {len(lines)} modules of the time of all imports", round(100 * own_us / total_us), None,
              f"the costliest: {costly}", unit="%")  # fmt: skip
