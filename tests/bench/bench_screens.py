"""By hand: python3 -m tests.bench.bench_screens [cpu] [prompts] [early] [start] [memory]

What the screens cost, as ratios in one run, rendered offscreen by the software OpenGL. Nothing here was run on
a handheld, whose graphics chip, sleep and battery are another matter. What is compared runs in turn, so that the mood
of the machine falls on all alike; all run with compiled modules, as on a handheld, after one run that is not counted.

cpu      the whole app with 50 running soaks on its Bench against 8 labels of plain Kivy updated at 1 Hz (at most 1.5)
prompts  how late a prompt is noticed with 50 soaks and taps going on: median, p99 (under 50 ms), most
early    10,000 prompts on a simulated clock, woken up to 11 ms early as Kivy's clock does: how many came early (none)
start    from process start to a drawn Bench: a young record, one with ten years behind the same bench (at most 1.2), a
         bare Kivy app (at most 2); an empty record is given beside them
memory   resident memory over 1,000 changes of page: first, last, growth after the first hundred
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median

from tests.bench.screen_jobs import SECONDS

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

    def run(self, job: str, *arguments: str) -> dict[str, float]:
        """What one job measured of itself."""
        command = [sys.executable, "-m", "tests.bench.screen_jobs", job, str(time.time()), *arguments]
        done = subprocess.run(command, cwd=ROOT, env=self._environment, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(done.stderr)
        return dict(json.loads(done.stdout.splitlines()[-1]))

    def in_turn(self, jobs: Mapping[str, Sequence[str]], times: int) -> dict[str, dict[str, float]]:
        """The median of each figure of each job, run in turn; the first round is not counted."""
        found: dict[str, list[dict[str, float]]] = {name: [] for name in jobs}
        for number in range(times + 1):
            for name, job in jobs.items():
                answer = self.run(*job)
                if number:
                    found[name].append(answer)
        return {name: {key: median(a[key] for a in answers) for key in answers[0]} for name, answers in found.items()}


def cpu(children: Children) -> None:
    """Three rounds of each, in turn; the first is not counted."""
    jobs = {"labels": ["labels"], "soaks": ["soaks", str(children.folder / "sounds")]}
    found = children.in_turn(jobs, 3)
    labels, soaks = found["labels"]["cpu_s"], found["soaks"]["cpu_s"]
    print(f"cpu: 8 labels {labels / SECONDS:.2%}, the app with 50 soaks {soaks / SECONDS:.2%} of one core")
    print(f"cpu ratio {soaks / labels:.2f} (at most 1.5)")


def start(children: Children) -> None:
    """Seven rounds of each, in turn."""
    from data.opening import open_door, shipped_shelf
    from data.real_disk import RealDisk
    from data.rehearse.scene import scene_clock
    from tests.bench.bench_record import ten_years

    homes = {name: children.folder / name for name in ("empty", "young", "old")}
    ten_years(homes["old"])
    young = homes["young"]
    shutil.copytree(
        homes["old"], young, ignore=lambda _, names: [n for n in names if n[:4].isdigit() and n < "2026-W48"]
    )
    disk = RealDisk(homes["empty"])
    open_door(disk, scene_clock(), shipped_shelf(), "bench")
    disk.close()
    found = children.in_turn({"bare": ["bare"], **{name: ["start", str(homes[name])] for name in homes}}, 7)
    for what, name in (("wall", "start_s"), ("CPU", "cpu_s")):
        bare, empty, young_s, old = (found[job][name] for job in ("bare", "empty", "young", "old"))
        print(f"start, {what}: bare {bare:.2f} s, empty {empty:.2f} s, young {young_s:.2f} s, ten years {old:.2f} s")
        print(
            f"start ratios, {what}: ten years to young {old / young_s:.2f} (at most 1.2), to bare {old / bare:.2f} "
            f"(at most 2), to empty {old / empty:.2f}"
        )


def main() -> None:
    wanted = sys.argv[1:] or ["cpu", "prompts", "early", "start", "memory"]
    with tempfile.TemporaryDirectory(dir=ROOT.parent) as name:
        children = Children(Path(name))
        if "cpu" in wanted:
            cpu(children)
        for job, limit in (("prompts", "p99 under 50 ms"), ("early", "none early"), ("memory", "flat")):
            if job in wanted:
                sounds = [str(children.folder / "sounds")] if job == "prompts" else []
                print(f"{job}:", {k: round(v, 1) for k, v in children.run(job, *sounds).items()}, f"({limit})")
        if "start" in wanted:
            start(children)


if __name__ == "__main__":
    main()
