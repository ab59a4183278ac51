"""By hand: python3 -m tests.bench.bench_screens [cpu] [prompts] [early] [start] [memory]

What the screens cost, as ratios in one run, rendered offscreen by the software OpenGL. Nothing here was run on
a handheld, whose graphics chip, sleep and battery are another matter.

cpu      50 running soaks on the Bench against 8 labels updated at 1 Hz: CPU seconds of each (at most 1.5)
prompts  how late a prompt is noticed with 50 soaks and taps going on: median, p99 (under 50 ms), most
early    10,000 prompts on a simulated clock, woken up to 11 ms early as Kivy's clock does: how many came early (none)
start    from process start to a drawn Bench: empty record, ten years of record (at most 1.2), bare window (at most 2)
memory   resident memory over 1,000 changes of page: first, last, growth after the first hundred
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median

ROOT = Path(__file__).parent.parent.parent
SECONDS = 20
ENVIRONMENT = {
    "KIVY_NO_ARGS": "1", "KIVY_NO_FILELOG": "1", "KIVY_NO_ENV_CONFIG": "1", "KIVY_LOG_MODE": "PYTHON",
    "SDL_VIDEODRIVER": "offscreen", "SDL_AUDIODRIVER": "dummy",
}  # fmt: skip


def child(job: str, *arguments: str) -> dict[str, float]:
    """What one job of this file measures of itself, in a process of its own."""
    with tempfile.TemporaryDirectory() as home:
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.bench_screens", "--job", job, str(time.time()), *arguments],
            cwd=ROOT, env={**os.environ, **ENVIRONMENT, "KIVY_HOME": home}, capture_output=True, text=True,
        )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stderr)
    return dict(json.loads(done.stdout.splitlines()[-1]))


def window():
    """The window of a phone, made as the app makes it."""
    from kivy.config import Config

    for name, value in (("width", "412"), ("height", "892"), ("maxfps", "30"), ("multisamples", "0")):
        Config.set("graphics", name, value)
    from kivy.core.window import Window

    return Window


def soaking_door(count: int, folder: Path | None = None, long: bool = False):
    """A door with that many scopes in detergent, to become ready over the next minute; in disinfectant for `long`."""
    from data.memory_disk import MemoryDisk
    from data.opening import open_door, shipped_shelf
    from data.real_disk import RealDisk
    from data.rehearse.scene import Place
    from data.system_clock import SystemClock
    from protocols.cycle import State
    from screens.demo import Point, SetBackClock, length_s, set_bench

    chance = Random(1)
    step, last_s = ("disinfectant-soak", 560) if long else ("detergent-soak", 55)
    points = [
        Point(Place(f"B{n}", "bronchoscope-1", "bronchoscopy"), step, State.IN, chance.uniform(1, last_s))
        for n in range(2, count + 2)
    ]
    clock = SystemClock()
    plan, back_s = length_s(shipped_shelf(), points, clock.read().wall_ms)
    set_back = SetBackClock(clock, back_s)
    disk = RealDisk(folder) if folder else MemoryDisk()
    door = open_door(disk, set_back, shipped_shelf(), "bench")
    set_bench(door, set_back.advance, points, [], plan, back_s, set_back)
    set_back.arrive()
    return door, disk


def run_for(seconds: float, tick) -> float:
    """CPU seconds of Kivy's loop over so many seconds, `tick` called once a second, after a second of settling."""
    from kivy.app import runTouchApp, stopTouchApp
    from kivy.clock import Clock

    spent = []
    Clock.schedule_interval(lambda _: tick(), 1.0)
    Clock.schedule_once(lambda _: spent.append(time.process_time()), 2.0)
    Clock.schedule_once(lambda _: (spent.append(time.process_time()), stopTouchApp()), 2.0 + seconds)
    runTouchApp()
    return spent[1] - spent[0]


def job_labels() -> dict[str, float]:
    shown = window()
    from kivy.uix.boxlayout import BoxLayout
    from kivy.uix.label import Label

    box, labels = BoxLayout(orientation="vertical"), [Label(font_size=32) for _ in range(8)]
    for label in labels:
        box.add_widget(label)
    shown.add_widget(box)
    start = time.monotonic()

    def tick() -> None:
        for n, label in enumerate(labels):
            label.text = f"{n}:{time.monotonic() - start:06.2f}"

    return {"cpu_s": run_for(SECONDS, tick)}


def job_soaks() -> dict[str, float]:
    door, disk = soaking_door(50, long=True)
    shown = window()
    from screens.app import build
    from screens.desk import Desk

    shell = build(Desk(door, "joss"), disk)
    shown.add_widget(shell)
    shell.go("bench")
    return {"cpu_s": run_for(SECONDS, shell.tick)}


def job_prompts() -> dict[str, float]:
    with tempfile.TemporaryDirectory(dir=ROOT.parent) as folder:
        door, disk = soaking_door(50, Path(folder))
        window()
        from kivy.clock import Clock

        from screens.app import build
        from screens.desk import Desk
        from screens.frame import BasinbellApp
        from screens.senses.choose import senses_for

        late, seen, chance = [], set(), Random(2)
        senses = senses_for("linux", Path(folder) / "sounds")
        app = BasinbellApp(lambda apply: build(Desk(door, "joss"), disk, apply), senses, disk)
        beat = app._prompting.beat

        def watched(shell) -> None:
            for prompt in shell.desk.prompts():
                if prompt.kind == "soak" and prompt.level.name == "READY" and prompt.key not in seen:
                    seen.add(prompt.key)
                    late.append(prompt.over_s)
            beat(shell)

        app._prompting.beat = watched
        app._shell.on_beat[0] = watched
        tags = list(door.unit.cycles)
        Clock.schedule_interval(
            lambda _: app._shell.give("note", chance.choice(tags), {"what": "other", "text": "tap"}), 0.3
        )
        started = door.now()
        first = {p.key for p in app._shell.desk.prompts()}
        seen.update(first)
        Clock.schedule_once(lambda _: app.stop(), 62)
        app.run()
        senses.close()
        disk.close()
        del started
    late.sort()
    return {"count": len(late), "median_ms": median(late) * 1000, "p99_ms": late[int(len(late) * 0.99)] * 1000,
            "most_ms": late[-1] * 1000, "least_ms": late[0] * 1000}  # fmt: skip


def job_early() -> dict[str, float]:
    from protocols.clock import Stamp
    from protocols.prompts import due, next_in_s
    from protocols.unit import Cycle, Settings, Timer, Unit

    chance, zero, early, count = Random(3), Stamp(0, 0, 0), 0, 0
    while count < 10_000:
        cycles = {}
        for n in range(50):
            least = chance.randrange(120_000, 1_500_000) / 1000
            timer = Timer("soak", Stamp(-chance.randrange(100_000), 0, 0), least, least + chance.randrange(60, 600))
            cycles[f"B{n}"] = Cycle(f"c{n}", f"B{n}", "", "", zero, "soak", zero, 1, "start", zero, timer=timer)
        unit, now_ms, seen = Unit(settings=Settings(), cycles=cycles), 0.0, set()
        while (wait_s := next_in_s(unit, Stamp(int(now_ms), int(now_ms), 0))) is not None:
            now_ms += max(1.0, wait_s * 1000 + chance.uniform(-11, 30))
            now = Stamp(int(now_ms), int(now_ms), 0)
            for prompt in due(unit, now):
                if prompt.key in seen:
                    continue
                seen.add(prompt.key)
                count += 1
                timer = cycles[prompt.scope].timer
                passed = (now.proven_ms - timer.since.proven_ms) / 1000
                begins = {"SOON": timer.min_s - 60, "READY": timer.min_s, "LATE": timer.max_s, "VERY_LATE": timer.max_s}
                clock = passed if prompt.level.name in ("SOON", "READY") else now.longest_ms / 1000
                early += clock < begins[prompt.level.name]
    return {"count": count, "early": early}


def _drawn(started: float) -> dict[str, float]:
    from kivy.base import EventLoop
    from kivy.core.window import Window

    EventLoop.start()
    for _ in range(3):
        EventLoop.idle()
    Window.dispatch("on_draw")
    return {"start_s": time.time() - started}


def job_bare(started: float) -> dict[str, float]:
    shown = window()
    from kivy.uix.label import Label

    shown.add_widget(Label(text="Basinbell"))
    return _drawn(started)


def job_start(started: float, folder: str) -> dict[str, float]:
    from data.opening import owned_door
    from data.real_disk import RealDisk
    from data.rehearse.scene import scene_clock

    clock = scene_clock()
    clock.advance(400_000)
    with owned_door(RealDisk(Path(folder)), clock, "bench") as (door, _):
        shown = window()
        from screens.app import build
        from screens.desk import Desk

        shell = build(Desk(door, "joss"), door.texts._disk)
        shown.add_widget(shell)
        shell.land()
        return _drawn(started)


def job_memory() -> dict[str, float]:
    door, disk = soaking_door(12)
    shown = window()
    from kivy.base import EventLoop

    from screens.app import build
    from screens.desk import Desk

    shell = build(Desk(door, "joss"), disk)
    shown.add_widget(shell)
    EventLoop.start()
    pages = [
        ("bench", {}),
        ("steps", {"tag": "B2"}),
        ("watch", {}),
        ("ledger", {}),
        ("setup", {}),
        ("steps", {"tag": "B3"}),
    ]
    sizes = []
    for n in range(1000):
        key, what = pages[n % len(pages)]
        shell.go(key, **what)
        shell.tick()
        EventLoop.idle()
        sizes.append(int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6)
    return {"first_mb": sizes[0], "after_100_mb": sizes[100], "last_mb": sizes[-1]}


def main() -> None:
    wanted = sys.argv[1:] or ["cpu", "prompts", "early", "start", "memory"]
    if "cpu" in wanted:
        labels, soaks = child("labels")["cpu_s"], child("soaks")["cpu_s"]
        print(f"cpu: 8 labels {labels / SECONDS:.2%}, 50 soaks {soaks / SECONDS:.2%} of one core")
        print(f"cpu ratio {soaks / labels:.2f} (at most 1.5)")
    if "prompts" in wanted:
        print("prompts:", {k: round(v, 1) for k, v in child("prompts").items()}, "(p99 under 50 ms)")
    if "early" in wanted:
        print("early:", child("early"), "(none)")
    if "start" in wanted:
        _start()
    if "memory" in wanted:
        print("memory:", {k: round(v, 1) for k, v in child("memory").items()}, "(flat)")


def _start() -> None:
    from data.opening import open_door, shipped_shelf
    from data.real_disk import RealDisk
    from data.rehearse.scene import scene_clock
    from tests.bench.bench_record import ten_years

    with tempfile.TemporaryDirectory(dir=ROOT.parent) as name:
        folder = Path(name)
        ten_years(folder / "old")
        disk = RealDisk(folder / "empty")
        open_door(disk, scene_clock(), shipped_shelf(), "bench")
        disk.close()
        bare = median(child("bare")["start_s"] for _ in range(5))
        empty = median(child("start", str(folder / "empty"))["start_s"] for _ in range(5))
        old = median(child("start", str(folder / "old"))["start_s"] for _ in range(5))
    print(f"start: bare window {bare:.2f} s, empty record {empty:.2f} s, ten years {old:.2f} s")
    print(f"start ratios: ten years to empty {old / empty:.2f} (at most 1.2), to bare {old / bare:.2f} (at most 2)")


JOBS = {
    "labels": lambda *_: job_labels(), "soaks": lambda *_: job_soaks(), "prompts": lambda *_: job_prompts(),
    "early": lambda *_: job_early(), "bare": lambda started: job_bare(float(started)),
    "start": lambda started, folder: job_start(float(started), folder), "memory": lambda *_: job_memory(),
}  # fmt: skip

if __name__ == "__main__":
    if sys.argv[1:2] == ["--job"]:
        print(json.dumps(JOBS[sys.argv[2]](*sys.argv[3:])))
    else:
        main()
