"""Who is signed in after a kill: only whom the record proves, and only as long as the idle lock would have let them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from data.door import Door
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.pins import pin_values, proof
from protocols.clock import FakeClock, parse_wall
from protocols.event import Command, Event
from screens.last_hand import last_hand

PIN = "740912"


class Killed:
    """A unit of two people whose app can be killed and started again."""

    def __init__(self, lock_after_s: int) -> None:
        self.disk, self.clock = MemoryDisk(), FakeClock(parse_wall("2026-11-25T10:42:00+01:00"))
        self.open()
        self.give("add-person", "mira", "mira", name="Mira", role="administrator")
        self.give("add-person", "joss", "mira", name="Joss", role="technician")
        if lock_after_s:
            self.give("set-unit", "unit", "mira", lock_after_s=lock_after_s)
        self.clock.advance(3600)

    def open(self) -> str:
        self.door: Door = open_door(self.disk, self.clock, shipped_shelf(), device="test")
        return last_hand(self.door.unit, self.door.found.tail, self.clock.read())

    def give(self, do: str, subject: str, by: str, **values: Any) -> None:
        assert isinstance(self.door.give(Command(do, subject, values, by)), Event), do
        self.clock.advance(1)

    def work(self, by: str) -> None:
        """One command of that person."""
        label = f"S{self.door.unit.seq}"
        values = {"type": "opa", "lot": "L7", "expires": "2027-06-30", "opened": "2026-11-25"}
        self.give("register-strips", label, by, **values)


@pytest.fixture(params=[120, 0])
def unit(request: pytest.FixtureRequest) -> Iterator[Killed]:
    yield Killed(request.param)


def test_whoever_gave_the_last_commands_is_signed_in_again(unit: Killed) -> None:
    unit.work("joss")
    unit.work("joss")
    assert unit.open() == "joss"


def test_after_the_time_of_the_lock_nobody_is(unit: Killed) -> None:
    unit.work("joss")
    limit_s = unit.door.unit.settings.lock_after_s or 600
    unit.clock.advance(limit_s - 3)
    assert unit.open() == "joss"
    unit.clock.advance(4)
    assert unit.open() == ""


def test_after_a_reboot_nobody_is_for_that_time_is_not_proven(unit: Killed) -> None:
    unit.work("joss")
    unit.clock.reboot(down_s=5)
    assert unit.open() == ""


def test_where_a_lead_came_for_one_tap_the_app_asks(unit: Killed) -> None:
    unit.work("joss")
    unit.work("mira")
    assert unit.open() == ""


def test_an_act_while_locked_leaves_it_locked(unit: Killed) -> None:
    unit.work("joss")
    unit.give("set-pin", "joss", "mira", **pin_values(PIN))
    kept = unit.door.unit.people["joss"].pin
    assert kept is not None
    unit.give("sign-in", "joss", "unconfirmed", hash=proof(PIN, kept))
    assert unit.open() == "joss"  # a right PIN is proof, whoever tapped before
    unit.give("sign-in", "joss", "unconfirmed", hash=proof("000111", kept))
    assert unit.open() == ""  # somebody was asked for a PIN: nobody was signed in, or was about to be another
