"""Parts of the app that need no window: answers of a receipt, leaves, scanner, words of lanes, what was done."""

from __future__ import annotations

from typing import Any

import pytest
import stage

from data.rehearse.scene import must
from protocols.clock import Stamp, parse_wall
from protocols.cycle import State
from protocols.event import Command
from protocols.labels import LONGEST
from protocols.lane import lanes
from screens.app import has_display
from screens.demo import BENCH, SetBackClock, length_s
from screens.history import History
from screens.receive.answers import Answers, last_ms, next_ms
from screens.scanner import Scanner
from screens.telling import clash, left_text, needs, tell
from screens.widgets.leaves import split
from screens.widgets.timeline_shape import HandsNeeded

NOON = Stamp(0, 0, parse_wall("2026-11-25T12:00:30+01:00"))
ZONE = "Europe/Berlin"


@pytest.mark.parametrize(
    ("environment", "platform", "answer"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({"SDL_VIDEODRIVER": "offscreen"}, "linux", True),
        ({"SDL_VIDEODRIVER": "dummy"}, "linux", False),
        ({"SDL_VIDEODRIVER": "x11"}, "linux", False),
        ({"ANDROID_ARGUMENT": "/data"}, "linux", True),
        ({}, "darwin", True),
        ({}, "win32", True),
    ],
)
def test_whether_there_is_a_display(environment: dict[str, str], platform: str, answer: bool) -> None:
    assert has_display(environment, platform) is answer


@pytest.mark.parametrize(
    ("typed", "wall"),
    [
        ("10.05", "2026-11-25T10:05:00+01:00"),
        ("1005", "2026-11-25T10:05:00+01:00"),
        ("12:00", "2026-11-25T12:00:00+01:00"),
        ("23.30", "2026-11-24T23:30:00+01:00"),
        ("24.00", None),
        ("9.5", None),
        ("10.60", None),
        ("", None),
        ("1²05", None),
    ],
)
def test_a_typed_time(typed: str, wall: str | None) -> None:
    assert last_ms(typed, NOON, ZONE) == (None if wall is None else parse_wall(wall))


@pytest.mark.parametrize(
    ("now", "typed", "last", "following"),
    [
        # Berlin puts its clocks on at 02:00 on 29 March 2026 and back at 03:00 on 25 October 2026 (tzdata 2026a).
        ("2026-03-29T03:30:00+02:00", "1.30", "2026-03-29T01:30:00+01:00", "2026-03-30T01:30:00+02:00"),
        ("2026-03-29T09:00:00+02:00", "23.00", "2026-03-28T23:00:00+01:00", "2026-03-29T23:00:00+02:00"),
        ("2026-03-29T09:00:00+02:00", "2.30", "2026-03-29T03:30:00+02:00", "2026-03-30T02:30:00+02:00"),
        ("2026-10-25T03:10:00+01:00", "1.50", "2026-10-25T01:50:00+02:00", "2026-10-26T01:50:00+01:00"),
        ("2026-10-25T03:10:00+01:00", "2.30", "2026-10-25T02:30:00+01:00", "2026-10-26T02:30:00+01:00"),
        ("2026-10-25T02:10:00+01:00", "2.30", "2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"),
        ("2026-11-25T10:42:00+01:00", "10.42", "2026-11-25T10:42:00+01:00", "2026-11-26T10:42:00+01:00"),
    ],
)
def test_a_typed_time_is_that_of_the_clock_on_the_wall_also_when_clocks_were_changed(
    now: str, typed: str, last: str, following: str
) -> None:
    stamp = Stamp(0, 0, parse_wall(now))
    assert last_ms(typed, stamp, ZONE) == parse_wall(last)
    assert next_ms(typed, stamp, ZONE) == parse_wall(following)


def test_a_receipt_holds_what_was_said_and_nothing_more() -> None:
    said = Answers("B2", "26-1", True, None, "bronchoscopy", "room nurse")
    assert said.values("unknown", NOON, ZONE) == {
        "case": "26-1",
        "procedure_date": "2026-11-25",
        "procedure_type": "bronchoscopy",
        "precleaned": "unknown",
    }
    said.ended_ms = parse_wall("2026-11-24T23:50:00+01:00")
    values = said.values("yes", NOON, ZONE)
    assert values["procedure_date"] == "2026-11-24"
    assert values["precleaned_by"] == "room nurse"
    assert "preclean_start" not in values


def test_all_that_fits_is_one_leaf() -> None:
    assert split([40, 40, 40], [2], room=136, bar=57, gap=8) == [[0, 1, 2]]


def test_what_must_be_seen_is_on_the_first_leaf_in_its_own_place() -> None:
    assert split([40, 200, 95, 60], [2, 0], room=300, bar=57, gap=8) == [[0, 2], [1], [3]]


def test_a_block_taller_than_a_leaf_gets_one_of_its_own() -> None:
    assert split([500, 40], [], room=300, bar=57, gap=8) == [[0], [1]]


def test_no_block_is_lost_or_shown_twice() -> None:
    heights = [30, 120, 95, 44, 60, 61, 20, 200]
    for room in range(120, 700, 7):
        leaves = split(heights, [2, 0, 3], room, 57, 8)
        assert sorted(number for leaf in leaves for number in leaf) == list(range(len(heights)))
        assert 2 in leaves[0]


def typed(scanner: Scanner, text: str, by_text: bool) -> None:
    for char in text:
        shift = ["shift"] if char.isupper() else []
        scanner.key(None, ord(char.lower()), 0, char.lower(), shift)
        if by_text:
            scanner.typed(None, char)
    scanner.key(None, 13)


@pytest.mark.parametrize("by_text", [True, False])
def test_a_scan_is_the_same_whether_the_system_sends_text_with_its_keys_or_not(by_text: bool) -> None:
    got: list[str] = []
    scanner = Scanner(got.append)
    typed(scanner, "B2", by_text)
    typed(scanner, "26-4471", by_text)
    assert got == ["B2", "26-4471"]


def test_a_stuck_key_and_control_keys_do_no_harm() -> None:
    got: list[str] = []
    scanner = Scanner(got.append)
    for _ in range(10_000):
        scanner.key(None, 97, 0, "a", [])
    assert len(scanner.text) <= LONGEST
    scanner.key(None, 27)
    scanner.key(None, 99, 0, "c", ["ctrl"])
    scanner.key(None, 13)
    assert got == []


def test_waiting_times_are_rounded_up() -> None:
    assert left_text(0.2) == "0:01"
    assert left_text(60.0) == "1:00"
    assert left_text(60.001) == "1:01"


def test_a_clash_is_two_needs_within_a_minute() -> None:
    needs_ = [HandsNeeded("G7", 216, 60), HandsNeeded("C1", 275, 60), HandsNeeded("B4", 780, 60)]
    assert clash(needs_, NOON, ZONE) == "G7 and C1 clash 12:04"
    needs_[1] = HandsNeeded("C1", 276, 60)
    assert clash(needs_, NOON, ZONE) == ""
    three = [HandsNeeded(tag, 100, 60) for tag in "ABC"]
    assert clash(three, NOON, ZONE) == "3 scopes clash 12:02"


def desk_lanes() -> tuple[Any, Any, dict[str, Any]]:
    files, elapsed_ms = stage._made(BENCH)
    clock = stage.FakeClock(parse_wall(stage.START), boot=stage._BOOT, elapsed_ms=elapsed_ms)
    door = stage.open_door(stage.MemoryDisk(files), clock, stage._SHELF, device="test")
    return door, clock, {lane.scope: lane for lane in lanes(door.unit, door.shelf, door.now())}


def test_lanes_in_words() -> None:
    door, _, found = desk_lanes()
    now = door.now()
    told = {tag: tell(lane, now, ZONE) for tag, lane in found.items()}
    assert (told["G3"].title, told["G3"].figure, told["G3"].level) == ("Rinse now", "OVER 6:05", "over")
    assert told["G3"].detail == "was to begin by 10:35"
    assert (told["B2"].title, told["B2"].figure) == ("Lift out of detergent", "ready")
    assert told["B2"].detail == "ready 0:12 ago, soaked 1:12 of 1:00, limit 11:10"
    assert (told["G7"].figure, told["G7"].detail) == ("3:36", "lift out 10:46, limit 10:55")
    assert (told["B4"].detail, told["B4"].mark) == ("check dry from 10:48", "disinfected")
    assert told["G9"].figure == "waits 0:20"
    assert {need.tag for need in needs(found.values())} == {"G3", "B2", "G7", "C1", "B4", "D6"}


def test_what_was_done_comes_from_the_record_in_portions_and_without_what_was_taken_back() -> None:
    door, clock, found = desk_lanes()
    seen = History(door)
    lane = found["G9"]
    for _ in range(2):
        clock.advance(1)
        for do in ("count", "undo"):
            clock.advance(1)
            seen.add(must(door.give(Command(do, "G9", {}, "joss"))))
    while not seen.whole:
        seen.more()
    assert not seen.failed
    rows = seen.rows(lane.cycle.id, lane.protocol, ZONE)
    assert rows[0].what == "Received"
    assert rows[-1].what == "Brush tip"
    assert len({(row.time, row.what) for row in rows}) == len(rows)
    receipt = next(x for x in door.journal.lines() if x["kind"] == "receive" and x["subject"] == "G9")
    assert seen.ended(lane.cycle.id) == receipt["data"]["procedure_end"]


def test_the_clock_of_a_demonstration_ends_in_the_present() -> None:
    real = stage.FakeClock(parse_wall(stage.START))
    clock = SetBackClock(real, 3600)
    assert clock.read().wall_ms == real.read().wall_ms - 3_600_000
    first = clock.read()
    clock.advance(1800)
    assert clock.read().elapsed_ms - first.elapsed_ms == 1_800_000
    clock.arrive()
    assert clock.read().wall_ms == real.read().wall_ms
    assert clock.read().elapsed_ms - first.elapsed_ms == 3_600_000
    real.advance(5)
    assert clock.read().elapsed_ms - first.elapsed_ms == 3_605_000


def test_every_point_of_the_demonstration_is_reached() -> None:
    taken, back_s = length_s(stage._SHELF, BENCH, parse_wall(stage.START))
    assert set(taken) == {point.place.tag for point in BENCH}
    assert back_s < 2 * 3600
    _, _, found = desk_lanes()
    assert {(t, lane.step.id, lane.state) for t, lane in found.items()} == {
        (p.place.tag, p.step, p.state) for p in BENCH
    }
    assert State.IN in {lane.state for lane in found.values()}
