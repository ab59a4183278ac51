"""How well forecasts hold: 2 rehearsed shifts (--full: 40), forecasts every 20 min, held against what came.

The unit's own times come from other shifts than those forecast. Ranges of one shift depend on each other, so the
intervals printed are narrower than they should be.
"""

from __future__ import annotations

from collections.abc import Iterator
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
from tests.bench.rows import Row

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


def held_against(times: Durations, shifts: int) -> list[Came]:
    """Promise every forecast of so many shifts with what came."""
    found: list[Came] = []
    for seed in range(shifts):
        held = Held(times)
        door, _ = rehearse(MemoryDisk(), Plan(6, 8, seed, times), lambda line: None, look=held.look)
        last = held.calibration.ended(door.unit)
        found += last.results
        # What did not end within the shift came later than any range.
        found += [Came(float("inf"), one.ready) for one in last.noted]
    return found


def rows(full: bool) -> Iterator[Row]:
    """Promise how many came within the ranges of 50 and 90 %, by shipped guesses and by the unit's own times."""
    shifts = 40 if full else 2
    for name, times in (("shipped guesses", shipped_durations()), ("the unit's own times", learnt())):
        found = held_against(times, shifts)
        middle = sorted(came.ready.most_s[1] - came.ready.most_s[0] for came in found)[len(found) // 2] / 60
        for part, hits in ((50, sum(one.in_half for one in found)), (90, sum(one.in_most for one in found))):
            low, high = wilson(hits, len(found))
            said = f"95 %: {100 * low:.0f} to {100 * high:.0f}; {len(found)} forecasts of {shifts} shifts"
            wide = f"; half of the ranges are under {middle:.0f} min wide" if part == 90 else ""
            yield Row(f"forecasts by {name} within their {part} % range", round(100 * hits / len(found), 1), None,
                      said + wide, unit="%")  # fmt: skip
