"""Where the processor time of work goes: 50 soaks, a command every 9 s, a look at the clock and a frame each second.

Five minutes of it; --full: an hour, 400 commands. The app with its pages, prompts and sounds runs on a simulated clock,
drawn by the software OpenGL. The 50 soaks go on all the time (most end past their limit, so that prompts call without
end), while six more scopes are taken through their steps by the choices that their pages offer. Own time of each of our
functions, as a share of all that was profiled.
"""

from __future__ import annotations

import cProfile
import os
import pstats
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.bench.bench_screens import ENVIRONMENT
from tests.bench.rows import Row

ROOT = Path(__file__).parent.parent.parent
EVERY_S, PAGE_S = 9, 100
SOAKS = 50
SHOWN = 10
MOST_PERCENT = 10.0
PAGES: tuple[tuple[str, dict[str, str]], ...] = (("bench", {}), ("steps", {"tag": "C1"}), ("watch", {}))


def bench_of_soaks(folder: Path) -> tuple[Any, Any]:
    """Promise the app on a bench of soaks and six scopes in hand, and its clock."""
    from data.memory_disk import MemoryDisk
    from data.opening import open_door, shipped_shelf
    from data.rehearse.scene import Place
    from protocols.clock import FakeClock
    from protocols.states import State
    from screens.demo import Point, length_s, set_bench
    from tests.bench.screen_stage import the_app

    soaks = [
        Point(Place(f"B{n}", "bronchoscope-1", "bronchoscopy"), "disinfectant-soak", State.IN, 10.0 * n)
        for n in range(1, SOAKS + 1)
    ]
    in_hand = [
        Point(Place(f"C{n}", "bronchoscope-1", "bronchoscopy"), "leak-test", State.LOOK, 20.0 * n) for n in range(1, 7)
    ]
    clock, disk, shelf = FakeClock(1_764_050_000_000), MemoryDisk(), shipped_shelf()
    points = [*soaks, *in_hand]
    plan, back_s = length_s(shelf, points, clock.read().wall_ms)
    door = open_door(disk, clock, shelf, "bench")
    set_bench(door, clock.advance, points, [], plan, back_s, clock)
    # No waiting between frames: it would count as work.
    return the_app(door, disk, folder, maxfps="0"), clock


def act(shell: Any, number: int) -> None:
    """Give the command of the first choice that a scope in hand offers, in turn; else a note, as of any scope."""
    hands = [lane for lane in shell.lanes if lane.scope.startswith("C") and not lane.cycle.running]
    for lane in hands[number % len(hands) :] if hands else []:
        for choice in shell.desk.offer(lane).choices:
            ready = choice.ready_in_s <= 0 and not choice.lead and not choice.confirm
            if ready and shell.give(choice.do, choice.subject, choice.values).done:
                return
    shell.give("note", f"B{number % SOAKS + 1}", {"what": "other", "text": f"seen {number}"})


def worked(folder: Path, seconds_s: int) -> tuple[pstats.Stats, int]:
    """Promise the profile of so many seconds of work, and how many commands were recorded in it."""
    app, clock = bench_of_soaks(folder)
    from kivy.base import EventLoop
    from kivy.core.window import Window

    shell = app.build()
    Window.add_widget(shell)
    EventLoop.start()
    shell.land()
    before = shell.desk.unit.seq
    profile = cProfile.Profile()
    profile.enable()
    for second in range(seconds_s):
        clock.advance(1)
        if second % PAGE_S == 0:
            page, what = PAGES[second // PAGE_S % len(PAGES)]
            shell.go(page, **what)
        shell.tick()
        if second % EVERY_S == 0:
            act(shell, second // EVERY_S)
        EventLoop.idle()
    profile.disable()
    return pstats.Stats(profile), shell.desk.unit.seq - before


def rows(full: bool) -> Iterator[Row]:
    """Promise our costliest functions by own time, none above 10 %."""
    os.environ.update(ENVIRONMENT)
    with tempfile.TemporaryDirectory() as name:
        os.environ["KIVY_HOME"] = name
        stats, commands = worked(Path(name) / "sounds", 3600 if full else 300)
    times: dict[Any, Any] = stats.stats  # type: ignore[attr-defined]
    total_s = sum(figures[2] for figures in times.values())
    ours = {
        f"{Path(place[0]).relative_to(ROOT)} {place[2]}": figures
        for place, figures in times.items()
        if any(f"{ROOT}/{floor}/" in place[0] for floor in ("protocols", "data", "screens"))
    }
    own_s = sum(figures[2] for figures in ours.values())
    yield Row(f"work with {SOAKS} soaks, {commands} commands recorded: our code of all processor time",
              round(100 * own_s / total_s, 1), None, f"{own_s:.1f} s", f"{total_s:.1f} s, profiled", "%")  # fmt: skip
    for what, figures in sorted(ours.items(), key=lambda one: -one[1][2])[:SHOWN]:
        yield Row(f"work with {SOAKS} soaks: {what}", round(100 * figures[2] / total_s, 2), MOST_PERCENT,
                  f"{figures[2]:.2f} s in {figures[0]:,} calls", unit="% of processor time")  # fmt: skip
