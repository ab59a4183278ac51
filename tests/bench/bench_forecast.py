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
from protocols.durations import Durations
from protocols.forecast import Ready, forecast
from protocols.hands import plan_hands
from protocols.survival import wilson

EVERY_MS, LAST_MS = 1_200_000, 5 * 3_600_000
LEARNT_FROM = range(9000, 9006)


@dataclass
class Held:
    """What was forecast for open cycles, and when they ended."""

    durations: Durations
    made: list[tuple[str, int, Ready]] = field(default_factory=list)
    ended: dict[str, int] = field(default_factory=dict)
    dropped: set[str] = field(default_factory=set)
    open: dict[str, str] = field(default_factory=dict)
    begun: int = 0
    last: int = 0

    def look(self, door: Door) -> None:
        """Note what has ended; forecast when the time for it has come."""
        now, unit = door.now(), door.unit
        self.begun = self.begun or now.longest_ms
        for cycle, scope in list(self.open.items()):
            if all(c.id != cycle for c in unit.cycles.values()):
                del self.open[cycle]
                last = unit.scopes[scope].last
                if last is not None and last.cycle == cycle and last.outcome == "completed":
                    self.ended[cycle] = last.ended.longest_ms
                else:
                    self.dropped.add(cycle)
        self.open.update({c.id: c.scope for c in unit.cycles.values()})
        since = now.longest_ms - self.begun
        if now.longest_ms - self.last < EVERY_MS or since > LAST_MS or not unit.cycles:
            return
        self.last = now.longest_ms
        times = with_running(self.durations, unit, door.shelf, now)
        plan = plan_hands(unit, door.shelf, now, times, 800)
        for scope, ready in forecast(plan, times, unit.seq).items():
            self.made.append((unit.cycles[scope].id, now.longest_ms, ready))


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
        half = most = late = count = 0
        width = []
        for seed in range(shifts):
            held = Held(times)
            rehearse(MemoryDisk(), Plan(6, 8, seed, times), lambda line: None, look=held.look)
            for cycle, at, ready in held.made:
                if cycle in held.dropped:
                    continue
                end = (held.ended.get(cycle, 10**12) - at) / 1000
                count += 1
                half += ready.half_s[0] <= end <= ready.half_s[1]
                most += ready.most_s[0] <= end <= ready.most_s[1]
                late += end > ready.most_s[1]
                width.append(ready.most_s[1] - ready.most_s[0])
            print(f"\r{name}: {seed + 1} of {shifts}", end="", file=sys.stderr)
        print(file=sys.stderr)
        middle = sorted(width)[len(width) // 2] / 60
        shares = " | ".join(share(hits, count) for hits in (half, most, late))
        print(f"| {name} | {count} | {shares} | {middle:.0f} min wide |")


if __name__ == "__main__":
    main()
