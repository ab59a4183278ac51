"""A purge on a bad disk: whatever fails, wherever the power goes, it is done or taken back, and nothing is lost."""

from __future__ import annotations

from copy import deepcopy

import pytest
from purge_cases import NEXT_WEEK, WEEK, differences, fresh, home_files

from data.beside import Beside
from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.purging import look, purge
from data.settling import settle
from data.signing import home_signer
from data.stubs import carried_path, stub_path
from protocols.errors import DiskError, RecordDamaged
from protocols.event import Event
from tests.engine.driver import shelf
from tests.faults import FaultyDisk, PowerCut

SEGMENT = f"journal/{WEEK}.jsonl"


class Prepared:
    """A handheld whose first week can go, looked at once; every attempt is on a copy of its disk and clock."""

    def __init__(self) -> None:
        bench, place = fresh()
        self.files = home_files(bench.disk)
        # What was left by a crash in that week, and what the look-back keeps of it, goes as well.
        self.files[f"set-aside/{WEEK}-77"] = b"torn"
        self.files["index.sqlite"] = b"places"
        self.unit = bench.unit
        # Most faults leave one of a few states; each is looked at once.
        self.settled: dict[frozenset[tuple[str, bytes]], bool] = {}
        self.clock = bench.clock
        self.signer = home_signer(bench.disk, True)
        self.looked = look(bench.disk, None, WEEK, place, self.signer.public)

    def door(self, disk) -> Door:
        return Door(Journal(disk), Texts(disk), deepcopy(self.clock), shelf())

    def attempt(self, at: int, for_good: bool, how: str) -> tuple[FaultyDisk, object]:
        """Promise what a purge came to whose operation `at` fails (0: none)."""
        disk = FaultyDisk(MemoryDisk(self.files))
        door = self.door(disk)
        disk.operations = 0
        disk.fail(at, for_good, how)
        try:
            return disk, purge(door, self.looked, self.signer, "ann")
        except (DiskError, PowerCut) as error:
            return disk, error

    def require_settled(self, disk: MemoryDisk, note: object) -> bool:
        """Promise that the record opens, is whole, and the week is either all there or all gone; says which."""
        state = frozenset(home_files(disk).items())
        if state not in self.settled:
            self.settled[state] = self._settled(disk, note)
        return self.settled[state]

    def _settled(self, disk: MemoryDisk, note: object) -> bool:
        door = self.door(disk)
        door.touch()
        door.touch()
        gone = door.unit.purged is not None
        there = [path for path in disk.files if WEEK in path and not path.startswith("receipts/")]
        stub, carried = stub_path(WEEK), carried_path(WEEK)
        if gone:
            assert sorted(there) == [stub, carried], note
            assert "index.sqlite" not in disk.files
        else:
            assert stub not in there and carried not in there and SEGMENT in there, note
            assert disk.files[SEGMENT] == self.files[SEGMENT]
        assert door.unit._replace(purged=None, seq=0, time=self.unit.time) == self.unit._replace(seq=0), note
        assert differences(disk) == [], note
        before = home_files(disk)
        settle(disk, door.unit.purged)
        assert home_files(disk) == before, "settling again does nothing"
        return gone


@pytest.fixture(scope="module")
def ready() -> Prepared:
    return Prepared()


@pytest.fixture(scope="module")
def operations(ready) -> int:
    disk, answer = ready.attempt(0, False, "clean")
    assert isinstance(answer, Event) and ready.require_settled(disk.inner, "no fault")
    return disk.operations


@pytest.mark.parametrize("how", ["clean", "short", "whole"])
@pytest.mark.parametrize("for_good", [False, True])
def test_every_operation_that_fails_leaves_a_purge_done_or_taken_back(ready, operations, how, for_good) -> None:
    outcomes = set()
    for at in range(1, operations + 1):
        disk, answer = ready.attempt(at, for_good, how)
        disk.mend()
        disk.reopen()
        gone = ready.require_settled(disk.inner, (at, answer))
        assert gone or not isinstance(answer, Event), "an acknowledged purge is done"
        outcomes.add(gone)
    assert outcomes == {True, False}


def test_power_that_goes_at_any_operation_leaves_a_purge_done_or_taken_back(ready, operations) -> None:
    outcomes = set()
    for at in range(1, operations + 1):
        for seed in range(4):
            disk, answer = ready.attempt(at, False, "power")
            gone = ready.require_settled(disk.crash(seed), (at, seed, answer))
            assert gone or not isinstance(answer, Event)
            outcomes.add(gone)
    assert outcomes == {True, False}


def test_opening_that_is_cut_off_while_it_settles_goes_on_at_the_next_one(ready, operations) -> None:
    """Every place at which a purge can be cut off, and from there every place at which settling it can be."""
    for at in range(1, operations + 1):
        disk, _ = ready.attempt(at, False, "power")
        left = home_files(disk.crash(at))
        for again in range(1, 40):
            second = FaultyDisk(MemoryDisk(left))
            second.fail(again, False, "power")
            try:
                ready.door(second)
            except PowerCut:
                ready.require_settled(second.crash(again), (at, again))
                continue
            break


def test_the_lines_of_a_week_that_differ_from_its_stub_are_never_removed(ready) -> None:
    disk, _ = ready.attempt(0, False, "clean")
    home = disk.inner
    home.replace(SEGMENT, ready.files[SEGMENT][:-1])
    door = ready.door(home)
    assert door.found.unpurged == [WEEK] and home.files[SEGMENT] == ready.files[SEGMENT][:-1]
    home.replace(SEGMENT, ready.files[SEGMENT])
    assert ready.door(home).found.unpurged == [] and SEGMENT not in home.files, "brought back whole, it goes again"
    home.replace(SEGMENT, ready.files[SEGMENT])
    home.remove(stub_path(WEEK))
    assert ready.door(home).found.unpurged == [WEEK] and SEGMENT in home.files


def test_a_stub_without_event_and_segment_is_left_for_verify(ready) -> None:
    disk, _ = ready.attempt(0, False, "clean")
    stub = disk.inner.read(stub_path(WEEK))
    home = MemoryDisk({p: d for p, d in ready.files.items() if WEEK not in p})
    home.replace(stub_path(WEEK), stub)
    assert settle(home, None) == [] and home.exists(stub_path(WEEK))
    found = differences(home)
    assert any("no event of the record purged that week" in one for one in found), found
    assert NEXT_WEEK in home.names("journal")[0]


def test_a_witness_that_lags_behind_a_purge_keeps_nobody_out(ready) -> None:
    """The note is never synced: after a power cut it may name a line of a week that was purged since."""
    disk, _ = ready.attempt(0, False, "clean")
    first = opened_with(ready.files, WEEK)
    disk.inner.replace("head", first)
    with pytest.raises(RecordDamaged, match="open it with the app once"):
        Beside(disk.inner)
    door = ready.door(disk.inner)
    assert door.unit.purged is not None and door.journal.readable().missing == []
    disk.inner.replace("head", first)
    found = differences(disk.inner)
    assert found and all("comes after the last line that the witness saw" in one for one in found), found
    ready.door(disk.inner).touch()
    ready.door(disk.inner).touch()
    assert differences(disk.inner) == []
    # With a line changed after the gap it is damage all the same.
    path = f"journal/{NEXT_WEEK}.jsonl"
    lines = disk.inner.read(path).splitlines(keepends=True)
    disk.inner.replace(path, b"".join(lines[1:]))
    disk.inner.replace("head", first)
    with pytest.raises(RecordDamaged):
        ready.door(disk.inner)


def opened_with(files: dict[str, bytes], week: str) -> bytes:
    """Promise the witness of a record that ends with a week."""
    earlier = {p: d for p, d in files.items() if not p.startswith("journal/") or p <= f"journal/{week}.jsonl"}
    home = MemoryDisk({path: data for path, data in earlier.items() if path != "head"})
    Journal(home).open()
    return home.read("head")
