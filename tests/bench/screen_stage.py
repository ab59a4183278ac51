"""What the jobs of bench_screens begin with: a bench of soaks, the app or its shell on it, and what it spends."""

from __future__ import annotations

import os
import time
from pathlib import Path
from random import Random
from typing import Any

# By then the first frames are drawn; with many scopes also the first plan, which a start makes on a thread of its own.
SETTLING_S, PLANNING_S = 3, 7


def phone(maxfps: str = "30") -> None:
    """Ask for the window of a phone, as the app asks for it; 0 frames a second for as many as can be."""
    from kivy.config import Config

    for name, value in (("width", "412"), ("height", "892"), ("maxfps", maxfps), ("multisamples", "0")):
        Config.set("graphics", name, value)


def soaking_door(count: int, folder: Path | None = None, within_s: float = 0) -> tuple[Any, Any]:
    """A door with that many scopes in a soak: in disinfectant, or in detergent and to become ready within seconds."""
    from data.memory_disk import MemoryDisk
    from data.opening import open_door, shipped_shelf
    from data.real_disk import RealDisk
    from data.rehearse.scene import Place
    from data.system_clock import SystemClock
    from protocols.states import State
    from screens.demo import Point, SetBackClock, length_s, set_bench

    chance = Random(1)
    step, ago_s = ("detergent-soak", (60 - within_s, 57)) if within_s else ("disinfectant-soak", (1, 560))
    points = [
        Point(Place(f"B{n}", "bronchoscope-1", "bronchoscopy"), step, State.IN, chance.uniform(*ago_s))
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


def the_app(door: Any, disk: Any, sounds: Path, maxfps: str = "30") -> Any:
    """The whole app on a door: pages, senses, its look at the clock once a second, its planner once it is shown."""
    from screens.senses.choose import senses_for

    phone(maxfps)  # before the sounds: with them comes Kivy's clock, which looks once how often to turn
    senses = senses_for("linux", sounds)
    senses.chime.preload(len(door.unit.scopes))
    from screens.app import build, shown
    from screens.desk import Desk
    from screens.frame import BasinbellApp

    return BasinbellApp(lambda apply: build(Desk(door, "joss"), disk, apply), senses, disk,
                        lambda shell: shown(shell, disk))  # fmt: skip


def spent_by(app: Any, seconds_s: float, settling_s: float = SETTLING_S) -> float:
    """Processor seconds of an app over so many seconds, after it has settled."""
    from kivy.clock import Clock

    spent: list[float] = []

    def begin(_: Any) -> None:
        def settled(_: float) -> None:
            spent.append(time.process_time())
            # Asked for only now: on a busy machine the first frames may take longer than both times together.
            Clock.schedule_once(lambda _: (spent.append(time.process_time()), app.stop()), seconds_s)

        Clock.schedule_once(settled, settling_s)

    app.bind(on_start=begin)
    app.run()
    return spent[1] - spent[0]


def resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def on_screen(door: Any, disk: Any) -> Any:
    """A shell on the window, without the app's own clock and without waiting between frames."""
    phone(maxfps="0")
    from kivy.base import EventLoop
    from kivy.core.window import Window

    from screens.app import build
    from screens.desk import Desk

    shell = build(Desk(door, "joss"), disk)
    Window.add_widget(shell)
    EventLoop.start()
    return shell
