"""Which weeks wait, what a round of sending does with each, and the receipts that it leaves."""

from __future__ import annotations

from pathlib import Path

import pytest

from data.destinations.errors import CredentialsRefused, DestinationAway, WeekDiffers
from data.destinations.folder import FolderDestination
from data.exporters.manifest import MANIFEST
from data.memory_disk import MemoryDisk
from data.receipts import RECEIPTS, Receipt, Receipts
from data.send import Delivered, deliver, keep, send_waiting, waiting
from data.signing import KEY_FILE, signer_of
from protocols.errors import DiskError, RecordDamaged
from tests.faults import FaultyDisk
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, busy_week, copied, prepared, three_weeks

NOW = "2026-12-09T10:00:00.000+00:00"


@pytest.fixture
def stick(tmp_path) -> FolderDestination:
    (tmp_path / "stick").mkdir()
    return FolderDestination(tmp_path / "stick")


def test_every_week_waits_until_it_has_arrived_and_an_open_one_again(stick) -> None:
    bench = busy_week("hh7")
    send = lambda: list(send_waiting(bench.disk, bench.journal, stick, bench.signer, lambda: NOW, lambda line: None))  # noqa: E731
    assert waiting(bench.disk, bench.journal, stick.label) == [WEEK]
    assert [week for week, _ in send()] == [WEEK] and send() == []
    bench.wait(1)
    bench.must("add-person", "eve", name="Eve", role="technician")
    assert [week for week, _ in send()] == [WEEK] and send() == []
    bench.next_week()
    assert waiting(bench.disk, bench.journal, stick.label) == [WEEK, NEXT_WEEK]
    assert [week for week, _ in send()] == [WEEK, NEXT_WEEK] and send() == []
    assert [r.closed for r in (*Receipts(bench.disk).week(WEEK), *Receipts(bench.disk).week(NEXT_WEEK))] == [
        True,
        False,
    ]
    assert waiting(bench.disk, bench.journal, "elsewhere") == [WEEK, NEXT_WEEK]


def test_an_absent_destination_ends_the_round_and_everything_still_waits(tmp_path) -> None:
    bench = three_weeks()
    disk = MemoryDisk(copied(bench))
    place = FolderDestination(tmp_path / "absent")
    found = list(send_waiting(disk, bench.journal, place, bench.signer, lambda: NOW, lambda line: None))
    assert [(week, type(what)) for week, what in found] == [(WEEK, DestinationAway)]
    assert waiting(disk, bench.journal, place.label) == [WEEK, NEXT_WEEK, THIRD_WEEK]


def test_wrong_credentials_are_given_once_and_not_for_every_week_that_waits(stick, monkeypatch) -> None:
    bench, asked = three_weeks(), []

    def read(self: FolderDestination, path: str, most: int) -> bytes | None:
        asked.append(path)
        raise CredentialsRefused("the server says 401")

    monkeypatch.setattr(FolderDestination, "read", read)
    found = list(send_waiting(bench.disk, bench.journal, stick, bench.signer, lambda: NOW, lambda line: None))
    assert [(week, type(what)) for week, what in found] == [(WEEK, CredentialsRefused)] and len(asked) == 1


def test_a_week_that_is_refused_does_not_hold_up_the_others(stick) -> None:
    bench = three_weeks()
    disk = MemoryDisk(copied(bench))
    folder = Path(stick.label) / "hh1" / WEEK
    folder.mkdir(parents=True)
    (folder / MANIFEST).write_bytes(b"{}")
    found = list(send_waiting(disk, bench.journal, stick, bench.signer, lambda: NOW, lambda line: None))
    assert [type(what) for _, what in found] == [WeekDiffers, Delivered, Delivered]
    assert waiting(disk, bench.journal, stick.label) == [WEEK]


@pytest.mark.parametrize("for_good", [False, True])
def test_when_the_homes_own_disk_fails_anywhere_the_week_only_waits_longer(stick, for_good) -> None:
    bench = three_weeks()
    counting = FaultyDisk(MemoryDisk(copied(bench)))
    keep(counting, deliver(prepared(), stick), stick.label, NOW)
    for at in range(1, counting.operations + 1):
        disk = FaultyDisk(MemoryDisk(copied(bench)))
        disk.fail(at, for_good)
        with pytest.raises(DiskError):
            keep(disk, Delivered(prepared().manifest, True), stick.label, NOW)
        disk.mend()
        disk.reopen()
        assert waiting(disk, bench.journal, stick.label)[0] == WEEK
        results = send_waiting(disk, bench.journal, stick, bench.signer, lambda: NOW, lambda line: None, [WEEK])
        assert [what for _, what in results] == [Delivered(prepared().manifest, written=False)]
        assert [r.manifest for r in Receipts(disk).week(WEEK)] == [prepared().manifest.digest]


def test_receipts_of_several_destinations_stand_side_by_side() -> None:
    disk = MemoryDisk()
    receipts = Receipts(disk)
    one = Receipt("b", 10, "0" * 64, True, "1" * 64, NOW)
    two = Receipt("a", 12, "0" * 64, True, "2" * 64, NOW)
    newer = Receipt("b", 14, "0" * 64, True, "3" * 64, NOW)
    for receipt in (one, two, newer):
        receipts.keep(WEEK, receipt)
    assert receipts.week(WEEK) == [two, newer] and receipts.last(WEEK, "b") == newer and receipts.any()


@pytest.mark.parametrize("content", [b"", b"[]", b'{"receipts":[{}]}', b'{"receipts":[{"to":1}]}', b"\xff"])
def test_a_damaged_receipt_is_named(content) -> None:
    disk = MemoryDisk({f"{RECEIPTS}/{WEEK}.json": content})
    with pytest.raises(RecordDamaged, match="take it away"):
        Receipts(disk).week(WEEK)


def test_the_key_is_made_at_the_first_export_and_missed_after_a_receipt() -> None:
    disk = MemoryDisk()
    made = signer_of(disk)
    assert disk.exists(KEY_FILE) and signer_of(disk) == made
