"""The journal's tail and damage of every kind: what is a torn write, what is not, and what can still be read."""

import pytest
from record_cases import NEXT_WEEK, WEEK, copied, event, numbers, opened, record, write

from data.journal import Journal
from data.line import seal
from data.memory_disk import MemoryDisk
from data.segments import segment_path
from data.witness import Witness
from protocols.errors import DiskError, RecordDamaged, RecordTooNew
from tests.faults import FaultyDisk

PATH = segment_path(WEEK)


def cut_records(every, week):
    """A record of 4 events, and what is there when the write of a fifth was cut off, for each length of it."""
    disk = record(4, every)
    before = copied(disk)
    write(opened(disk, every), 5, 5, week)
    path = segment_path(week)
    start = len(before.get(path, b""))
    added = disk.read(path)[start:]
    for length in range(len(added) + 1):
        yield before, path, start, added[:length], length == len(added)


@pytest.mark.parametrize(("every", "week"), [(400, WEEK), (4, WEEK), (400, NEXT_WEEK)])
@pytest.mark.parametrize("witness", [True, False])
def test_a_write_cut_off_at_any_byte_is_set_aside_and_the_record_goes_on(every, week, witness):
    for before, path, start, part, complete in cut_records(every, week):
        disk = MemoryDisk({**before, path: before.get(path, b"") + part})
        if not witness:
            disk.remove("head")
        journal = Journal(disk, checkpoint_every=every)
        found = journal.open()
        whole = part.rfind(b"\n") + 1
        name = f"set-aside/{week}-{start + whole}"
        assert found.set_aside == ([name] if part[whole:] else []), len(part)
        assert part[whole:] == (disk.read(name) if found.set_aside else b"")
        assert disk.read(path) == before.get(path, b"") + part[:whole]
        write(journal, 6, 7, week)
        assert numbers(opened(disk).lines()) == [1, 2, 3, 4, *([5] if complete else []), 6, 7], len(part)


def test_a_second_torn_write_at_the_same_place_keeps_the_first():
    disk = record(2)
    size = disk.size(PATH)
    for piece, name in ((b"{1", ""), (b"{2", "-2"), (b"{2", "-2"), (b"{3", "-3")):
        disk.append(PATH, piece)
        assert Journal(disk).open().set_aside == [f"set-aside/{WEEK}-{size}{name}"]
    assert [disk.read(f"set-aside/{name}") for name in disk.names("set-aside")] == [b"{1", b"{2", b"{3"]


def test_a_record_shorter_than_its_witness_is_damage():
    disk = record(3)
    whole = disk.read(PATH)
    for length in range(len(whole)):
        disk.files[PATH][:] = whole[:length]
        refused(disk)


def test_a_torn_write_is_never_in_neither_place_when_setting_it_aside_fails():
    for at in range(1, 30):
        torn = record(2)
        torn.append(PATH, b'{"torn')
        disk = FaultyDisk(torn)
        disk.fail(at)
        try:
            Journal(disk).open()
        except DiskError:
            after = disk.crash(at)
            assert after.read(PATH).endswith(b'{"torn') or after.names("set-aside"), at
            found = Journal(after).open()
            assert (
                numbers(found.events) == [1, 2] and after.read(f"set-aside/{after.names('set-aside')[0]}") == b'{"torn'
            ), at
        if not disk.fired:
            break
    assert 5 < at < 29


def test_a_witness_that_points_at_another_line_than_a_checkpoint_is_not_believed():
    disk = record(5)
    sight = Journal(disk).open().sight
    second = disk.read(PATH).index(b"\n") + 1
    witness = Witness(disk)
    witness.read()
    witness.write(witness.slot(sight._replace(checkpoint_offset=second)))
    found = Journal(disk).open()
    assert found.checkpoint["data"] == {"next": 1} and numbers(found.events) == [1, 2, 3, 4, 5]


def refused(disk, error=RecordDamaged):
    """The disk is refused, and neither opening nor appending nor touching writes anything; gives the journal."""
    before = copied(disk)
    journal = Journal(disk)
    with pytest.raises(error):
        journal.open()
    with pytest.raises(error):
        journal.append(event(99), WEEK, dict)
    journal.touch(1, "now")
    assert copied(disk) == before
    return journal


def test_every_flipped_bit_of_a_record_is_damage_and_what_is_before_it_is_readable():
    disk = record(3)
    whole = disk.read(PATH)
    ends = [place + 1 for place, byte in enumerate(whole) if byte == 10]
    for place in range(len(whole) * 8):
        disk.files[PATH][place // 8] ^= 1 << place % 8
        journal = refused(disk)
        if place % 97 == 0:
            readable = journal.readable()
            assert readable.missing[0].startswith(
                f"{PATH} from byte {max([0, *(e for e in ends if e <= place // 8)])} "
            )
            assert len(list(readable.lines())) == sum(end <= place // 8 for end in ends)
        disk.files[PATH][place // 8] ^= 1 << place % 8
    assert numbers(Journal(disk).open().events) == [1, 2, 3]


def test_no_flipped_bit_of_the_witness_loses_anything():
    disk = record(3)
    for place in range(disk.size("head") * 8):
        flipped = MemoryDisk(copied(disk))
        flipped.files["head"][place // 8] ^= 1 << place % 8
        found = Journal(flipped).open()
        assert numbers(found.events) == [1, 2, 3] and not found.witness_lost


def changed_lines(lines):
    stranger = seal({**event(8), "seq": 3, "prev": "ab" * 32})[0]
    for place in range(len(lines)):
        yield f"removed {place}", [*lines[:place], *lines[place + 1 :]]
        yield f"repeated {place}", [*lines[: place + 1], *lines[place:]]
        yield f"inserted before {place}", [*lines[:place], stranger, *lines[place:]]
        for other in range(place + 1, len(lines)):
            swapped = list(lines)
            swapped[place], swapped[other] = swapped[other], swapped[place]
            yield f"swapped {place} and {other}", swapped
    yield "appended", [*lines, stranger]
    yield "rubbish appended", [*lines, b"rubbish\n"]


def test_lines_removed_repeated_inserted_or_swapped_are_damage():
    disk = record(4)
    for _, lines in changed_lines(disk.read(PATH).splitlines(keepends=True)):
        disk.files[PATH][:] = b"".join(lines)
        refused(disk)


def test_a_missing_segment_is_damage():
    disk = record(3)
    write(opened(disk), 4, 5, NEXT_WEEK)
    write(opened(disk), 6, 7, "2026-W50")
    last = MemoryDisk(copied(disk))
    last.remove(segment_path("2026-W50"))
    assert "line 10, which was the last one of journal/2026-W50.jsonl" in refused(last).readable().missing
    # One in the middle is not read when opening; whoever reads all of the record comes to it.
    disk.remove(segment_path(NEXT_WEEK))
    journal = opened(disk)
    with pytest.raises(RecordDamaged, match=r"2026-W50\.jsonl, line at byte 0: its seq is 8, .* calls for 5"):
        list(journal.lines())
    readable = journal.readable()
    assert numbers(readable.lines()) == [1, 2, 3, 6, 7]
    assert readable.missing == ["what lay between journal/2026-W48.jsonl and journal/2026-W50.jsonl"]


def test_a_piece_without_line_end_before_a_later_segment_is_damage():
    disk = record(3)
    before = disk.read("head")
    write(opened(disk), 4, 5, NEXT_WEEK)
    disk.append(PATH, b'{"boot":')
    with pytest.raises(RecordDamaged, match="it has no line end"):
        list(Journal(disk).iter_segment(WEEK))
    disk.replace("head", before)
    refused(disk)


def test_a_record_by_a_newer_version_opens_read_only():
    disk = record(2)
    write_newer = opened(disk)
    write_newer.append(event(3, v=2), WEEK, dict)
    journal = refused(disk, RecordTooNew)
    readable = journal.readable()
    assert numbers(readable.lines()) == [1, 2] and "is of version 2, this app knows up to 1" in readable.missing[0]
    assert numbers(Journal(disk, known_v=2).open().events) == [1, 2, 3]
