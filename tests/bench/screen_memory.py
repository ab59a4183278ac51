"""The jobs of bench_screens that take long and look at memory only: see `screen_jobs`."""

from __future__ import annotations

from tests.bench.screen_stage import on_screen, resident_mb, soaking_door


def job_memory(*_: str) -> dict[str, float]:
    """Resident memory over 1,000 changes of page."""
    shell = on_screen(*soaking_door(12))
    from kivy.base import EventLoop

    pages = [
        ("bench", {}), ("steps", {"tag": "B2"}), ("watch", {}), ("ledger", {}), ("setup", {}), ("steps", {"tag": "B3"}),
    ]  # fmt: skip
    sizes = []
    for n in range(1000):
        key, what = pages[n % len(pages)]
        shell.go(key, **what)
        shell.tick()
        EventLoop.idle()
        sizes.append(resident_mb())
    return {"early_mb": sizes[100], "last_mb": sizes[-1]}


def job_day(*_: str) -> dict[str, float]:
    """Resident memory over 24 simulated hours, a look at the clock and a frame each second."""
    from data.memory_disk import MemoryDisk
    from data.opening import shipped_shelf
    from data.rehearse.scene import Place
    from protocols.clock import FakeClock
    from protocols.states import State
    from screens.demo import Point, length_s, set_bench

    points = [Point(Place(f"B{n}", "bronchoscope-1", "bronchoscopy"), "disinfectant-soak", State.IN, 20) for n in
              range(2, 14)]  # fmt: skip
    clock, disk, shelf = FakeClock(1_764_050_000_000), MemoryDisk(), shipped_shelf()
    plan, back_s = length_s(shelf, points, clock.read().wall_ms)
    from data.opening import open_door

    door = open_door(disk, clock, shelf, "bench")
    set_bench(door, clock.advance, points, [], plan, back_s, clock)
    shell = on_screen(door, disk)
    shell.land()
    from kivy.base import EventLoop

    early = 0.0
    for second in range(86_400):
        clock.advance(1)
        shell.tick()
        EventLoop.idle()
        early = resident_mb() if second == 3600 else early
    return {"early_mb": early, "last_mb": resident_mb()}
