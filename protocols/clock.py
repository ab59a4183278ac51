"""Time is asked for, never counted.

Two clocks are read together. The elapsed clock counts device sleep and starts again at every boot; wall time is for
people and records. From both, a `Timeline` (part of the unit's state) makes a `Stamp` with two elapsed times that
never run backwards:

- `proven_ms`: time the elapsed clock has really counted. A reboot adds nothing for the gap that no clock saw.
- `longest_ms`: the same, but a reboot adds the longest time the gap can have lasted.

A minimum (contact time) is measured on `proven_ms`, a maximum (soak limit, delay, bath life) on `longest_ms`. So when
in doubt the soak is longer and the limit nearer, whatever the wall clock was set to meanwhile. This file is the only
place with date arithmetic.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from typing import NamedTuple, Protocol
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from protocols.errors import ClockError, CommandFault

# Stands for "no clock can say how long": longer than any limit that a bench uses (hang times and bath lives are weeks).
UNKNOWN_GAP_MS = 400 * 86_400_000

_EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
# What somebody can mean by a time: a day whose date every zone still writes with four digits of the year.
_FIRST_MS, _END_MS = 0, (datetime(9999, 1, 1, tzinfo=timezone.utc) - _EPOCH) // timedelta(milliseconds=1)
# RFC 3339 section 5.6; a leap second (":60") is valid there but no clock of a handheld shows it, so it is refused.
_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d{1,9})?([Zz]|[+-]\d\d:\d\d)")


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


@lru_cache(maxsize=32)
def zone(name: str) -> ZoneInfo:
    """Promise the time zone of that IANA name; CommandFault when there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise CommandFault(f"unknown time zone {name!r}; use an IANA name such as Europe/Berlin") from error


def local(wall_ms: int, zone_name: str) -> datetime:
    """Promise the local date and time of a wall time, with its offset. Compare only; subtract in ms instead."""
    return (_EPOCH + timedelta(milliseconds=wall_ms)).astimezone(zone(zone_name))


def time_of_day(wall_ms: int, zone_name: str) -> str:
    """Promise the time of day in hours and minutes, like 10:42, in the zone of that name."""
    return _time_of_day(wall_ms // 60_000, zone_name)


@lru_cache(maxsize=256)
def _time_of_day(minute: int, zone_name: str) -> str:
    # Every lane asks once a second for the same few minutes.
    return f"{local(minute * 60_000, zone_name):%H:%M}"


@lru_cache(maxsize=64)
def _offset_ms(quarter: int, zone_name: str) -> tuple[int, str]:
    # Offsets of all zones change on whole quarter hours since 1972, so one look-up serves 15 minutes of stamps.
    offset = local(quarter * 900_000, zone_name).utcoffset()
    minutes = int(offset.total_seconds() // 60) if offset else 0
    sign = "+" if minutes >= 0 else "-"
    return minutes * 60_000, f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def wall_text(wall_ms: int, zone_name: str) -> str:
    """Promise a wall time as RFC 3339 with milliseconds and the zone's offset then."""
    quarter, rest = divmod(wall_ms, 900_000)
    hour, minute, suffix = _quarter_text(quarter, zone_name)
    return f"{hour}{minute + rest // 60_000:02d}:{rest // 1000 % 60:02d}.{rest % 1000:03d}{suffix}"


@lru_cache(maxsize=64)
def _quarter_text(quarter: int, zone_name: str) -> tuple[str, int, str]:
    offset, suffix = _offset_ms(quarter, zone_name)
    begin = _EPOCH + timedelta(milliseconds=quarter * 900_000 + offset)
    return f"{begin:%Y-%m-%dT%H:}", begin.minute, suffix


def parse_wall(text: str) -> int:
    """Promise ms since 1970 UTC of an RFC 3339 time with offset; CommandFault for anything else.

    Source: RFC 3339 section 5.6.
    """
    if not isinstance(text, str) or not _RFC3339.fullmatch(text):
        raise CommandFault(f"{text!r} is not a time; write it like 2026-11-25T10:42:00+01:00")
    plain = text.upper().replace("Z", "+00:00")
    try:
        # Python reads at most microseconds; digits beyond are below what a handheld's clock resolves.
        moment = datetime.fromisoformat(re.sub(r"(\.\d{6})\d+", r"\1", plain))
    except ValueError as error:
        raise CommandFault(f"{text!r} is not a time ({error}); write it like 2026-11-25T10:42:00+01:00") from error
    return (moment - _EPOCH) // timedelta(milliseconds=1)


def in_calendar(wall_ms: int) -> bool:
    """Promise whether a wall time lies in the years 1970 to 9998, so that it can be written in every zone."""
    return _FIRST_MS <= wall_ms < _END_MS


def given_wall(text: str) -> int:
    """Promise ms since 1970 UTC of a time that somebody gives: as `parse_wall`, and CommandFault for another year.

    What is in a record already is read by `parse_wall`, whatever its year.
    """
    wall_ms = parse_wall(text)
    if not in_calendar(wall_ms):
        raise CommandFault(f"{text!r} is not in the years 1970 to 9998; correct the year")
    return wall_ms


def parse_date(text: str) -> date:
    """Promise the calendar date of YYYY-MM-DD; CommandFault for anything else."""
    if isinstance(text, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass
    raise CommandFault(f"{text!r} is not a date; write it like 2026-11-25")


def days_until(day: str, today: date) -> int:
    """Promise the days from a date to another (YYYY-MM-DD): 0 on it, negative after it. CommandFault for no date."""
    return (parse_date(day) - today).days


def local_date(wall_ms: int, zone_name: str) -> date:
    """Promise the calendar date in the unit's zone at a wall time."""
    return local(wall_ms, zone_name).date()


def iso_week(wall_ms: int, zone_name: str) -> str:
    """Promise the ISO 8601 week of a wall time in the unit's zone, like 2026-W48."""
    return _quarter_week(wall_ms // 900_000, zone_name)


@lru_cache(maxsize=64)
def _quarter_week(quarter: int, zone_name: str) -> str:
    # A week begins at local midnight, which is a whole quarter hour in every zone.
    year, week, _ = local_date(quarter * 900_000, zone_name).isocalendar()
    return f"{year}-W{week:02d}"


def clock_text(seconds: float) -> str:
    """Promise a duration as m:ss or h:mm:ss, rounded down: 6:05, 1:02:03."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
