"""What the screens cost, rendered offscreen by the software OpenGL; --full takes longer over it.

Nothing here was run on a handheld, whose graphics chip, sleep and battery are another matter. What is compared runs in
turn, so that the mood of the machine falls on all alike; all run with compiled modules, as on a handheld, after one run
that is not counted.

1. The whole app with 1, 12 and 50 running soaks on its Bench, against 8 labels of plain Kivy updated at 1 Hz: all it
   spends in a second, and a look with its redraw.
2. How late a prompt is called with 50 soaks and taps going on; how many of 10,000 prompts on a simulated clock come
   early, woken up to 11 ms early as Kivy's clock does.
3. From process start to a drawn Bench: a young record, one with ten years behind the same bench, a bare Kivy app.
4. Resident memory over 1,000 changes of page; --full: and over 24 simulated hours, a look at the clock each second.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from math import ceil
from pathlib import Path
from statistics import median
from typing import Any

from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from tests.bench.bench_command import EVENTS_A_WEEK, put_behind, rehearsed_week
from tests.bench.rows import Row

SOAKS = (1, 12, 50)
ROOT = Path(__file__).parent.parent.parent
ENVIRONMENT = {
    "KIVY_NO_ARGS": "1", "KIVY_NO_FILELOG": "1", "KIVY_NO_ENV_CONFIG": "1", "KIVY_LOG_MODE": "PYTHON",
    "SDL_VIDEODRIVER": "offscreen", "SDL_AUDIODRIVER": "dummy",
}  # fmt: skip


class Children:
    """Runs jobs in processes of their own, with caches in a folder that goes away with this."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        self._environment = {
            **kept, **ENVIRONMENT, "KIVY_HOME": str(folder / "kivy"), "XDG_CACHE_HOME": str(folder / "cache"),
            "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
        }  # fmt: skip
        (folder / "kivy").mkdir()

    def run(self, job: str, *arguments: str) -> dict[str, Any]:
        """What one job measured of itself."""
        command = [sys.executable, "-m", "tests.bench.screen_jobs", job, str(time.time()), *arguments]
        done = subprocess.run(command, cwd=ROOT, env=self._environment, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(done.stderr)
        return dict(json.loads(done.stdout.splitlines()[-1]))

    def in_turn(self, jobs: Mapping[str, Sequence[str]], times: int) -> dict[str, dict[str, float]]:
        """The median of each figure of each job, run in turn."""
        found: dict[str, list[dict[str, float]]] = {name: [] for name in jobs}
        for _ in range(times):
            for name, job in jobs.items():
                found[name].append(self.run(*job))
        return {name: {key: median(a[key] for a in answers) for key in answers[0]} for name, answers in found.items()}


def cpu(children: Children, full: bool) -> Iterator[Row]:
    """Promise the processor time of each bench against that of the labels."""
    seconds_s = 15 if full else 9
    sounds = str(children.folder / "sounds")
    jobs = {"labels": ["labels", str(seconds_s)]} | {
        f"{count}": ["soaks", str(count), sounds, str(seconds_s)] for count in SOAKS
    }
    for job in jobs.values():  # once for the caches of bytecode and for the sounds
        children.run(*job[:-1], "1")
    found = children.in_turn(jobs, 3 if full else 2)
    labels = found.pop("labels")
    for count, figures in found.items():
        spent_s, redraw_ms, peer_ms = figures["cpu_s"], _redraw_ms(figures), _redraw_ms(labels)
        yield Row(f"the app with {count} soaks, against 8 labels at 1 Hz: processor time of a second",
                  round(spent_s / labels["cpu_s"], 2), 1.5 if count == "50" else None,
                  f"{1000 * spent_s / seconds_s:.1f} ms; planning, on another thread and not counted, "
                  f"{figures['plan_ms']:.1f} ms",
                  f"{1000 * labels['cpu_s'] / seconds_s:.1f} ms")  # fmt: skip
        yield Row(f"the same: a redraw with {count} soaks, the look at the clock included",
                  round(redraw_ms / peer_ms, 2), None,
                  f"{redraw_ms:.1f} ms, {figures['look_ms']:.1f} of them the look", f"{peer_ms:.1f} ms")  # fmt: skip


def _redraw_ms(figures: Mapping[str, float]) -> float:
    return figures["look_ms"] + figures["draw_ms"]


def prompts(children: Children, full: bool) -> Iterator[Row]:
    """Promise how late prompts are noticed, and how many come early."""
    sounds = str(children.folder / "sounds")
    found = [children.run("prompts", sounds, "25")["late_ms"] for _ in range(8 if full else 2)]
    late_ms = sorted(one for run in found for one in run)
    p99_ms = late_ms[ceil(0.99 * len(late_ms)) - 1]
    said = f"median {median(late_ms):.0f}, most {late_ms[-1]:.0f} ms of {len(late_ms)} prompts"
    yield Row("a prompt is called late, with 50 soaks and taps: p99", round(p99_ms), 50, said, unit="ms")
    yield Row("the same: earliest", round(late_ms[0], 1), 0, unit="ms after it fell due", at_least=True)
    early = children.run("early")
    yield Row(f"prompts that come early, of {early['count']:,.0f} on a simulated clock", early["early"], 0, unit="")


def starts(children: Children, full: bool) -> Iterator[Row]:
    """Promise the start with ten years of record against a young one and a bare app."""
    homes = {name: children.folder / name for name in ("young", "old")}
    for home in homes.values():
        disk = RealDisk(home)
        rehearse(disk, Plan(hours=8), lambda line: None)
        disk.close()
    put_behind(homes["old"] / "journal", rehearsed_week(), 10 * 52 * EVENTS_A_WEEK)
    jobs = {"bare": ["bare"], **{name: ["start", str(home)] for name, home in homes.items()}}
    children.in_turn(jobs, 1)
    found = children.in_turn(jobs, 7 if full else 3)
    for what, name in (("wall", "start_s"), ("processor", "cpu_s")):
        bare, young, old = (found[job][name] for job in ("bare", "young", "old"))
        yield Row(f"start to a Bench with ten years of record, {what}, against a young record", round(old / young, 2),
                  1.2, f"{old:.2f} s", f"{young:.2f} s")  # fmt: skip
        yield Row(f"start to a Bench with ten years of record, {what}, against a bare window", round(old / bare, 2),
                  2.0, f"{old:.2f} s", f"{bare:.2f} s")  # fmt: skip


def memory(children: Children, full: bool) -> Iterator[Row]:
    """Promise how resident memory grows after the first hundred changes of page, or the first hour."""
    for job, of in (("memory", "1,000 changes of page"), *([("day", "24 simulated hours at 1 Hz")] if full else [])):
        found = children.run(job)
        first, last = found["early_mb"], found["last_mb"]
        yield Row(f"resident memory over {of}: last to early", round(last / first, 3), 1.02, f"{last:.1f} MB",
                  f"{first:.1f} MB")  # fmt: skip


def rows(full: bool) -> Iterator[Row]:
    """Promise all of it, in processes of their own."""
    with tempfile.TemporaryDirectory() as name:
        children = Children(Path(name))
        for part in (cpu, prompts, starts, memory):
            yield from part(children, full)
