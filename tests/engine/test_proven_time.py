"""Stamps and the Timeline: sleep, wall steps, reboots and clock changes. Times in ms of made-up clocks."""

from __future__ import annotations

import pytest
from driver import Bench
from hypothesis import given
from hypothesis import strategies as st

from protocols.clock import (
    UNKNOWN_GAP_MS,
    FakeClock,
    Reading,
    Timeline,
    clock_text,
    longest_gap_ms,
    longest_s,
    parse_wall,
    proven_s,
)
from protocols.errors import ClockError

WALL = 1_795_593_600_000


def test_within_one_boot_both_times_are_what_the_elapsed_clock_counted() -> None:
    line = Timeline("a", 1000, 5000)
    stamp = line.stamp(Reading(250, WALL, "a"))
    assert (stamp.proven_ms, stamp.longest_ms, stamp.wall_ms) == (1250, 5250, WALL)


def test_an_elapsed_clock_that_goes_back_within_a_boot_is_a_fault() -> None:
    line = Timeline("a", 0, 0, last_elapsed_ms=500)
    assert line.stamp(Reading(500, WALL, "a")).proven_ms == 500
    with pytest.raises(ClockError, match="went back from 500 ms to 499 ms"):
        line.stamp(Reading(499, WALL, "a"))


def test_a_reboot_adds_nothing_proven_and_the_whole_gap_at_most() -> None:
    line = Timeline("a", 0, 0).rebooted("b", seen_elapsed_ms=9_000, gap_longest_ms=60_000)
    stamp = line.stamp(Reading(100, WALL, "b"))
    assert (stamp.proven_ms, stamp.longest_ms) == (9_100, 69_100)
    again = line.rebooted("c", 1_000, 5_000).stamp(Reading(0, WALL, "c"))
    assert (again.proven_ms, again.longest_ms) == (10_000, 75_000)


@pytest.mark.parametrize(
    ("seen", "wall", "elapsed", "gap"),
    [
        (WALL, WALL + 70_000, 10_000, 60_000),
        (WALL, WALL + 10_000, 10_000, 0),
        (WALL, WALL + 9_999, 10_000, UNKNOWN_GAP_MS),  # set back: no clock can say how long
        (WALL, WALL - 1, 0, UNKNOWN_GAP_MS),
    ],
)
def test_the_longest_gap(seen: int, wall: int, elapsed: int, gap: int) -> None:
    assert longest_gap_ms(seen, Reading(elapsed, wall, "b")) == gap


MOVES = st.lists(
    st.tuples(st.sampled_from(["advance", "step", "sight", "reboot"]), st.integers(0, 200_000)), max_size=12
)


@given(MOVES, st.integers(-200, 200))
def test_proven_never_exceeds_and_longest_never_falls_short_of_true_time(
    moves: list[tuple[str, int]], ppm: int
) -> None:
    bench = Bench(ready=False)
    bench.clock.drift_ppm = ppm
    start, true_ms, stepped = bench.now, bench.clock.true_ms, False
    for move, ms in moves:
        if move == "advance":
            bench.clock.advance(ms / 1000)
        elif move == "step":
            # Forward only: a clock set back by less than the gap can't be told from a shorter gap.
            bench.clock.step(ms / 1000)
            stepped = True
        elif move == "reboot":
            bench.reboot(ms / 1000)
        now = bench.now
        passed_s = (bench.clock.true_ms - true_ms) / 1000
        assert proven_s(start, now) <= passed_s
        drifted_s = abs(ppm) * passed_s / 1_000_000 + 0.001 * len(moves)
        assert longest_s(start, now) + drifted_s >= passed_s
        assert proven_s(start, now) <= longest_s(start, now)
        if not stepped and ppm == 0 and bench.unit.seq == 1:
            assert proven_s(start, now) == passed_s == longest_s(start, now)


def test_sleep_counts_and_a_wall_step_does_not() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.clock.advance(600)  # asleep or awake, the elapsed clock counts
    bench.clock.step(-86_400)
    bench.clock.advance(119)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.clock.step(7200)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.clock.advance(1)
    bench.must("lift", "B2")


@pytest.mark.parametrize(
    ("start", "zone", "before", "after"),
    [
        # Clocks of 2026 in the IANA time zone database: Berlin 29 March and 25 October, Lord Howe 5 April.
        ("2026-03-29T00:50:00+00:00", "Europe/Berlin", "+01:00", "+02:00"),
        ("2026-10-25T00:50:00+00:00", "Europe/Berlin", "+02:00", "+01:00"),
        ("2026-04-04T14:50:00+00:00", "Australia/Lord_Howe", "+11:00", "+10:30"),
    ],
)
def test_a_soak_across_a_clock_change_lasts_its_time(start: str, zone: str, before: str, after: str) -> None:
    bench = Bench(start=start, zone=zone)
    bench.tap_s = 0.5
    bench.soaking("B2", temp_c=21)
    begun = bench.events[-1]
    bench.wait(719)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.wait(1)
    lifted = bench.must("lift", "B2")
    assert begun.wall.endswith(before) and lifted.wall.endswith(after)
    assert parse_wall(lifted.wall) - parse_wall(begun.wall) == 720_000
    assert lifted.data["contact_s"] == 720


def test_a_delay_across_the_clock_change_is_counted_in_true_minutes() -> None:
    bench = Bench(start="2026-10-25T01:05:00+00:00", zone="Europe/Berlin")
    bench.receive("B2", procedure_end="2026-10-25T02:10:00+02:00", procedure_date="2026-10-25")
    delay = bench.cycle("B2").delay
    assert delay is not None and delay.already_s == 55 * 60


def test_the_fake_clock_moves_only_forward() -> None:
    clock = FakeClock(WALL)
    with pytest.raises(ClockError, match="can't go back by 1 s"):
        clock.advance(-1)
    clock.step(-10)
    assert clock.read() == Reading(60_000, WALL - 10_000, "boot-1")


def test_durations_are_rounded_down_in_words() -> None:
    assert [clock_text(s) for s in (0, 59.999, 60, 365, 3599.9, 3600, 3723)] == [
        "0:00", "0:59", "1:00", "6:05", "59:59", "1:00:00", "1:02:03",
    ]  # fmt: skip
