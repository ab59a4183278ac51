"""Which weeks wait, asked again and again while the app runs: receipts are read once, and what changes is noticed."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from data import unchanged
from data.journal import Journal
from data.real_disk import RealDisk
from data.receipts import RECEIPTS, Receipt, Receipts, Remembered
from data.send import waiting
from protocols.errors import RecordDamaged
from tests.looks import Looks
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, copied, put, three_weeks

STICK = "the stick"


def receipt(closed: bool = True) -> Receipt:
    return Receipt(STICK, 10, "0" * 64, closed, "0" * 64, "2026-12-09T10:00:00.000+00:00")


class Bench:
    """A home of three weeks, and what is read of it."""

    def __init__(self, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.disk = RealDisk(put(copied(three_weeks()), home))
        self.journal = Journal(self.disk)
        self.journal.open()
        self.remembered = Remembered(self.disk)
        self.read = Looks(monkeypatch, ways=("read_from",)).at

    def waits(self) -> list[str]:
        del self.read[:]
        self.remembered.begin()
        return waiting(self.disk, self.journal, STICK, self.remembered)

    def path(self, week: str) -> str:
        return f"{RECEIPTS}/{week}.json"


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path / "home", monkeypatch)


def test_receipts_are_read_once_and_again_only_where_they_have_changed(bench: Bench) -> None:
    assert bench.waits() == [WEEK, NEXT_WEEK, THIRD_WEEK]
    for week in (WEEK, NEXT_WEEK):
        Receipts(bench.disk).keep(week, receipt())
    assert bench.waits() == [THIRD_WEEK] and bench.read == [bench.path(WEEK), bench.path(NEXT_WEEK)]
    assert bench.waits() == [THIRD_WEEK] and bench.read == []
    Receipts(bench.disk).keep(THIRD_WEEK, receipt())
    assert bench.waits() == [] and bench.read == [bench.path(THIRD_WEEK)]
    (bench.disk.root / bench.path(WEEK)).unlink()
    assert bench.waits() == [WEEK] and bench.read == []
    Receipts(bench.disk).keep(WEEK, receipt(closed=False))
    assert bench.waits() == [WEEK] and bench.read == [bench.path(WEEK)]
    assert bench.waits() == [WEEK] and bench.read == []


def test_another_place_needs_no_second_reading(bench: Bench) -> None:
    for week in (WEEK, NEXT_WEEK, THIRD_WEEK):
        Receipts(bench.disk).keep(week, receipt())
    assert bench.waits() == []
    bench.remembered.begin()
    del bench.read[:]
    assert waiting(bench.disk, bench.journal, "elsewhere", bench.remembered) == [WEEK, NEXT_WEEK, THIRD_WEEK]
    assert bench.read == []


def test_a_damaged_receipt_is_named_every_time_until_it_is_taken_away(bench: Bench) -> None:
    for week in (WEEK, NEXT_WEEK, THIRD_WEEK):
        Receipts(bench.disk).keep(week, receipt())
    assert bench.waits() == []
    bench.disk.replace(bench.path(NEXT_WEEK), b"no receipt")
    for _ in range(2):
        with pytest.raises(RecordDamaged, match=NEXT_WEEK):
            bench.waits()
    (bench.disk.root / bench.path(NEXT_WEEK)).unlink()
    assert bench.waits() == [NEXT_WEEK]


def test_weeks_that_were_not_come_to_for_a_damaged_one_are_not_taken_for_seen(bench: Bench) -> None:
    for week in (WEEK, NEXT_WEEK, THIRD_WEEK):
        Receipts(bench.disk).keep(week, receipt())
    assert bench.waits() == []
    bench.disk.replace(bench.path(WEEK), b"no receipt")
    Receipts(bench.disk).keep(THIRD_WEEK, receipt(closed=False))
    with pytest.raises(RecordDamaged, match=WEEK):
        bench.waits()
    good = Receipts(bench.disk)
    (bench.disk.root / bench.path(WEEK)).unlink()
    good.keep(WEEK, receipt())
    assert bench.waits() == [THIRD_WEEK]


def test_a_change_in_the_same_moment_as_the_look_is_noticed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unchanged, "now_ns", time.time_ns)
    for week in (WEEK, NEXT_WEEK, THIRD_WEEK):
        bench.waits()
        Receipts(bench.disk).keep(week, receipt())
    assert bench.waits() == []
