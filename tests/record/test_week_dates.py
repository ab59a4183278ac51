"""Weeks and clock changes: which week an event lies in, and how its time is written."""

from __future__ import annotations

import pytest

from protocols.clock import iso_week, parse_wall, wall_text
from protocols.errors import CommandFault

# ISO 8601 week dates. Pairs 2019-12-30 and 2006-12-31 read in published lists, 2026 pairs computed, the others known
# from memory and verified with Python's datetime.
ISO_WEEKS = [
    ("2005-01-01", "2004-W53"), ("2005-01-02", "2004-W53"), ("2005-12-31", "2005-W52"), ("2006-01-01", "2005-W52"),
    ("2006-01-02", "2006-W01"), ("2006-12-31", "2006-W52"), ("2007-01-01", "2007-W01"), ("2007-12-30", "2007-W52"),
    ("2007-12-31", "2008-W01"), ("2008-01-01", "2008-W01"), ("2008-12-28", "2008-W52"), ("2008-12-29", "2009-W01"),
    ("2008-12-30", "2009-W01"), ("2008-12-31", "2009-W01"), ("2009-01-01", "2009-W01"), ("2009-12-31", "2009-W53"),
    ("2010-01-01", "2009-W53"), ("2010-01-02", "2009-W53"), ("2010-01-03", "2009-W53"), ("2010-01-04", "2010-W01"),
    ("2012-12-31", "2013-W01"), ("2014-12-29", "2015-W01"), ("2019-12-30", "2020-W01"), ("2020-12-31", "2020-W53"),
    ("2021-01-03", "2020-W53"), ("2022-12-31", "2022-W52"), ("2023-01-02", "2023-W01"), ("2026-12-31", "2026-W53"),
    ("2027-01-03", "2026-W53"),
]  # fmt: skip
# RFC 3339 section 5.8; the first and fourth value read in stored text, the others computed.
RFC_3339 = [
    ("1985-04-12T23:20:50.52Z", 482196050520), ("1996-12-19T16:39:57-08:00", 851042397000),
    ("1996-12-20T00:39:57Z", 851042397000), ("1937-01-01T12:00:27.87+00:20", -1041337172130),
    ("1970-01-01T00:00:00Z", 0), ("1969-07-20T20:17:00Z", -14182980000),
]  # fmt: skip
# Changes of 2026: zone, moment, offset before and after (s). Computed with zoneinfo and tzdata 2026.6.
CHANGES = [
    ("Europe/Berlin", "2026-03-29T01:00:00Z", 3600, 7200), ("Europe/Berlin", "2026-10-25T01:00:00Z", 7200, 3600),
    ("Europe/London", "2026-03-29T01:00:00Z", 0, 3600), ("Europe/London", "2026-10-25T01:00:00Z", 3600, 0),
    ("America/New_York", "2026-03-08T07:00:00Z", -18000, -14400),
    ("America/New_York", "2026-11-01T06:00:00Z", -14400, -18000),
    ("Australia/Sydney", "2026-04-04T16:00:00Z", 39600, 36000),
    ("Australia/Sydney", "2026-10-03T16:00:00Z", 36000, 39600),
    ("Australia/Lord_Howe", "2026-04-04T15:00:00Z", 39600, 37800),
    ("Australia/Lord_Howe", "2026-10-03T15:30:00Z", 37800, 39600),
]  # fmt: skip


def offset_s(text: str) -> int:
    sign = -1 if text[-6] == "-" else 1
    return sign * (int(text[-5:-3]) * 3600 + int(text[-2:]) * 60)


@pytest.mark.parametrize(("day", "week"), ISO_WEEKS)
def test_iso_weeks(day: str, week: str) -> None:
    for zone, offset in (("UTC", "Z"), ("Pacific/Kiritimati", "+14:00"), ("Etc/GMT+12", "-12:00")):
        assert iso_week(parse_wall(f"{day}T00:00:00{offset}"), zone) == week
        assert iso_week(parse_wall(f"{day}T23:59:59.999{offset}"), zone) == week


def test_years_with_53_weeks() -> None:
    """71 of 400 years have 53 weeks (read in a published list; verified with Python's datetime)."""
    long_years = [y for y in range(2000, 2400) if iso_week(parse_wall(f"{y}-12-28T12:00:00Z"), "UTC").endswith("W53")]
    assert len(long_years) == 71 and {2004, 2009, 2015, 2020, 2026} <= set(long_years)


@pytest.mark.parametrize(("text", "ms"), RFC_3339)
def test_rfc_3339_times(text: str, ms: int) -> None:
    assert parse_wall(text) == ms
    assert parse_wall(wall_text(ms, "UTC")) == ms


@pytest.mark.parametrize("text", ["1990-13-31T23:59:00Z", "1/1/2017", "2017-01-01T", "2017-01-01T10:00:00", ""])
def test_what_is_no_rfc_3339_time_is_refused(text: str) -> None:
    with pytest.raises(CommandFault):
        parse_wall(text)


@pytest.mark.parametrize("text", ["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"])
def test_leap_second_is_refused(text: str) -> None:
    """RFC 3339 section 5.8 allows these two; no clock of a handheld shows them, so here they are slips."""
    with pytest.raises(CommandFault):
        parse_wall(text)


@pytest.mark.parametrize(("zone", "moment", "before_s", "after_s"), CHANGES)
def test_clock_changes(zone: str, moment: str, before_s: int, after_s: int) -> None:
    ms = parse_wall(moment)
    before, after = wall_text(ms - 1, zone), wall_text(ms, zone)
    assert (offset_s(before), offset_s(after)) == (before_s, after_s)
    assert parse_wall(after) - parse_wall(before) == 1


@pytest.mark.parametrize(
    ("start", "end", "true_s"),
    [
        ("2026-10-25T01:50:00+02:00", "2026-10-25T03:10:00+01:00", 8400),
        ("2026-03-29T01:50:00+01:00", "2026-03-29T03:10:00+02:00", 1200),
    ],
)
def test_time_over_a_clock_change_is_true_time(start: str, end: str, true_s: int) -> None:
    """Both pairs differ by 4800 s on the wall of Berlin. Computed with zoneinfo and tzdata 2026.6."""
    assert (parse_wall(end) - parse_wall(start)) / 1000 == true_s
    assert [wall_text(parse_wall(t), "Europe/Berlin")[:19] for t in (start, end)] == [start[:19], end[:19]]


def test_hour_that_comes_twice_is_told_apart_by_its_offset() -> None:
    first, second = parse_wall("2026-10-25T00:30:00Z"), parse_wall("2026-10-25T01:30:00Z")
    assert wall_text(first, "Europe/Berlin") == "2026-10-25T02:30:00.000+02:00"
    assert wall_text(second, "Europe/Berlin") == "2026-10-25T02:30:00.000+01:00"
    assert iso_week(first, "Europe/Berlin") == iso_week(second, "Europe/Berlin") == "2026-W43"
