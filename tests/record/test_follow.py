"""A rehearsed shift by the plan: the same world, the same bytes for the same seed, fewer limits passed."""

from __future__ import annotations

from itertools import pairwise

import pytest

from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.tally import Tally
from protocols.clock import Stamp
from protocols.event import Command, Event


def rehearsed(follow: bool, seed: int = 2, hours: float = 3, scopes: int = 8):
    disk = MemoryDisk()
    door, tally = rehearse(disk, Plan(scopes, hours, seed, follow), lambda line: None)
    return disk, door, tally


def ends(door) -> dict[str, str | None]:
    """When the procedure of each scope's first receipt ended, by the record."""
    found: dict[str, str | None] = {}
    for line in door.journal.lines():
        if line["kind"] == "receive" and line["data"].get("procedure_end"):
            found.setdefault(line["subject"], line["data"]["procedure_end"])
    return found


def test_the_same_seed_by_the_plan_gives_the_same_bytes() -> None:
    one, other = rehearsed(True, hours=1)[0], rehearsed(True, hours=1)[0]
    assert {p: bytes(c) for p, c in one.files.items()} == {p: bytes(c) for p, c in other.files.items()}


def test_the_plan_changes_what_is_done_not_what_comes_in() -> None:
    (_, without, tally), (_, by_plan, planned) = rehearsed(False), rehearsed(True)
    first, second = ends(without), ends(by_plan)
    both = set(first) & set(second)
    assert len(both) >= 5
    assert {tag: first[tag] for tag in both} == {tag: second[tag] for tag in both}
    assert sum(planned.late.values()) < sum(tally.late.values())


def test_a_technician_who_comes_from_the_dirty_side_takes_the_time_to_change() -> None:
    _, door, _ = rehearsed(False)
    lines = [line for line in door.journal.lines() if line["kind"] in ("lift", "look", "pass", "count", "start")]
    changes = 0
    for before, after in pairwise(lines):
        if after["kind"] == "lift" and after["data"]["step"] == "disinfectant-soak" and before["data"]["stage"] in (
            "prepare", "leak test", "clean", "rinse"
        ):  # fmt: skip
            changes += 1
            assert after["elapsed"] - before["elapsed"] >= 60_000
    assert changes


def _lift(late_s: float) -> Event:
    """A lift so late out of a soak of 720 s with a limit of 600 s more."""
    data = {"step": "disinfectant-soak", "late_s": late_s, "contact_s": 1320 + late_s, "required_s": 720}
    return Event(1, 1, "rehearsal", "lift", "C4", {}, 0, "", "", "joss", data)


@pytest.mark.parametrize(
    ("left_s", "back_s", "excused"),
    [
        (-800, -60, True),  # away from 20 s before it was ready (780 s ago) until 60 s ago, the limit passed 180 s ago
        (-780, -180, True),
        (-779, -60, False),  # it was ready for a second, time enough to begin with it
        (-800, -181, False),  # back within the limit
    ],
)
def test_a_late_lift_is_excused_only_where_nobody_was_there_while_it_could_be_lifted(
    left_s: int, back_s: int, excused: bool
) -> None:
    def at(seconds: int) -> Stamp:
        return Stamp(seconds * 1000, seconds * 1000, seconds * 1000)

    tally = Tally(away=[(at(left_s), at(back_s))])
    tally.told(Command("lift", "C4", {}, "joss"), _lift(180), at(0))
    away = ", called away since before it was ready"
    assert tally.late == {f"lifted late: disinfectant-soak{away if excused else ''}": 1}
