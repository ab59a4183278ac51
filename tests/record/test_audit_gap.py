"""Verifying a purged record: a signed gap at its beginning is accepted, anything else in its place is named."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from purge_cases import NEXT_WEEK, SECRET, THIRD_WEEK, WEEK, differences, fresh, home_files, opened, purged

from data.memory_disk import MemoryDisk
from data.signing import KEY_FILE, Signer, keep_secret, signer
from data.stubs import Stub, carried_lines, carried_path, read_stub, sealed, stub_path
from protocols.errors import RecordDamaged

FIRST, SECOND = stub_path(WEEK), stub_path(NEXT_WEEK)
CARRIED = carried_path(NEXT_WEEK)


@pytest.fixture(scope="module")
def whole() -> dict[str, bytes]:
    """A home whose first two weeks are purged."""
    bench, place = fresh()
    assert len(purged(bench, place, THIRD_WEEK)) == 2
    return home_files(bench.disk)


@pytest.fixture
def disk(whole) -> MemoryDisk:
    return MemoryDisk(whole)


def resealed(disk: MemoryDisk, week: str, own: Signer, **changes: object) -> None:
    """Write a stub anew with members changed and a signature that fits."""
    stub: Stub = replace(read_stub(disk, week).stub, **changes)
    disk.replace(stub_path(week), sealed(stub, own))


def files_named(disk: MemoryDisk) -> list[str]:
    found = differences(disk)
    assert differences(disk, chain_only=True), "the quick look finds it too"
    return [one.split(",")[0].split(":")[0] for one in found]


def test_the_purged_record_is_whole(disk) -> None:
    assert differences(disk) == [] == differences(disk, chain_only=True)


@pytest.mark.parametrize("week", [WEEK, NEXT_WEEK])
def test_every_flipped_bit_of_a_stub_is_found_by_its_form_or_its_signature(disk, week) -> None:
    path, public = stub_path(week), signer(SECRET).public
    # By exhaustion on the shorter stub; on the longer one, which carries more, every seventh bit.
    for place in range(0, disk.size(path) * 8, 1 if week == NEXT_WEEK else 7):
        disk.files[path][place // 8] ^= 1 << place % 8
        try:
            found = not read_stub(disk, week).signed_by(public)
        except RecordDamaged:
            found = True
        assert found, place
        disk.files[path][place // 8] ^= 1 << place % 8


def test_every_changed_byte_of_the_carried_lines_is_found(disk) -> None:
    for place in range(disk.size(CARRIED)):
        disk.files[CARRIED][place] ^= 1 << place % 8
        with pytest.raises(RecordDamaged):
            carried_lines(disk)
        disk.files[CARRIED][place] ^= 1 << place % 8


def test_the_full_audit_names_the_same_places(disk) -> None:
    for path in (FIRST, SECOND, CARRIED):
        for place in range(0, disk.size(path) * 8, 2003):
            disk.files[path][place // 8] ^= 1 << place % 8
            assert path in files_named(disk), (path, place)
            disk.files[path][place // 8] ^= 1 << place % 8


def test_a_missing_stub_is_found_wherever_it_stood(disk) -> None:
    for path, named in ((FIRST, SECOND), (SECOND, f"journal/{THIRD_WEEK}.jsonl")):
        kept = disk.read(path)
        disk.remove(path)
        assert named in files_named(disk)
        disk.replace(path, kept)
    for path in (FIRST, SECOND, CARRIED):
        disk.remove(path)
    found = differences(disk)
    assert any("the record begins" in one or "does not follow" in one for one in found)
    assert any("it is not there, though the record purged that week" in one for one in found)


def test_a_misplaced_stub_is_found(disk) -> None:
    disk.replace(stub_path("2026-W40"), disk.read(FIRST))
    assert any("purged/2026-W40.json" in one and "it is of week 2026-W48" in one for one in differences(disk))
    disk.remove(stub_path("2026-W40"))
    first, second = disk.read(FIRST), disk.read(SECOND)
    disk.replace(FIRST, second)
    disk.replace(SECOND, first)
    assert {FIRST, SECOND} <= {*files_named(disk)}


def test_a_stub_of_another_key_is_found(disk) -> None:
    stranger = signer(bytes(32))
    resealed(disk, NEXT_WEEK, stranger, key=stranger.public)
    assert any("signature is not that of the key" in one for one in differences(disk))


def test_without_the_key_file_stubs_are_held_against_the_key_they_name(disk) -> None:
    disk.remove(KEY_FILE)
    assert differences(disk) == []
    kept = read_stub(disk, WEEK)
    content = disk.read(FIRST).replace(kept.signature.hex().encode(), kept.signature[::-1].hex().encode())
    disk.replace(FIRST, content)
    assert any("signature is not that of the key" in one for one in differences(disk))


def test_even_the_owner_of_the_key_can_not_alter_a_stub_unseen(disk) -> None:
    """The record, which goes on, names the newest stub, and that one the others: a stub forged later does not fit."""
    own = signer(SECRET)
    for changes in ({"to": "nowhere"}, {"by": "tim"}, {"manifest": "0" * 64}, {"cycles": 0}, {"at": "then"}):
        for week, named in ((WEEK, SECOND), (NEXT_WEEK, SECOND)):
            forged = MemoryDisk(home_files(disk))
            resealed(forged, week, own, **changes)
            assert named in files_named(forged), (week, changes)


def test_lines_taken_out_of_the_gap_are_found(disk) -> None:
    """One purged week more than was: its lines are gone, and the key's owner writes a stub for them."""
    own = signer(SECRET)
    second = read_stub(disk, NEXT_WEEK)
    lines = disk.read(f"journal/{THIRD_WEEK}.jsonl").splitlines(keepends=True)
    last = json.loads(lines[-1])
    stub = replace(
        second.stub, week=THIRD_WEEK, first_seq=second.stub.last_seq + 1, last_seq=last["seq"], lines=len(lines),
        prev=second.stub.head, head=last["hash"], before=second.digest, carried=(),
    )  # fmt: skip
    disk.remove(f"journal/{THIRD_WEEK}.jsonl")
    disk.remove(f"ledger/{THIRD_WEEK}.json")
    disk.replace(stub_path(THIRD_WEEK), sealed(stub, own))
    found = differences(disk)
    assert any(f"{stub_path(THIRD_WEEK)}: no event of the record purged that week" in one for one in found), found


def test_a_gap_in_the_middle_is_never_accepted(disk) -> None:
    """A stub for a week after one that is still here stands for nothing."""
    bench, _ = fresh()
    files = home_files(bench.disk)
    gap = MemoryDisk({path: data for path, data in files.items() if path != f"journal/{NEXT_WEEK}.jsonl"})
    gap.replace(SECOND, disk.read(SECOND))
    gap.replace(CARRIED, disk.read(CARRIED))
    found = differences(gap)
    assert any("it stands for a week after" in one for one in found)
    assert any("it does not follow the first line" in one for one in found)


def test_carried_lines_that_nothing_lists_are_found(disk) -> None:
    disk.replace(carried_path(WEEK), b"x\n")
    assert differences(disk) == [f"{carried_path(WEEK)}: no stub lists what it carries"]


def test_what_came_back_of_a_purged_week_is_named(disk, whole) -> None:
    bench, _ = fresh()
    disk.replace(f"ledger/{WEEK}.json", bench.disk.read(f"ledger/{WEEK}.json"))
    assert differences(disk) == [f"ledger/{WEEK}.json: its week was purged, and it is still here"]
    disk.replace(f"journal/{NEXT_WEEK}.jsonl", bench.disk.read(f"journal/{NEXT_WEEK}.jsonl"))
    assert any("a purge of this week was cut off" in one for one in differences(disk))


def test_a_stub_that_can_not_be_read_keeps_nobody_from_the_bench_but_is_said(disk) -> None:
    disk.replace(SECOND, b"{}\n")
    with pytest.raises(RecordDamaged, match="is not as it was written"):
        read_stub(disk, NEXT_WEEK)
    bench, _ = fresh()
    assert opened(disk, bench).unit.purged is not None


def test_a_key_that_was_changed_is_found(disk) -> None:
    keep_secret(disk, bytes(32))
    assert len([one for one in differences(disk) if "signature is not that of the key" in one]) == 2
