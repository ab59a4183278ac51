"""Time is asked for, never counted.

Two clocks are read together. The elapsed clock counts device sleep and starts again at every boot; wall time is for
people and records. From both, a `Timeline` (part of the unit's state) makes a `Stamp` with two elapsed times that
never run backwards:

- `proven_ms`: time the elapsed clock has really counted. A reboot adds nothing for the gap that no clock saw.
- `longest_ms`: the same, but a reboot adds the longest time the gap can have lasted.

A minimum (contact time) is measured on `proven_ms`, a maximum (soak limit, delay, bath life) on `longest_ms`. So when
in doubt the soak is longer and the limit nearer, whatever the wall clock was set to meanwhile. Wall time as text, and
days and weeks, are in `protocols.wall`.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

from protocols.errors import ClockError
from protocols.wall import clock_text as clock_text
from protocols.wall import days_until as days_until
from protocols.wall import iso_week as iso_week
from protocols.wall import local as local
from protocols.wall import local_date as local_date
from protocols.wall import parse_date as parse_date
from protocols.wall import parse_wall as parse_wall
from protocols.wall import time_of_day as time_of_day
from protocols.wall import wall_text as wall_text
from protocols.wall import zone as zone

# Stands for "no clock can say how long": longer than any limit that a bench uses (hang times and bath lives are weeks).
UNKNOWN_GAP_MS = 400 * 86_400_000


class Reading(NamedTuple):
    """Both clocks read at one moment: elapsed since boot (ms), wall time (ms since 1970 UTC), and which boot."""

    elapsed_ms: int
    wall_ms: int
    boot: str


class Stamp(NamedTuple):
    """A moment on the unit's timeline, in ms: proven and longest elapsed time, and what the wall clock said."""

    proven_ms: int
    longest_ms: int
    wall_ms: int


def proven_s(since: Stamp, now: Stamp) -> float:
    """Seconds that have certainly passed: what counts towards a minimum."""
    return seconds(now.proven_ms - since.proven_ms)


def longest_s(since: Stamp, now: Stamp) -> float:
    """Seconds that may have passed: what counts towards a maximum."""
    return seconds(now.longest_ms - since.longest_ms)


def seconds(ms: int) -> float:
    """Promise a time in seconds, as a whole number where it is one: the record spells 600 s as 600."""
    return ms // 1000 if ms % 1000 == 0 else ms / 1000


class Timeline(NamedTuple):
    """Turns readings into stamps across sleeps, wall steps and reboots.

    `proven_base_ms` and `longest_base_ms` are the two elapsed times at elapsed zero of the present boot.
    `last_*` is the latest reading the record knows of; a reading before it in the same boot is a clock fault.
    """

    boot: str = ""
    proven_base_ms: int = 0
    longest_base_ms: int = 0
    last_elapsed_ms: int = 0
    last_wall_ms: int = 0

    def stamp(self, reading: Reading) -> Stamp:
        """Promise a stamp for a reading of the present boot.

        Raises ClockError when the reading is of another boot (a `boot` event must come first) or when the elapsed
        clock has gone back.
        """
        if reading.boot != self.boot:
            raise ClockError(
                f"reading of boot {reading.boot!r}, the record is in boot {self.boot!r}; reopen the record"
            )
        if reading.elapsed_ms < self.last_elapsed_ms:
            raise ClockError(
                f"the elapsed clock went back from {self.last_elapsed_ms} ms to {reading.elapsed_ms} ms within one "
                "boot; restart the handheld so that no time is counted that did not pass"
            )
        return Stamp(
            self.proven_base_ms + reading.elapsed_ms, self.longest_base_ms + reading.elapsed_ms, reading.wall_ms
        )

    def rebooted(self, boot: str, seen_elapsed_ms: int, gap_longest_ms: int) -> Timeline:
        """Promise the timeline of a new boot: `seen_elapsed_ms` was the last reading of the old one."""
        return Timeline(
            boot, self.proven_base_ms + seen_elapsed_ms, self.longest_base_ms + seen_elapsed_ms + gap_longest_ms, 0, 0
        )


def longest_gap_ms(seen_wall_ms: int, reading: Reading) -> int:
    """Longest time (ms) between the last sight of the old boot and elapsed zero of the new one.

    Only wall time spans a reboot. When it says less than the new boot's own elapsed clock, it has been set back and
    the gap has no known bound.
    """
    gap = reading.wall_ms - seen_wall_ms - reading.elapsed_ms
    return gap if gap >= 0 else UNKNOWN_GAP_MS


class Clock(Protocol):
    """The clock promise: one reading of both clocks. Real ones live in data/, the fake one here."""

    def read(self) -> Reading:
        """Promise the reading of this moment."""
        ...


class FakeClock:
    """A clock that moves only when told: for tests, replay and rehearsal.

    `advance` lets time pass on both clocks (awake or asleep: the elapsed clock counts sleep); `step` sets the wall
    clock; `reboot` starts a new boot after `down_s` seconds without power; `drift_ppm` lets the wall clock run off.
    """

    def __init__(self, wall_ms: int, boot: str = "boot-1", elapsed_ms: int = 60_000, drift_ppm: int = 0) -> None:
        self._true_ms = wall_ms
        self._offset_ms = 0.0
        self._booted_ms = wall_ms - elapsed_ms
        self._boot = boot
        self._boots = 1
        self.drift_ppm = drift_ppm

    def read(self) -> Reading:
        return Reading(self._true_ms - self._booted_ms, self._true_ms + int(self._offset_ms), self._boot)

    @property
    def true_ms(self) -> int:
        """The time a clock on the wall would show, whatever the handheld's own says."""
        return self._true_ms

    def advance(self, seconds: float) -> None:
        if seconds < 0:
            raise ClockError(f"time can't go back by {-seconds} s; step the wall clock instead")
        ms = round(seconds * 1000)
        self._true_ms += ms
        self._offset_ms += ms * self.drift_ppm / 1_000_000

    def step(self, seconds: float) -> None:
        self._offset_ms += seconds * 1000

    def reboot(self, down_s: float) -> None:
        self.advance(down_s)
        self._boots += 1
        self._boot = f"{self._boot.rsplit('-', 1)[0]}-{self._boots}"
        self._booted_ms = self._true_ms
