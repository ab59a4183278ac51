"""Wall time as people write it: texts, zones, days and weeks. For people and records; no limit is measured on it.

This file is the only place with date arithmetic.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from protocols.errors import CommandFault

_EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
# What somebody can mean by a time: a day whose date every zone still writes with four digits of the year.
_FIRST_MS, _END_MS = 0, (datetime(9999, 1, 1, tzinfo=timezone.utc) - _EPOCH) // timedelta(milliseconds=1)
# RFC 3339 section 5.6; a leap second (":60") is valid there but no clock of a handheld shows it, so it is refused.
_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d{1,9})?([Zz]|[+-]\d\d:\d\d)")
_WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})")


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


def days_after(day: date, days: float) -> date:
    """Promise the date so many days after another, parts of a day not counted."""
    return day + timedelta(days=days)


def last_at(hour: int, minute: int, wall_ms: int, zone_name: str) -> int:
    """Promise the last time (ms since 1970) up to a wall time at which clocks there showed that hour and minute."""
    return max(at for at in _at(hour, minute, wall_ms, zone_name) if at <= wall_ms)


def next_at(hour: int, minute: int, wall_ms: int, zone_name: str) -> int:
    """Promise the next time (ms since 1970) after a wall time at which clocks there show that hour and minute."""
    return min(at for at in _at(hour, minute, wall_ms, zone_name) if at > wall_ms)


def _at(hour: int, minute: int, wall_ms: int, zone_name: str) -> list[int]:
    """That time of day on the days around: twice where clocks were put back, the moment after where they skip it."""
    here, today = zone(zone_name), local_date(wall_ms, zone_name)
    found = []
    for day in (today + timedelta(days=days) for days in (-1, 0, 1)):
        for fold in (0, 1):
            moment = datetime(day.year, day.month, day.day, hour, minute, tzinfo=here, fold=fold)
            at = (moment - _EPOCH) // timedelta(milliseconds=1)
            if fold == 0 or local(at, zone_name).replace(tzinfo=None) == moment.replace(tzinfo=None):
                found.append(at)
    return found


def local_date(wall_ms: int, zone_name: str) -> date:
    """Promise the calendar date in the unit's zone at a wall time."""
    return local(wall_ms, zone_name).date()


def iso_week(wall_ms: int, zone_name: str) -> str:
    """Promise the ISO 8601 week of a wall time in the unit's zone, like 2026-W48."""
    return _quarter_week(wall_ms // 900_000, zone_name)


@lru_cache(maxsize=64)
def _quarter_week(quarter: int, zone_name: str) -> str:
    # A week begins at local midnight, which is a whole quarter hour in every zone.
    return week_of(local_date(quarter * 900_000, zone_name))


def week_of(day: date) -> str:
    """Promise the ISO 8601 week of a date, like 2026-W48."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def week_begins(week: str) -> date:
    """Promise the Monday of an ISO 8601 week like 2026-W48; CommandFault where there is no such week."""
    found = _WEEK.fullmatch(week)
    try:
        if found is not None:
            return date.fromisocalendar(int(found[1]), int(found[2]), 1)
    except ValueError:
        pass
    raise CommandFault(f"{week!r} is not a week; write it like 2026-W48 (ISO 8601: year, W, 01 to 53)")


def weeks_between(week: str, today: date) -> int:
    """Promise how many weeks ago a week was: 0 for this one, 1 for the last one."""
    return (week_begins(week_of(today)) - week_begins(week)).days // 7


def clock_text(seconds: float) -> str:
    """Promise a duration as m:ss or h:mm:ss, rounded down: 6:05, 1:02:03."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
