"""Running a rehearsal from the command line: where its record goes, what is shown, what is left."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from data.disk import Disk
from data.door import Door
from data.durations import shipped_durations
from data.opening import open_door, shipped_shelf
from data.prompt_text import call_line
from data.refused import Refused
from data.rehearse.scene import ZONE, places, scene_clock
from data.rehearse.shift import Shift
from data.rehearse.tally import Tally
from protocols.durations import Durations
from protocols.prompts import Call


@dataclass(frozen=True)
class Plan:
    """What to rehearse: how many scopes, how many hours, from which seed; and whether, by which times, by the plan."""

    scopes: int = 6
    hours: float = 8
    seed: int = 1
    follow: bool | Durations = False


def paced(times: float | None) -> Callable[[float], None]:
    """Promise a pace: so many times as fast as real time, or as fast as it goes for None."""
    if times is None:
        return lambda seconds: None
    return lambda seconds: time.sleep(seconds / times)


def rehearse(
    disk: Disk,
    plan: Plan,
    show: Callable[[str], None],
    pace: Callable[[float], None] = lambda seconds: None,
    look: Callable[[Door], None] = lambda door: None,
) -> tuple[Door, Tally]:
    """Promise the record of a rehearsed shift on `disk`, which must be empty; each prompt is shown as it is called.

    The same plan gives the same bytes of record. `pace` is told every stretch of simulated seconds as it passes, and
    `look` may look at the door after each.
    """
    clock = scene_clock()
    door = open_door(disk, clock, shipped_shelf(), device="rehearsal")

    def line(wall_ms: int, call: Call) -> None:
        show(call_line(call, wall_ms, ZONE))

    def passed(seconds: float) -> None:
        pace(seconds)
        look(door)

    shift = Shift(door, clock, places(plan.scopes), plan.hours, Random(plan.seed), line, passed)
    shift.follow = plan.follow if isinstance(plan.follow, Durations) else shipped_durations() if plan.follow else None
    tally = shift.run()
    refused = Refused(disk)
    for (week, rule), count in tally.refused_weeks.items():
        for _ in range(count):
            refused.note(week, rule)
    refused.write()
    return door, tally
