"""The journal: weeks, checkpoints, opening again, and disks that fail."""

import pytest
from record_cases import NEXT_WEEK, WEEK, copied, event, numbers, opened, record, write

from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.segments import segment_path
from protocols.errors import Defect, DiskError
from tests.faults import FaultyDisk

PATH = segment_path(WEEK)


def test_a_new_home_is_empty_and_opening_it_writes_nothing():
    disk = MemoryDisk()
    found = Journal(disk).open()
    assert (found.checkpoint, found.events, found.sight, found.set_aside, found.witness_lost) == (
        None, [], None, [], False,
    )  # fmt: skip
    assert disk.files == {}


def test_append_gives_the_line_as_it_is_read_back():
    disk = MemoryDisk()
    journal = opened(disk)
    sealed = journal.append(event(1), WEEK, dict)
    assert {**event(1), "seq": 2, "prev": sealed["prev"], "hash": sealed["hash"]} == sealed
    assert journal.head == (2, sealed["hash"])
    first, second = journal.lines()
    assert second == sealed and sealed["prev"] == first["hash"]
    assert (first["seq"], first["kind"], first["prev"], first["by"]) == (1, "checkpoint", "0" * 64, "")


def test_opening_again_gives_the_last_checkpoint_and_the_events_after_it():
    disk = record(10, every=4)
    found = Journal(disk, checkpoint_every=4).open()
    assert found.checkpoint["data"] == {"next": 9} and numbers(found.events) == [9, 10]
    assert (found.sight.elapsed, found.sight.wall, found.sight.boot) == (70_000, event(10)["wall"], "boot-1")
    assert numbers(opened(disk).lines()) == list(range(1, 11))


def test_going_on_after_opening_keeps_the_distance_of_checkpoints():
    disk = record(6, every=4)
    write(opened(disk, 4), 7, 9)
    kinds = "".join("C" if line["kind"] == "checkpoint" else "." for line in opened(disk).lines())
    assert kinds == "C....C....C."


def test_a_new_week_begins_a_segment_with_a_checkpoint_and_never_goes_back():
    disk = record(2)
    journal = opened(disk)
    write(journal, 3, 4, NEXT_WEEK)
    write(journal, 5, 5, WEEK)
    assert journal.segments() == [WEEK, NEXT_WEEK]
    assert numbers(journal.iter_segment(WEEK)) == [1, 2]
    lines = list(journal.iter_segment(NEXT_WEEK))
    assert lines[0]["kind"] == "checkpoint" and lines[0]["data"] == {"next": 3} and numbers(lines) == [3, 4, 5]
    assert lines[0]["prev"] == list(journal.iter_segment(WEEK))[-1]["hash"]
    found = Journal(disk).open()
    assert found.checkpoint == lines[0] and numbers(found.events) == [3, 4, 5]
    # Weeks sort as text also from one year to the next. Source: ISO 8601, 2026 has 53 weeks.
    write(journal, 6, 6, "2026-W53")
    write(journal, 7, 7, "2027-W01")
    assert journal.segments()[-2:] == ["2026-W53", "2027-W01"]


def test_lines_from_a_seq_cross_segments():
    disk = record(3)
    journal = opened(disk)
    write(journal, 4, 6, NEXT_WEEK)
    everything = list(journal.lines())
    for seq in range(1, len(everything) + 2):
        assert list(journal.lines(seq)) == everything[seq - 1 :]


def test_a_purged_old_week_is_no_damage():
    disk = record(3)
    write(opened(disk), 4, 6, NEXT_WEEK)
    disk.remove(PATH)
    journal = opened(disk)
    assert numbers(journal.lines()) == [4, 5, 6] and journal.readable().missing == []


def test_opening_reads_neither_old_segments_nor_what_lies_before_the_checkpoint():
    disk = record(3)
    write(opened(disk, 4), 4, 12, NEXT_WEEK)
    found = Journal(disk).open()
    offset = found.sight.checkpoint_offset
    assert offset > 1000
    disk.files[PATH][:] = b"rubbish\n" * 50
    disk.files[segment_path(NEXT_WEEK)][:offset] = b"x" * offset
    again = Journal(disk)
    assert numbers(again.open().events) == numbers(found.events) == [12]
    assert [part.split(" ")[0] for part in again.readable().missing] == [PATH, segment_path(NEXT_WEEK)]


def test_touch_keeps_the_clocks_and_adds_no_line():
    disk = record(2)
    journal = opened(disk)
    journal.touch(99_000, "2026-11-25T11:00:00.000+01:00")
    assert journal.head == opened(disk).head
    sight = Journal(disk).open().sight
    assert (sight.elapsed, sight.wall, sight.seq) == (99_000, "2026-11-25T11:00:00.000+01:00", 3)
    opened(MemoryDisk()).touch(1, "")


@pytest.mark.parametrize(
    ("changes", "week"),
    [({"kind": "checkpoint"}, WEEK), ({"more": 1}, WEEK), ({"data": {"a": {1}}}, WEEK), ({}, "W48"), ({}, "2026-W48 ")],
)
def test_what_is_not_an_event_is_refused_and_nothing_changes(changes, week):
    disk = record(2)
    journal = opened(disk)
    before = (copied(disk), journal.head)
    with pytest.raises(Defect):
        journal.append(event(3, **changes), week, dict)
    with pytest.raises(Defect, match="fit"):
        journal.append(event(3, boot="b" * 400), WEEK, dict)
    assert (copied(disk), journal.head) == before
    with pytest.raises(Defect, match="not opened"):
        Journal(disk).append(event(3), WEEK, dict)


def test_a_lost_witness_is_reported_and_written_again():
    disk = record(10, every=4)
    disk.remove("head")
    found = Journal(disk).open()
    assert found.witness_lost and numbers(found.events) == [9, 10] and found.checkpoint["data"] == {"next": 9}
    assert not Journal(disk).open().witness_lost


def test_a_witness_that_lags_over_a_change_of_weeks_is_enough():
    disk = record(3)
    lagging = disk.read("head")
    write(opened(disk), 4, 6, NEXT_WEEK)
    disk.replace("head", lagging)
    found = Journal(disk).open()
    assert numbers(found.events) == [4, 5, 6] and found.sight.seq == 8 and not found.witness_lost


def test_an_empty_segment_is_one_that_was_never_begun():
    disk = record(3)
    disk.append(segment_path(NEXT_WEEK), b"")
    assert numbers(Journal(disk).open().events) == [1, 2, 3]
    disk.remove("head")
    journal = Journal(disk)
    assert numbers(journal.open().events) == [1, 2, 3]
    write(journal, 4, 4, NEXT_WEEK)
    assert numbers(opened(disk).lines()) == [1, 2, 3, 4]


def test_a_full_disk_refuses_the_event_and_the_next_one_works():
    disk = FaultyDisk()
    journal = opened(disk)
    write(journal, 1, 2)
    before = (copied(disk.inner), journal.head)
    disk.fill()
    for week in (WEEK, NEXT_WEEK):
        with pytest.raises(DiskError, match="free space"):
            write(journal, 3, 3, week)
    assert (copied(disk.inner), journal.head) == before
    disk.mend()
    write(journal, 3, 3)
    assert numbers(opened(disk).lines()) == [1, 2, 3]


def test_a_witness_that_cannot_be_written_is_told_and_loses_nothing():
    disk = FaultyDisk()
    journal = opened(disk)
    write(journal, 1, 1)
    disk.fail(disk.operations + 2)
    write(journal, 2, 2)
    assert disk.fired and "failed as told" in journal.witness_fault
    assert numbers(opened(disk).lines()) == [1, 2]
    write(journal, 3, 3)
    assert journal.witness_fault is None
