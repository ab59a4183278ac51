"""Verifying the chain: nothing in a record can be changed, and nothing taken out or put in, without being named."""

from __future__ import annotations

from bisect import bisect
from itertools import accumulate
from random import Random

import pytest
from audit_cases import WEEK, changed_lines, differences, no_pause, small, three_weeks
from record_cases import copied, opened, record, write

from data.audit import Audit
from data.disk import Disk
from data.memory_disk import MemoryDisk
from data.segments import segment_path

PATH = segment_path(WEEK)


class ReadOnly:
    """A disk that knows only how to be read; anything else that is asked of it fails the test."""

    def __init__(self, inner: Disk) -> None:
        self.read, self.read_from, self.exists = inner.read, inner.read_from, inner.exists
        self.size, self.names = inner.size, inner.names


def test_a_whole_record_has_no_differences_and_is_only_read():
    disk = three_weeks(checkpoint_every=30).disk
    for chain_only in (False, True):
        audit = Audit(ReadOnly(disk), [], chain_only, no_pause)
        assert list(audit.differences()) == []
        lines = sum(disk.files[path].count(b"\n") for path in disk.files if path.startswith("journal/"))
        assert audit.summary().startswith(f"3 segments, {lines} lines")
    assert differences(MemoryDisk()) == []


def test_every_flipped_bit_of_a_segment_is_found_and_its_line_named():
    disk = small()
    whole = disk.read(PATH)
    assert whole.count(b"\n") == 5
    for place in range(len(whole) * 8):
        disk.files[PATH][place // 8] ^= 1 << place % 8
        first = next(iter(Audit(disk, [], True, no_pause).differences()))
        line = whole.count(b"\n", 0, place // 8) + 1
        start = whole.rfind(b"\n", 0, place // 8) + 1
        assert (first.file, first.line, first.byte, first.seq) == (PATH, line, start, line), place
        disk.files[PATH][place // 8] ^= 1 << place % 8
    assert differences(disk) == []


def test_the_full_audit_names_the_same_first_line():
    disk = small()
    whole = disk.read(PATH)
    for place in range(0, len(whole) * 8, 501):
        disk.files[PATH][place // 8] ^= 1 << place % 8
        assert differences(disk)[0] == differences(disk, chain_only=True)[0]
        disk.files[PATH][place // 8] ^= 1 << place % 8


def test_every_flipped_bit_of_the_witness_is_found():
    disk = small()
    assert disk.size("head") == 1024
    for place in range(1024 * 8):
        disk.files["head"][place // 8] ^= 1 << place % 8
        first = next(iter(Audit(disk, [], True, no_pause).differences()))
        assert (first.file, first.byte) == ("head", place // 4096 * 512), place
        disk.files["head"][place // 8] ^= 1 << place % 8


def test_the_first_note_of_a_record_leaves_one_slot_empty_and_that_is_no_difference():
    disk = MemoryDisk()
    write(opened(disk), 1, 1)
    assert disk.read("head")[:512].strip(b"\0") == b"" and differences(disk, chain_only=True) == []


@pytest.mark.parametrize("every", [400, 3])
def test_lines_removed_repeated_inserted_or_swapped_are_found_the_last_one_included(every):
    disk = MemoryDisk()
    write(opened(disk, every), 1, 5)
    for done, lines, first_unlike in changed_lines(disk.read(PATH).splitlines(keepends=True)):
        spoilt = MemoryDisk({**copied(disk), PATH: b"".join(lines)})
        found = differences(spoilt, chain_only=True)
        assert found and (found[0].file, found[0].line) == (PATH, first_unlike), (done, found)


def test_a_record_cut_short_anywhere_is_found():
    disk = small()
    whole = disk.read(PATH)
    for length in range(len(whole)):
        disk.files[PATH][:] = whole[:length]
        assert differences(disk, chain_only=True), length


def test_a_torn_write_is_named_as_one_and_damage_is_not():
    disk = small()
    disk.append(PATH, b'{"boot":"torn')
    (found,) = differences(disk)
    assert (found.line, found.seq) == (6, 6) and "a torn write of 13 bytes" in found.what
    cut = small()
    cut.truncate(PATH, cut.size(PATH) - 1)
    found = differences(cut, chain_only=True)
    assert found[0].line == 5 and "torn" not in str(found)


def test_segments_that_are_missing_are_found_wherever_they_lay():
    files = copied(three_weeks().disk)
    paths = sorted(path for path in files if path.startswith("journal/"))
    for place, path in enumerate(paths):
        disk = MemoryDisk({p: data for p, data in files.items() if p != path})
        found = differences(disk, chain_only=True)
        assert found[0].file == (paths[place + 1] if place < 2 else path), path
        assert "not there" in found[0].what


def test_a_lost_witness_and_one_that_lags_are_found():
    disk = small()
    lagging, older = small(), disk.read("head")
    disk.remove("head")
    assert [d.file for d in differences(disk)] == ["head"]
    # An older witness over a longer record: as after a crash between line and note, or after a line was added.
    write(opened(lagging), 6, 6)
    lagging.replace("head", older)
    found = differences(lagging, chain_only=True)
    assert (found[0].file, found[0].line, found[0].seq) == (PATH, 6, 6) and "comes after the last line" in found[0].what


def test_a_record_that_grows_meanwhile_is_read_up_to_where_it_was():
    bench = three_weeks()

    class Growing(ReadOnly):
        def __init__(self) -> None:
            super().__init__(bench.disk)
            self.read = self._read

        def _read(self, path: str) -> bytes:
            content = bench.disk.read(path)
            if path.startswith("journal/"):
                bench.wait(2)
                bench.must("note", "B3", what="other", text="still here")
            return content

    assert list(Audit(Growing(), [], False, no_pause).differences()) == []


def test_an_app_that_is_between_line_and_note_is_given_time():
    disk = MemoryDisk()
    journal = opened(disk)
    write(journal, 1, 3)
    behind = disk.read("head")
    write(journal, 4, 4)
    noted = disk.read("head")
    disk.replace("head", behind)
    audit = Audit(disk, [], True, lambda seconds: disk.replace("head", noted))
    assert list(audit.differences()) == []


def test_on_a_long_record_samples_of_every_change_are_found_with_their_line():
    disk = record(3000)
    whole = disk.read(PATH)
    lines, chance = whole.splitlines(keepends=True), Random(20261125)
    starts = [0, *accumulate(map(len, lines))]

    def first(data: bytes):
        disk.files[PATH][:] = data
        return next(iter(Audit(disk, [], True, no_pause).differences()))

    for place in [*chance.sample(range(len(whole) * 8), 40), len(whole) * 8 - 1, 0]:
        spoilt = bytearray(whole)
        spoilt[place // 8] ^= 1 << place % 8
        found = first(bytes(spoilt))
        assert (found.file, found.line) == (PATH, bisect(starts, place // 8)), place
    for at in [*chance.sample(range(len(lines)), 12), len(lines) - 1]:
        other = chance.choice([one for one in (at - 1, at // 2, len(lines) - 1) if 0 <= one != at])
        low, high = min(at, other), max(at, other)
        swapped = [*lines]
        swapped[low], swapped[high] = lines[high], lines[low]
        for done, changed, line in (
            ("removed", [*lines[:at], *lines[at + 1 :]], at + 1), ("repeated", [*lines[: at + 1], *lines[at:]], at + 2),
            ("swapped", swapped, low + 1),
        ):  # fmt: skip
            assert first(b"".join(changed)).line == line, (done, at)
    assert not list(Audit(MemoryDisk({**copied(disk), PATH: whole}), [], True, no_pause).differences())
