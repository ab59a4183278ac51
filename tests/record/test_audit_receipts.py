"""Receipts are held against the record: a changed bit, another week's receipt, a line that is another one."""

from __future__ import annotations

import json

import pytest
from purge_cases import FOURTH_WEEK, NEXT_WEEK, THIRD_WEEK, WEEK, differences, fresh, home_files, purged

from data.memory_disk import MemoryDisk
from data.receipts import RECEIPTS, Receipt, Receipts
from protocols.errors import RecordDamaged
from tests.places import MemoryPlace

PATH = f"{RECEIPTS}/{WEEK}.json"


@pytest.fixture
def disk() -> MemoryDisk:
    return MemoryDisk(home_files(fresh()[0].disk))


def named(disk: MemoryDisk) -> list[str]:
    return [one.split(",")[0].split(":")[0] for one in differences(disk)]


def test_every_flipped_bit_of_a_receipt_is_found(disk) -> None:
    for place in range(disk.size(PATH) * 8):
        disk.files[PATH][place // 8] ^= 1 << place % 8
        with pytest.raises(RecordDamaged):
            Receipts(disk).week(WEEK)
        disk.files[PATH][place // 8] ^= 1 << place % 8
    for place in range(0, disk.size(PATH) * 8, 701):
        disk.files[PATH][place // 8] ^= 1 << place % 8
        assert named(disk) == [PATH], place
        disk.files[PATH][place // 8] ^= 1 << place % 8
    assert differences(disk) == []


def test_a_receipt_that_names_another_line_or_another_end_is_found(disk) -> None:
    kept = Receipts(disk).week(WEEK)[0]
    for changed in (
        Receipt(kept.to, kept.through, "0" * 64, True, kept.manifest, kept.at),
        Receipt(kept.to, kept.through - 1, kept.head, True, kept.manifest, kept.at),
        Receipt(kept.to, kept.through + 10**6, kept.head, False, kept.manifest, kept.at),
    ):
        forged = MemoryDisk(home_files(disk))
        Receipts(forged).keep(WEEK, changed)
        assert named(forged) == [PATH]


def test_receipts_of_another_week_or_of_none_are_found(disk) -> None:
    disk.replace(PATH, disk.read(f"{RECEIPTS}/{NEXT_WEEK}.json"))
    assert named(disk) == [PATH]
    disk.remove(PATH)
    disk.replace(f"{RECEIPTS}/2026-W40.json", disk.read(f"{RECEIPTS}/{NEXT_WEEK}.json"))
    assert named(disk) == [f"{RECEIPTS}/2026-W40.json"]


def test_a_receipt_of_an_open_week_names_a_line_of_it(disk) -> None:
    receipt = Receipts(disk).week(FOURTH_WEEK)[0]
    assert not receipt.closed and differences(disk) == []


def test_a_receipt_of_a_purged_week_is_held_against_its_stub() -> None:
    bench, place = fresh()
    assert isinstance(place, MemoryPlace) and len(purged(bench, place, THIRD_WEEK)) == 2
    kept = Receipts(bench.disk).week(WEEK)[0]
    Receipts(bench.disk).keep(WEEK, Receipt(kept.to, kept.through, "0" * 64, True, kept.manifest, kept.at))
    assert named(bench.disk) == [PATH]


def test_receipts_from_before_they_carried_a_hash_are_read(disk) -> None:
    held = json.loads(disk.read(PATH))
    older = json.dumps({"v": 1, "week": WEEK, "receipts": held["receipts"]}).encode()
    disk.replace(PATH, older)
    assert Receipts(disk).week(WEEK) and differences(disk) == []
    Receipts(disk).keep(WEEK, Receipts(disk).week(WEEK)[0])
    assert json.loads(disk.read(PATH)) == held
