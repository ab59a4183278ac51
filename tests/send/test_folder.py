"""Sending to a folder: full, read-only, gone, slow to say no, lying; cut off at every step, and twice."""

from __future__ import annotations

import errno
import gc
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from data.destinations.errors import DeliveryError, DestinationAway, DestinationLied, WeekDiffers
from data.destinations.folder import FolderDestination
from data.exporters import week_forms as module
from data.exporters.manifest import MANIFEST
from data.memory_disk import MemoryDisk
from data.receipts import Receipts
from data.send import Delivered, deliver, send_waiting
from protocols.errors import BasinbellError
from tests.send.cases import WEEK, copied, exported, prepared, small, there, three_weeks

NOW = "2026-12-09T10:00:00.000+00:00"


class Killed(Exception):
    """The process ended in the middle of an operation."""


class Faulty:
    """A destination over another that fails at its n-th operation: before it, or after it was done."""

    def __init__(self, inner: FolderDestination, at: int = 0, after: bool = False, error: type[Exception] = Killed):
        self._inner, self._at, self._after, self._error = inner, at, after, error
        self.operations = 0
        self.writes: list[str] = []

    @property
    def label(self) -> str:
        return self._inner.label

    def _do(self, operation: Callable[[], Any]) -> Any:
        self.operations += 1
        if self.operations == self._at and not self._after:
            raise self._error
        answer = operation()
        if self.operations == self._at:
            raise self._error
        return answer

    def read(self, path: str, bytes_max: int) -> bytes | None:
        return self._do(lambda: self._inner.read(path, bytes_max))

    def write(self, path: str, content: bytes) -> None:
        self.writes.append(path)
        if self.operations + 1 == self._at and not self._after:
            self._inner.write(path, content[: len(content) // 2])  # cut off in the middle of the file
        self._do(lambda: self._inner.write(path, content))

    def make_folder(self, path: str) -> None:
        self._do(lambda: self._inner.make_folder(path))

    def rename(self, path: str, new: str) -> None:
        self._do(lambda: self._inner.rename(path, new))

    def remove(self, path: str) -> None:
        self._do(lambda: self._inner.remove(path))

    def close(self) -> None:
        self._inner.close()


@pytest.fixture
def no_fsync(monkeypatch) -> None:
    """Hundreds of sendings one after another: that bytes reach the plate is not what is asked there."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture
def stick(tmp_path) -> FolderDestination:
    (tmp_path / "stick").mkdir()
    return FolderDestination(tmp_path / "stick")


def lying_there(stick: FolderDestination) -> dict[str, bytes]:
    return there(Path(stick.label))


def whole(week: str = WEEK) -> dict[str, bytes]:
    return {f"hh1/{week}/{name}": content for name, content in exported(week).items()}


def test_an_export_arrives_whole_and_repeating_writes_nothing(stick) -> None:
    assert deliver(prepared(), stick).written and lying_there(stick) == whole()
    again = Faulty(stick)
    assert deliver(prepared(), again) == Delivered(prepared().manifest, written=False)
    assert again.writes == [] and lying_there(stick) == whole()


@pytest.mark.parametrize("after", [False, True])
def test_cut_off_at_every_operation_the_next_try_arrives(tmp_path, no_fsync, after) -> None:
    counting = Faulty(FolderDestination(tmp_path))
    deliver(prepared(), counting)
    counting.remove("hh1")
    for at in range(1, counting.operations):
        stick = FolderDestination(tmp_path)
        with pytest.raises(Killed):
            deliver(prepared(), Faulty(stick, at, after))
        shown = [name for name in lying_there(stick) if not name.startswith("hh1/.")]
        assert shown in ([], sorted(whole())), "an export shows under its name only when it is whole"
        resumed = Faulty(stick)
        deliver(prepared(), resumed)
        assert lying_there(stick) == whole(), at
        assert len(resumed.writes) <= len(whole())
        stick.remove("hh1")


def test_what_is_there_already_is_not_written_again(stick) -> None:
    counting = Faulty(stick)
    deliver(prepared(), counting)
    stick.remove("hh1")
    with pytest.raises(Killed):
        deliver(prepared(), Faulty(stick, counting.operations // 2))
    kept = set(lying_there(stick))
    resumed = Faulty(stick)
    deliver(prepared(), resumed)
    assert len(kept) > 3 and len(resumed.writes) <= len(whole()) - len(kept) + 1


@pytest.mark.parametrize("after", [False, True])
def test_a_replacement_cut_off_anywhere_loses_neither_state(tmp_path, no_fsync, after) -> None:
    early, late = small(5), small(9, closed=True)
    counting = Faulty(FolderDestination(tmp_path))
    deliver(early, counting)
    before = counting.operations
    deliver(late, counting)
    for at in range(1, counting.operations - before + 1):
        stick = FolderDestination(tmp_path)
        stick.remove("hh7")
        deliver(early, stick)
        with pytest.raises(Killed):
            deliver(late, Faulty(stick, at, after))
        states = [prepared_ for prepared_ in (early, late) if all(
            content in lying_there(stick).values() for content in prepared_.files.values())]  # fmt: skip
        assert states, at
        deliver(late, stick)
        assert lying_there(stick) == {f"hh7/{WEEK}/{name}": content for name, content in late.files.items()}


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EIO, errno.ENODEV])
@pytest.mark.parametrize("call", ["write", "fsync"])
def test_a_full_read_only_or_pulled_out_stick_is_named_and_gets_no_receipt(stick, monkeypatch, number, call) -> None:
    left = [5]

    def failing(handle: int, *arguments: Any) -> Any:
        left[0] -= 1
        if left[0] < 0:
            raise OSError(number, os.strerror(number))
        return real(handle, *arguments)

    real = os.fsync
    if call == "fsync":
        monkeypatch.setattr(os, "fsync", failing)
    else:
        real_write, write_left = FolderDestination.write, [2]

        def write(self: FolderDestination, path: str, content: bytes) -> None:
            write_left[0] -= 1
            if write_left[0] < 0:
                raise self._failed(f"writing {path}", OSError(number, os.strerror(number)))
            real_write(self, path, content)

        monkeypatch.setattr(FolderDestination, "write", write)
    disk = MemoryDisk(copied(three_weeks()))
    with pytest.raises(DeliveryError) as raised:
        deliver(prepared(), stick)
    expected = DestinationAway if number in (errno.EIO, errno.ENODEV) else DeliveryError
    assert type(raised.value) is expected and stick.label in str(raised.value)
    assert Receipts(disk).week(WEEK) == []
    monkeypatch.undo()
    deliver(prepared(), stick)
    assert lying_there(stick) == whole()


def test_a_really_read_only_folder_is_named(tmp_path, monkeypatch) -> None:
    (tmp_path / "hh1").write_bytes(b"a file where the folder should be")
    with pytest.raises(DeliveryError, match="failed"):
        deliver(prepared(), FolderDestination(tmp_path))
    assert there(tmp_path) == {"hh1": b"a file where the folder should be"}


def test_the_folder_of_an_absent_stick_is_not_made(tmp_path) -> None:
    with pytest.raises(DestinationAway, match="is not there"):
        deliver(prepared(), FolderDestination(tmp_path / "absent"))
    assert there(tmp_path) == {} and not (tmp_path / "absent").exists()


@pytest.mark.parametrize("name", ["cycles.csv", "manifest.sig", "chain/2026-W48.jsonl"])
@pytest.mark.parametrize("lie", ["lost", "short", "other", "longer"])
def test_a_destination_that_lies_about_success_gets_no_receipt(stick, monkeypatch, name, lie) -> None:
    real = FolderDestination.write

    def write(self: FolderDestination, path: str, content: bytes) -> None:
        if path.endswith(name):
            content = {"lost": b"", "short": content[:-1], "other": content[:-1] + b"?", "longer": content + b"?"}[lie]
        real(self, path, content)

    monkeypatch.setattr(FolderDestination, "write", write)
    bench = three_weeks()
    disk = MemoryDisk(copied(bench))
    results = list(send_waiting(disk, bench.journal, stick, bench.signer, lambda: NOW, lambda line: None, [WEEK]))
    assert [(week, type(what)) for week, what in results] == [(WEEK, DestinationLied)]
    assert Receipts(disk).week(WEEK) == [] and not any(n.startswith("hh1/2026") for n in lying_there(stick))
    monkeypatch.undo()
    deliver(prepared(), stick)
    assert lying_there(stick) == whole()


def test_a_lie_that_shows_only_after_the_rename_gets_no_receipt(stick, monkeypatch) -> None:
    real = FolderDestination.rename

    def rename(self: FolderDestination, path: str, new: str) -> None:
        real(self, path, new)
        (Path(self.label) / new / "events.csv").write_bytes(b"gone bad")

    monkeypatch.setattr(FolderDestination, "rename", rename)
    with pytest.raises(DestinationLied, match=r"hh1/2026-W48/events\.csv"):
        deliver(prepared(), stick)


def test_strange_things_under_the_name_of_a_week_are_left_alone(stick) -> None:
    folder = Path(stick.label) / "hh1" / WEEK
    folder.mkdir(parents=True)
    (folder / MANIFEST).write_bytes(b"{}")
    before = lying_there(stick)
    with pytest.raises(WeekDiffers, match="no signed export"):
        deliver(prepared(), stick)
    assert lying_there(stick) == before


@pytest.mark.parametrize("before", [True, False])
def test_a_week_is_made_without_a_look_for_garbage_which_stops_every_thread(before: bool, monkeypatch) -> None:
    meanwhile: list[bool] = []
    real = module.week_forms

    def made(*given: Any) -> dict[str, bytes]:
        meanwhile.append(gc.isenabled())
        return real(*given)

    monkeypatch.setattr(module, "week_forms", made)
    was = gc.isenabled()
    (gc.enable if before else gc.disable)()
    try:
        three_weeks().prepared()
        assert gc.isenabled() is before
        with pytest.raises(BasinbellError):
            three_weeks().prepared("2026-W01")
        assert gc.isenabled() is before, "also after a week that can't be made"
    finally:
        (gc.enable if was else gc.disable)()
    assert meanwhile == [False, False]
