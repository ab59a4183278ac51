"""A whole app without its window frame: a unit on a memory disk and a fake clock, its desk and its shell.

Time moves only by `wait` and by the half second of each tap; `wait` also ticks the shell, as the app does each second.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import harness
from kivy.core.window import Window

from data.door import Door
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.scene import Place
from protocols.clock import FakeClock, parse_wall
from protocols.cycle import State
from screens.app import build
from screens.demo import BENCH, SPARE, Point, length_s, set_bench
from screens.desk import Desk
from screens.shell import Shell

START = "2026-11-25T10:42:00+01:00"
_SHELF = shipped_shelf()
_BOOT = "test-1"
# A tap is further from the last one than the door's own window for two taps of one command.
TAP_S = 0.6


@lru_cache(maxsize=16)
def _made(points: tuple[Point, ...]) -> tuple[dict[str, bytes], int]:
    """The files of a home with this bench, and its elapsed clock at START."""
    end_ms = parse_wall(START)
    plan, back_s = length_s(_SHELF, points, end_ms - 7_200_000)
    clock = FakeClock(end_ms - round(back_s * 1000), boot=_BOOT)
    disk = MemoryDisk()
    door = open_door(disk, clock, _SHELF, device="test")
    set_bench(door, clock.advance, points, SPARE, plan, back_s, clock)
    clock.advance((end_ms - clock.true_ms) / 1000)
    return {path: bytes(data) for path, data in disk.files.items()}, clock.read().elapsed_ms


class Stage:
    """One app on one screen. `disk` may be one that breaks when told to."""

    def __init__(self, screen: harness.Screen, clock: FakeClock, disk: Any, by: str = "joss") -> None:
        self.screen, self.clock, self.disk, self.by = screen, clock, disk, by
        self.taps = 0
        self.open()

    def open(self) -> None:
        """Open the record and the app on it, as a start does; also after a kill."""
        self.door: Door = open_door(self.disk, self.clock, _SHELF, device="test")
        self.desk = Desk(self.door, self.by)
        self.shell: Shell = build(self.desk, self.disk)
        self.screen.show(self.shell)
        self.shell.land()
        self.settle()

    def settle(self) -> None:
        """Let layout come to rest."""
        self.screen.frames(5)

    def wait(self, seconds: float) -> None:
        """Let time pass and look once, as after any number of seconds."""
        self.clock.advance(seconds)
        self.shell.tick()
        self.settle()

    def tap(self, what: Any) -> None:
        """Tap the words or the widget, and let everything settle."""
        self.taps += 1
        self.clock.advance(TAP_S)
        self.screen.tap(what)
        self.settle()

    def go(self, page: str, **what: Any) -> None:
        """Show a page without a tap."""
        self.shell.go(page, **what)
        harness.finish_reading(self.shell.page)
        self.settle()

    def scan(self, text: str) -> None:
        """Send a text as a scanner does that acts as a keyboard: keys, then Enter."""
        self.clock.advance(TAP_S)
        for char in text:
            shift = ["shift"] if char.isupper() else []
            Window.dispatch("on_keyboard", ord(char.lower()), 0, char.lower(), shift)
        Window.dispatch("on_keyboard", 13, 40, None, [])
        self.settle()

    def escape(self) -> None:
        """Press the back button of the device, which arrives as Escape."""
        Window.dispatch("on_keyboard", 27, 41, None, [])
        self.settle()

    def lines(self) -> list[dict[str, Any]]:
        """Give every line of the record that is not a checkpoint."""
        return [line for line in self.door.journal.lines() if line["kind"] != "checkpoint"]

    def faults(self) -> list[str]:
        """Give every text that is clipped or lies over another."""
        return self.screen.clipped() + self.screen.overlapping()


def at(tag: str, step: str, state: State, ago_s: float = 20, protocol: str = "bronchoscope-1") -> Point:
    """Give a point for one scope of a bench."""
    return Point(Place(tag, protocol, "bronchoscopy"), step, state, ago_s)


def bench(screen: harness.Screen, points: tuple[Point, ...] = BENCH, disk: Any = None, by: str = "joss") -> Stage:
    """Give a stage whose bench is as in the demonstration, or with these scopes; `disk` makes one of a MemoryDisk."""
    files, elapsed_ms = _made(points)
    memory = MemoryDisk(files)
    clock = FakeClock(parse_wall(START), boot=_BOOT, elapsed_ms=elapsed_ms)
    return Stage(screen, clock, memory if disk is None else disk(memory), by)
