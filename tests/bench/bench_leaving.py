"""What leaving the front costs, for so many running soaks: foreseeing every call to come, as so many looks at the bench
(the app looks once a second), and how many alarms come of it. Android waits for the app some seconds; on a handheld
the calls into Java come on top, which only a device can show.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

import pytest

from protocols.cycle import State
from screens.foreseen import reminders
from tests.bench.rows import Row, micro, seconds
from tests.handheld.carried import Carried, at

TURNS, LOOKS = 5, 50


def measured(carried: Carried) -> tuple[int, float, float]:
    """Promise how many alarms are foreseen, the seconds that takes, and those of one look at the bench."""

    def foresee() -> int:
        return len(reminders(carried.prompting.crier, carried.desk, carried.desk.now()))

    def look() -> None:
        for _ in range(LOOKS):
            carried.desk.lanes()
            carried.desk.prompts()

    times = [(seconds(foresee), seconds(look) / LOOKS) for _ in range(TURNS)]
    foreseen, looks = zip(*times, strict=True)
    return foresee(), median(foreseen), median(looks)


def rows(full: bool) -> Iterator[Row]:
    """Promise what foreseeing costs in looks at the bench, with 1, 6 and 24 soaks."""
    with pytest.MonkeyPatch.context() as patch:
        for count in (1, 6, 24):
            points = tuple(at(f"G{i}", "disinfectant-soak", State.IN, 100 + 7 * i) for i in range(count))
            alarms, foreseen, looks = measured(Carried(patch, points))
            what = f"leaving the front with {count} soaks: all {alarms} alarms foreseen, in looks at the bench"
            yield Row(what, round(foreseen / looks, 1), None, micro(foreseen), micro(looks))
