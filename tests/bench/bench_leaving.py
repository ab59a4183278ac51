"""By hand: python3 -m tests.bench.bench_leaving

What leaving the front costs, for so many running soaks: foreseeing every call to come, as so many looks at the bench
(the app looks once a second), and how many alarms come of it. Android waits for the app some seconds; on a handheld
the calls into Java come on top, which only a device can show.
"""

from __future__ import annotations

import time
from statistics import median

import pytest

from protocols.cycle import State
from screens.foreseen import reminders
from tests.handheld.carried import Carried, at

TURNS = 5


def main() -> None:
    with pytest.MonkeyPatch.context() as patch:
        for count in (1, 6, 24):
            carried = Carried(
                patch, tuple(at(f"G{i}", "disinfectant-soak", State.IN, 100 + 7 * i) for i in range(count))
            )
            foreseen, looks = [], []
            for _ in range(TURNS):
                begin = time.perf_counter()
                found = reminders(carried.prompting.crier, carried.desk, carried.desk.now())
                foreseen.append(time.perf_counter() - begin)
                begin = time.perf_counter()
                for _ in range(50):
                    carried.desk.lanes()
                    carried.desk.prompts()
                looks.append((time.perf_counter() - begin) / 50)
            print(f"{count:>2} soaks: {len(found)} alarms, as costly as {median(foreseen) / median(looks):.0f} looks")


if __name__ == "__main__":
    main()
