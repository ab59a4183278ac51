"""A handheld carried through the day: the record, the prompts and the alarms of the app on the stand-in of Android.

Without the window: what Kivy's frame calls on pausing, resuming, starting and stopping is called here.
"""

from __future__ import annotations

import sys
from functools import lru_cache
from typing import Any

import pytest

from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.scene import Place
from protocols.clock import FakeClock, parse_wall
from protocols.cycle import State
from screens.away import Away
from screens.demo import Point, length_s, set_bench
from screens.desk import Desk
from screens.prompting import Prompting
from screens.senses.alarms import Alarms, clockwork_for
from screens.senses.choose import Senses
from screens.senses.promise import YES, Can
from tests.handheld.fake_android import FakeAndroid

START = "2026-11-25T10:42:00+01:00"
SHELF = shipped_shelf()
FRAME_S = 1 / 30


def at(tag: str, step: str, state: State, ago_s: float, protocol: str = "gastroscope") -> Point:
    """A scope at a step and state, reached so many seconds ago."""
    return Point(Place(tag, protocol, "gastroscopy"), step, state, ago_s)


# In detergent, in disinfectant, waiting for its rinse, and being brushed.
BENCH = (
    at("G7", "disinfectant-soak", State.IN, 504),
    at("G8", "disinfectant-soak", State.IN, 300),
    at("B2", "detergent-soak", State.IN, 20, "bronchoscope-1"),
    at("B4", "drying-air", State.AIR_ON, 60, "bronchoscope-1"),
)


@lru_cache(maxsize=8)
def made(points: tuple[Point, ...]) -> tuple[dict[str, bytes], int]:
    """The files of a home with this bench at START, and its elapsed clock."""
    end_ms = parse_wall(START)
    plan, back_s = length_s(SHELF, points, end_ms - 7_200_000)
    clock = FakeClock(end_ms - round(back_s * 1000), boot="android-boot-1")
    disk = MemoryDisk()
    door = open_door(disk, clock, SHELF, device="handheld")
    set_bench(door, clock.advance, points, (), plan, back_s, clock)
    clock.advance((end_ms - clock.true_ms) / 1000)
    return {path: bytes(data) for path, data in disk.files.items()}, clock.read().elapsed_ms


class Heard:
    """A sense that can, and keeps what it was asked for with the time."""

    volume, on = 1.0, True

    def __init__(self, clock: FakeClock) -> None:
        self._clock, self.calls = clock, []

    def can(self) -> Can:
        return YES

    def play(self, *what: Any) -> Can:
        self.calls.append((self._clock.read().elapsed_ms, *what))
        return YES

    def say(self, key: str, words: str, level: str) -> Can:
        return YES

    def hold(self, awake: bool) -> Can:
        self.calls.append((self._clock.read().elapsed_ms, awake))
        return YES

    def length_s(self, level: str) -> float:
        return 2.0

    def drop(self, key: str) -> None:
        """Nothing waits."""

    def close(self) -> None:
        """Nothing is open."""


class Carried:
    """One device with the app on it. `open` is a start of the app, also after it was killed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, points: tuple[Point, ...] = BENCH, sdk: int = 34) -> None:
        files, elapsed_ms = made(points)
        self.disk = MemoryDisk(files)
        self.clock = FakeClock(parse_wall(START), boot="android-boot-1", elapsed_ms=elapsed_ms)
        self.android = FakeAndroid(self.clock, self.disk.files, sdk)
        monkeypatch.setitem(sys.modules, "jnius", self.android.module())
        self.open()

    def open(self) -> None:
        """Start the app on the record."""
        self.door = open_door(self.disk, self.clock, SHELF, device="handheld")
        self.desk = Desk(self.door, "joss")
        self.chime, self.buzz, self.awake = Heard(self.clock), Heard(self.clock), Heard(self.clock)
        clockwork = clockwork_for("android")
        self.alarms = Alarms(clockwork, lambda: self.chime.volume > 0, lambda: self.buzz.on)
        senses = Senses(self.chime, self.buzz, Heard(self.clock), self.awake, self.alarms)  # type: ignore[arg-type]
        self.prompting = Prompting(senses)
        self.away = Away(self.alarms, self.prompting, self.disk)
        self.away.started()
        self.beat()

    def beat(self) -> None:
        """What the shell does once a second: what it sees is there for the prompting."""
        self.seen = self.desk.now()
        self.prompts = self.desk.prompts(self.seen)
        self.lanes = self.desk.lanes(self.seen, self.prompts)
        self.prompting.beat(self)  # type: ignore[arg-type]
        self.away.beat(self.desk)

    def in_front(self, seconds: float) -> None:
        """Let time pass with the app in front: a beat a second, and one between when the crier has something to do."""
        end_ms = self.clock.true_ms + round(seconds * 1000)
        next_beat_ms = self.clock.true_ms + 1000
        while self.clock.true_ms < end_ms:
            wait_s = self.prompting.next_in_s(self)  # type: ignore[arg-type]
            until_ms = min(next_beat_ms, end_ms)
            if wait_s is not None:
                # Kivy's next frame is the soonest, as in screens/frame.py.
                until_ms = min(until_ms, self.clock.true_ms + max(round(wait_s * 1000), round(FRAME_S * 1000)))
            self.clock.advance((until_ms - self.clock.true_ms) / 1000)
            if self.clock.true_ms >= next_beat_ms:
                next_beat_ms += 1000
            self.beat()

    def pause(self) -> None:
        self.away.left(self.desk)

    def resume(self) -> None:
        self.away.back()
        self.beat()

    def kill(self) -> None:
        """The system ends the process: nothing of the app runs, its alarms stay."""
        del self.door, self.desk, self.prompting, self.away, self.alarms
