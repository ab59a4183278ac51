"""How well forecasts hold: rehearsed shifts, forecasts every 20 min, held against what came. By hand:
python -m tests.bench.bench_forecast [shifts]

The unit's own times come from other shifts than those forecast. Ranges of one shift depend on each other, so the
intervals printed are narrower than they should be.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

from data.door import Door
from data.durations import durations_of, shipped_durations, with_running
from data.ledger import Ledger, catch_up
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from protocols.calibration import Calibration, Came
from protocols.durations import Durations
from protocols.forecast import forecast
from protocols.hands import plan_hands
from protocols.survival import wilson

# Later forecasts are not held: too many cycles would not end within the shift.
LAST_MS = 5 * 3_600_000
LEARNT_FROM = range(9000, 9006)


@dataclass
class Held:
    """What was forecast of open cycles, held against when they ended, as the app does it."""

    durations: Durations
    calibration: Calibration = field(default_factory=Calibration)
    begun: int = 0

    def look(self, door: Door) -> None:
        """Note what has ended; forecast when the time for it has come."""
        now, unit = door.now(), door.unit
        self.begun = self.begun or now.longest_ms
        self.calibration = self.calibration.ended(unit)
        if now.longest_ms - self.begun > LAST_MS or not unit.cycles or not self.calibration.due(now):
            return
        times = with_running(self.durations, unit, door.shelf, now)
        plan = plan_hands(unit, door.shelf, now, times, 800)
        self.calibration = self.calibration.noting(unit, now, forecast(plan, times, unit.seq))


def learnt() -> Durations:
    """The times of a unit that has rehearsed some shifts."""
    own: dict[tuple[str, str], list[object]] = {}
    for seed in LEARNT_FROM:
        disk = MemoryDisk()
        door, _ = rehearse(disk, Plan(6, 8, seed), lambda line: None)
        ledger = Ledger(disk)
        catch_up(ledger, door.journal)
        for key, seen in durations_of(ledger).own.items():
            own.setdefault(key, []).extend(seen)
    return shipped_durations().with_own(own)  # type: ignore[arg-type]


def share(hits: int, of: int) -> str:
    low, high = wilson(hits, of)
    return f"{100 * hits / max(1, of):5.1f} % ({100 * low:.1f} to {100 * high:.1f})"


def main() -> None:
    shifts = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    own = learnt()
    print(f"own times: {sum(len(s) for s in own.own.values())} of {len(own.own)} steps, from {len(LEARNT_FROM)} shifts")
    print("| lengths from | forecasts | within 50 % range | within 90 % range | later than that | 90 % range, middle |")
    print("|---|---|---|---|---|---|")
    for name, times in (("shipped guesses", shipped_durations()), ("the unit's own", own)):
        found: list[Came] = []
        for seed in range(shifts):
            held = Held(times)
            door, _ = rehearse(MemoryDisk(), Plan(6, 8, seed, times), lambda line: None, look=held.look)
            last = held.calibration.ended(door.unit)
            found += last.results
            # What did not end within the shift came later than any range.
            found += [Came(float("inf"), one.ready) for one in last.noted]
            print(f"\r{name}: {seed + 1} of {shifts}", end="", file=sys.stderr)
        count, width = len(found), [came.ready.most_s[1] - came.ready.most_s[0] for came in found]
        hits = [sum(one.in_half for one in found), sum(one.in_most for one in found), sum(one.later for one in found)]
        print(file=sys.stderr)
        middle = sorted(width)[len(width) // 2] / 60
        shares = " | ".join(share(hit, count) for hit in hits)
        print(f"| {name} | {count} | {shares} | {middle:.0f} min wide |")


if __name__ == "__main__":
    main()
