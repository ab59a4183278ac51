"""The jobs of bench_screens, each in a process of its own: python3 -m tests.bench.screen_jobs JOB STARTED [VALUES]

Each prints what it measured of itself as one line of JSON. STARTED is the wall time at which the process was asked for.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

from tests.bench.screen_memory import job_day, job_memory
from tests.bench.screen_stage import PLANNING_S, SETTLING_S, phone, soaking_door, spent_by, the_app


def _timed(of: Any, name: str) -> list[float]:
    """The list that gets the processor seconds of each call of a method from now on."""
    real, spent = getattr(of, name), []

    def timed(*given: Any) -> Any:
        begun = time.process_time()
        answer = real(*given)
        spent.append(time.process_time() - begun)
        return answer

    setattr(of, name, timed)
    return spent


def job_labels(_: str, seconds_s: str) -> dict[str, float]:
    """8 labels of plain Kivy, updated once a second."""
    phone()
    from kivy.app import App
    from kivy.clock import Clock
    from kivy.core.window import Window
    from kivy.uix.boxlayout import BoxLayout
    from kivy.uix.label import Label

    box, labels = BoxLayout(orientation="vertical"), [Label(font_size=32) for _ in range(8)]
    for label in labels:
        box.add_widget(label)
    start, looks, drawings = time.monotonic(), [], _timed(Window, "on_draw")

    def tick(_: float) -> None:
        begun = time.process_time()
        for n, label in enumerate(labels):
            label.text = f"{n}:{time.monotonic() - start:06.2f}"
        looks.append(time.process_time() - begun)

    class Labels(App):
        def build(self) -> BoxLayout:
            Clock.schedule_interval(tick, 1.0)
            return box

    spent_s = spent_by(Labels(), float(seconds_s))
    return {"cpu_s": spent_s, "look_ms": 1000 * median(looks), "draw_ms": 1000 * median(drawings)}


def job_soaks(_: str, count: str, folder: str, seconds_s: str) -> dict[str, float]:
    """The whole app with running soaks on its Bench; what a look at the clock takes, and what the drawing after it."""
    door, disk = soaking_door(int(count))
    app = the_app(door, disk, Path(folder))
    from kivy.core.window import Window

    shell = app._shell
    shell.land = lambda: (shell.see(), shell.go("bench"))
    looks, drawings = _timed(shell, "tick"), _timed(Window, "on_draw")
    settling_s = PLANNING_S if int(count) > 12 else SETTLING_S
    spent_s = spent_by(app, float(seconds_s), settling_s)
    plan = shell.planning.latest
    # One plan in minutes hardly ever falls into the seconds measured: its cost is told apart.
    return {
        "cpu_s": spent_s,
        "look_ms": 1000 * median(looks),
        "draw_ms": 1000 * median(drawings),
        "plan_ms": 1000 * plan.cost_s / plan.good_for_s,
    }


def job_prompts(_: str, sounds: str, seconds_s: str) -> dict[str, list[float]]:
    """How many ms late each of 50 soaks is called that is over, while somebody taps three times a second."""
    with tempfile.TemporaryDirectory(dir=Path(sounds).parent) as folder:
        door, disk = soaking_door(50, Path(folder), float(seconds_s) - 5)
        app = the_app(door, disk, Path(sounds))
        from kivy.clock import Clock

        late_ms, chance, desk, crier = [], Random(2), app._shell.desk, app._prompting.crier
        tick = crier.tick

        def over_s() -> dict[str, float]:
            """What is ready now and for how long, by the keys of the crier."""
            return {f"{one.cycle}|{one.step}|soak": one.over_s for one in desk.prompts()
                    if (one.kind, one.level.name) == ("soak", "READY")}  # fmt: skip

        seen = set(over_s())

        def heard(standing: Any, now_s: float) -> Any:
            ready = over_s()
            for one in standing:
                if one.level == "ready" and one.key in ready and one.key not in seen:
                    seen.add(one.key)
                    late_ms.append(1000 * ready[one.key])
            return tick(standing, now_s)

        crier.tick = heard
        tags = list(door.unit.cycles)
        note = {"what": "other", "text": "tap"}
        Clock.schedule_interval(lambda _: app._shell.give("note", chance.choice(tags), note), 0.3)
        Clock.schedule_once(lambda _: app.stop(), float(seconds_s))
        app.run()
        disk.close()
    return {"late_ms": late_ms}


def job_early(*_: str) -> dict[str, float]:
    """10,000 prompts on a simulated clock, woken up to 11 ms early as Kivy's clock does."""
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


def _in_second_frame(app: Callable[[], Any], started: float, found: dict[str, float]) -> None:
    from kivy.clock import Clock

    def drawn(_: float) -> None:
        found["start_s"], found["cpu_s"] = time.time() - started, time.process_time()
        app().stop()

    Clock.schedule_once(lambda _: Clock.schedule_once(drawn, 0), 0)


def job_bare(started: str) -> dict[str, float]:
    """A Kivy app with one label, from the start of its process to its second frame."""
    found: dict[str, float] = {}
    phone()
    from kivy.app import App
    from kivy.uix.label import Label

    class Bare(App):
        def build(self) -> Label:
            _in_second_frame(lambda: self, float(started), found)
            return Label(text="Basinbell")

    Bare().run()
    return found


def job_start(started: str, folder: str) -> dict[str, float]:
    """`main.py --home FOLDER`, from the start of its process to its second frame: sounds, record, Bench and all."""
    import main
    from data.rehearse.scene import scene_clock
    from screens import app

    found: dict[str, float] = {}
    clock, build = scene_clock(), app.build
    clock.advance(400_000)

    def built(*given: Any) -> Any:
        from kivy.app import App

        _in_second_frame(App.get_running_app, float(started), found)
        return build(*given)

    app.SystemClock, app.build = lambda: clock, built
    if main.main(["--home", folder]):
        raise SystemExit("the app did not open")
    return found


JOBS = {
    "labels": job_labels, "soaks": job_soaks, "prompts": job_prompts, "early": job_early, "bare": job_bare,
    "start": job_start, "memory": job_memory, "day": job_day,
}  # fmt: skip

if __name__ == "__main__":
    print(json.dumps(JOBS[sys.argv[1]](*sys.argv[2:])))
