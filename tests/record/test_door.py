"""The door: what is accepted is durable first, and a reopened record stands exactly where it was left."""

from __future__ import annotations

import json

import pytest

from data.door import Door
from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.read_only import ReadOnlyDoor
from data.rehearse.ordinary import ordinary
from data.rehearse.scene import LEAD, fresh_bath, must, opening, places, scene_clock
from protocols.clock import FakeClock, iso_week, parse_wall
from protocols.errors import ClockError, DiskError, RecordDamaged, RecordTooNew
from protocols.event import SCHEMA, Command, Event, from_envelope
from protocols.fold import evolve
from protocols.lane import lanes
from protocols.plain import to_plain
from protocols.unit import Unit
from tests.faults import FaultyDisk

SHELF = shipped_shelf()


def door_on(disk, clock) -> Door:
    return open_door(disk, clock, SHELF, "hh1")


def set_up(door: Door, clock: FakeClock, count: int = 2) -> None:
    for command in opening(door.unit, places(count)):
        must(door.give(command))
    must(door.give(fresh_bath("disinfectant", "H1", 1, clock.true_ms)))
    must(door.give(fresh_bath("detergent", "W1", 2, clock.true_ms)))


def receive(door: Door, tag: str) -> Event:
    values = {"case": "26-1", "procedure_date": "2026-11-25", "procedure_type": "demo", "precleaned": "no"}
    return must(door.give(Command("receive", tag, values, LEAD)))


def go_on(door: Door, clock: FakeClock, taps: int) -> None:
    """Give the ordinary next command that many times, waiting where something runs."""
    for _ in range(taps):
        lane = lanes(door.unit, door.shelf, door.now())[0]
        clock.advance(max(20.0, lane.left_s))
        step = lane.step
        assert step.bath != "disinfectant", "so far the taps of these tests don't go"
        must(door.give(ordinary(lane, LEAD, "W1", 31)))


def refolded(disk) -> Unit:
    """The unit that folding every line of the journal gives."""
    unit, journal = Unit(), Journal(disk)
    journal.open()
    for line in journal.lines():
        unit = evolve(unit, from_envelope(line))
    return unit


def test_reopening_brings_everything_back_and_time_went_on():
    disk, clock = MemoryDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    receive(door, "B2")
    go_on(door, clock, 5)
    before = door.unit
    disk.unlock()
    clock.advance(3600)
    again = door_on(disk, clock)
    assert to_plain(again.unit) == to_plain(before)
    assert again.found.rebooted is False
    assert again.now().proven_ms - before.cycles["B2"].last_at.proven_ms == 3_600_000


def test_a_reboot_is_an_event_that_names_the_gap_from_the_last_sight():
    disk, clock = MemoryDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    clock.advance(30)
    door.touch()
    clock.reboot(45)
    clock.advance(15)
    again = door_on(disk, clock)
    assert again.found.rebooted is True
    line = list(again.journal.lines())[-1]
    # 45 s without power; the new boot's elapsed clock has counted the 15 s since.
    assert (line["kind"], line["data"]["gap_longest_ms"]) == ("boot", 45_000)
    assert again.unit.time.proven_base_ms == line["data"]["seen_elapsed_ms"]


def test_the_elapsed_clock_going_back_is_refused_loudly():
    disk, clock = MemoryDisk(), scene_clock()
    set_up(door_on(disk, clock), clock)
    with pytest.raises(ClockError, match="the elapsed clock went back"):
        door_on(disk, scene_clock_earlier())


def scene_clock_earlier() -> FakeClock:
    clock = scene_clock()
    return FakeClock(clock.true_ms, boot=clock.read().boot, elapsed_ms=1)


@pytest.mark.parametrize("how", ["clean", "short"])
def test_a_full_disk_leaves_the_unit_and_the_record_as_they_were(how):
    disk, clock = FaultyDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    receive(door, "B2")
    before, head = door.unit, door.journal.head
    clock.advance(20)
    if how == "clean":
        disk.fill()
    else:
        disk.fail(disk.operations + 1, how="short")
    command = ordinary(lanes(door.unit, door.shelf, door.now())[0], LEAD)
    with pytest.raises(DiskError):
        door.give(command)
    assert door.unit is before
    assert door.journal.head == head
    disk.mend()
    disk.reopen()
    again = door_on(disk, clock)
    assert to_plain(again.unit) == to_plain(before)
    assert isinstance(again.give(command), Event)


def test_every_failing_operation_of_a_command_loses_nothing():
    at = 0
    while True:
        at += 1
        disk, clock = FaultyDisk(), scene_clock()
        door = door_on(disk, clock)
        set_up(door, clock)
        disk.fail(disk.operations + at)
        acknowledged = []
        try:
            acknowledged.append(receive(door, "B2").seq)
        except DiskError:
            assert "B2" not in door.unit.cycles
        if not disk.fired:
            break
        disk.mend()
        disk.reopen()
        again = door_on(disk, clock)
        assert to_plain(again.unit) == to_plain(door.unit)
        assert [n for n in acknowledged if n > again.unit.seq] == []
    assert at > 2


def test_a_cycle_from_sunday_to_monday_goes_on_in_the_new_week_after_reopening():
    disk, clock = MemoryDisk(), FakeClock(parse_wall("2026-11-29T23:30:00+01:00"))
    door = door_on(disk, clock)
    set_up(door, clock)
    clock.advance(1200)
    receive(door, "B2")
    assert iso_week(clock.true_ms, "Europe/Berlin") == "2026-W48"
    clock.advance(900)
    go_on(door, clock, 2)
    assert door.journal.segments() == ["2026-W48", "2026-W49"]
    disk.unlock()
    again = door_on(disk, clock)
    assert to_plain(again.unit) == to_plain(door.unit)
    assert to_plain(refolded(disk)) == to_plain(door.unit)
    go_on(again, clock, 3)
    assert again.unit.cycles["B2"].id == door.unit.cycles["B2"].id


def test_the_week_never_goes_back_with_the_wall_clock():
    disk, clock = MemoryDisk(), FakeClock(parse_wall("2026-11-30T00:10:00+01:00"))
    door = door_on(disk, clock)
    set_up(door, clock)
    clock.step(-3600)
    receive(door, "B2")
    assert iso_week(clock.read().wall_ms, "Europe/Berlin") == "2026-W48"
    # The first line was written before the unit had a zone, when it was still Sunday in UTC.
    assert door.journal.segments() == ["2026-W48", "2026-W49"]
    assert [line["kind"] for line in door.journal.iter_segment(door.journal.segments()[-1])][-1] == "receive"


def test_checkpoints_say_the_same_as_the_events_before_them():
    disk, clock = MemoryDisk(), scene_clock()
    door = Door(Journal(disk, checkpoint_every=7), door_on(MemoryDisk(), scene_clock()).texts, clock, SHELF, "hh1")
    set_up(door, clock)
    receive(door, "B2")
    go_on(door, clock, 20)
    must(door.give(Command("close-bath", "W1", {"reason": "used"}, LEAD)))
    receive(door, "G3")
    unit, checked = Unit(), 0
    for line in door.journal.lines():
        if line["kind"] == "checkpoint":
            # The event before the fold of a checkpoint is archived first, as the state in it is.
            archived = evolve(unit, from_envelope(line))
            assert to_plain(archived._replace(seq=unit.seq, time=unit.time)) == line["data"]
            checked += 1
        unit = evolve(unit, from_envelope(line))
    assert checked > 3
    assert to_plain(unit) == to_plain(door.unit)


def test_a_record_of_a_newer_version_opens_for_nobody_and_is_left_alone():
    disk, clock = MemoryDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    envelope = {
        "v": SCHEMA + 1, "device": "hh1", "kind": "boot", "subject": "hh1", "refs": {}, "elapsed": 70_000,
        "wall": "2026-11-25T08:00:00.000+01:00", "boot": "rehearsal-1", "by": "device", "data": {},
    }  # fmt: skip
    newer = Journal(disk, known_v=SCHEMA + 1)
    newer.open()
    newer.append(envelope, "2026-W48", dict)
    files = dict(disk.files)
    with pytest.raises(RecordTooNew, match="newer"):
        door_on(disk, clock)
    assert dict(disk.files) == files


def test_an_adopted_text_is_kept_by_its_hash_before_the_event_that_needs_it():
    disk, clock = MemoryDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    for sha in door.unit.protocols.values():
        assert door.texts.get(sha) == SHELF.text(sha)
    event = next(line for line in door.journal.lines() if line["kind"] == "adopt-protocol")
    assert event["data"]["text_sha256"] in door.unit.protocols.values()
    assert json.dumps(event).count(event["data"]["text_sha256"]) == 1


STRANGE = [
    {"kind": "look", "subject": "B2", "data": {}},  # of no cycle
    {"kind": "odd", "subject": "B2", "data": {}},
    {"kind": "set-unit", "subject": "unit", "data": {"settings": {"odd": 1}}},
    {"kind": "add-person", "subject": "x", "data": {"name": "x"}},
]


@pytest.mark.parametrize("strange", STRANGE)
def test_a_line_whose_hash_fits_and_that_no_app_wrote_is_damage_and_what_came_before_it_is_shown(strange):
    disk, clock = MemoryDisk(), scene_clock()
    door = door_on(disk, clock)
    set_up(door, clock)
    own = SHELF.text(SHELF.shipped["gastroscope"]).replace('title = "', 'title = "our ', 1)
    must(door.give(Command("adopt-protocol", "gastroscope", {"toml": own}, LEAD)))
    adopted = door.unit.protocols["gastroscope"]
    before, reading = door.unit, clock.read()
    envelope = {
        "v": SCHEMA, "device": "hh1", "refs": {}, "elapsed": reading.elapsed_ms, "by": LEAD, "boot": reading.boot,
        "wall": "2026-11-25T08:00:00.000+01:00", **strange,
    }  # fmt: skip
    door.journal.append(envelope, "2026-W48", dict)
    files = dict(disk.files)
    with pytest.raises(RecordDamaged, match=f"to {before.seq + 1} of the record holds what no version of this app"):
        door_on(disk, clock)
    assert dict(disk.files) == files
    shown = ReadOnlyDoor(disk, shipped_shelf())
    assert to_plain(shown.unit) == to_plain(before)
    assert any("2026-W48.jsonl and what follows it" in what for what in shown.missing)
    assert shown.shelf.protocol(adopted).title.startswith("our ")
