"""What planning costs in the app: plan, forecast and advice on benches of rehearsed shifts. By hand:
python -m tests.bench.bench_replan [shifts]

Processor times of one core, in this one run; the safety stop in wall time is not in it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from data.door import Door
from data.durations import shipped_durations
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from protocols.advice import starting
from protocols.forecast import changes, forecast
from protocols.hands import NODES, plan_hands
from protocols.pieces import chain_of_new

EVERY_MS = 900_000
LEAST_SCOPES = 6


class Measured:
    """Times by what was done, in seconds."""

    def __init__(self) -> None:
        self.times: dict[str, list[float]] = {}
        self.scopes: list[int] = []
        self.pieces: list[int] = []
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
        begun = time.process_time()
        answer = job()
        self.times.setdefault(name, []).append(time.process_time() - begun)
        return answer


def main() -> None:
    measured = Measured()
    for seed in range(int(sys.argv[1]) if len(sys.argv) > 1 else 8):
        rehearse(MemoryDisk(), Plan(10, 8, seed), lambda line: None, look=measured.look)
    count = len(measured.scopes)
    print(f"{count} benches of {min(measured.scopes)} to {max(measured.scopes)} scopes,", end=" ")
    print(f"{min(measured.pieces)} to {max(measured.pieces)} pieces of work; ms of processor time")
    print("| | p50 | p95 | most |\n|---|---|---|---|")
    for name, found in measured.times.items():
        ranked = sorted(1000 * t for t in found)
        print(f"| {name} | {ranked[len(ranked) // 2]:.0f} | {ranked[int(len(ranked) * 0.95)]:.0f} | {ranked[-1]:.0f} |")


if __name__ == "__main__":
    main()
