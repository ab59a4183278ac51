"""What planning costs in the app: plan, forecast and advice on benches of 4 rehearsed shifts (--full: 8).

Benches of 8 scopes and more. Processor times of one core and wall times, in one run, without the safety stop.
The first of a process, which also loads the planner, stands in a row of its own.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from data.door import Door
from data.durations import shipped_durations
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from protocols.advice import starting
from protocols.forecast import changes, forecast
from protocols.hands import NODES, plan_hands
from protocols.pieces import chain_of_new
from tests.bench.rows import Row

EVERY_MS = 900_000
LEAST_SCOPES = 8


class Measured:
    """Processor and wall times by what was done, in seconds."""

    def __init__(self) -> None:
        self.times: dict[str, list[float]] = {}
        self.walls: dict[str, list[float]] = {}
        self.scopes: list[int] = []
        self.pieces: list[int] = []
        self._last = 0

    def begin(self) -> None:
        """Start another shift, whose clock starts anew."""
        self._last = 0

    def look(self, door: Door) -> None:
        now, unit = door.now(), door.unit
        if len(unit.cycles) < LEAST_SCOPES or now.longest_ms - self._last < EVERY_MS:
            return
        self._last = now.longest_ms
        times = shipped_durations()
        plan = self._timed("plan", lambda: plan_hands(unit, door.shelf, now, times, NODES))
        self.scopes.append(len(unit.cycles))
        self.pieces.append(len(plan.slots))
        self._timed("forecast", lambda: forecast(plan, times, unit.seq))
        self._timed("variants", lambda: changes(plan, 1500))
        tag = next((tag for tag in unit.scopes if tag not in unit.cycles), "")
        if tag:
            protocol = door.shelf.protocol(unit.protocols[unit.scopes[tag].protocol])
            new = chain_of_new(unit, protocol, tag, now, times, 3000.0)
            self._timed("advice at receipt", lambda: starting(plan.chains, new, plan.room, now, 1500))

    def _timed(self, name: str, job: Callable[[], object]):  # type: ignore[no-untyped-def]
        wall, begun = time.perf_counter(), time.process_time()
        answer = job()
        self.times.setdefault(name, []).append(time.process_time() - begun)
        self.walls.setdefault(name, []).append(time.perf_counter() - wall)
        return answer


def measured_over(shifts: int) -> Measured:
    measured = Measured()
    for seed in range(shifts):
        measured.begin()
        rehearse(MemoryDisk(), Plan(10, 8, seed), lambda line: None, look=measured.look)
    return measured


def spread(times: list[float]) -> tuple[float, float, float]:
    """Half and 95 % of the times are below the first two, in ms; the last is the longest."""
    ranked = sorted(1000 * t for t in times)
    return ranked[len(ranked) // 2], ranked[int(len(ranked) * 0.95)], ranked[-1]


def rows(full: bool) -> Iterator[Row]:
    """Promise what a plan of at least 8 scopes takes of one core (limit 50 ms), then forecast, variants, advice."""
    measured = measured_over(8 if full else 4)
    of = f"{len(measured.scopes) - 1} benches of {min(measured.scopes)} to {max(measured.scopes)} scopes"
    for name, (first, *times) in measured.times.items():
        yield Row(f"{name}, the first of a process", round(1000 * first), None, "", unit="ms")
        middle, most, longest = spread(times)
        ours = f"p50 {middle:.0f} ms, most {longest:.0f} ms; wall p95 {spread(measured.walls[name][1:])[1]:.0f} ms"
        yield Row(f"{name}, {of}: p95 of processor time", round(most), 50 if name == "plan" else None, ours, unit="ms")
