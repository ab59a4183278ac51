"""One suite for the disk promise, on memory, on real files, and on the faulty disk of the tests without faults."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from protocols.errors import Defect, DiskError, HomeBusy
from tests.faults import FaultyDisk

ROOT = Path(__file__).parents[2]


@pytest.fixture(params=["memory", "real", "faulty"])
def disk(request, tmp_path):
    made = {"memory": MemoryDisk, "real": lambda: RealDisk(tmp_path / "home"), "faulty": FaultyDisk}[request.param]()
    yield made
    made.close()


def test_append_goes_to_the_end_and_is_read_back(disk):
    disk.append("journal/a", b"one\n")
    disk.append("journal/a", b"two\n")
    assert disk.read("journal/a") == b"one\ntwo\n"
    assert disk.read_from("journal/a", 4) == b"two\n"
    assert disk.read_from("journal/a", 99) == b""
    assert disk.size("journal/a") == 8


def test_replace_swaps_the_whole_content_and_later_appends_follow_it(disk):
    disk.append("a", b"a long first content")
    disk.replace("a", b"new")
    assert disk.read("a") == b"new"
    disk.append("a", b"er")
    assert disk.read("a") == b"newer"


def test_scribble_writes_in_place_and_fills_up_with_zeros(disk):
    disk.scribble("head", b"second", 6)
    assert disk.read("head") == bytes(6) + b"second"
    disk.scribble("head", b"first", 0)
    assert disk.read("head") == b"first\0second"


def test_truncate_cuts_and_appends_follow_the_cut(disk):
    disk.append("a", b"kept, torn")
    disk.truncate("a", 4)
    disk.append("a", b"!")
    assert disk.read("a") == b"kept!"


def test_names_are_sorted_without_folders_and_dots(disk):
    for path in ("journal/b", "journal/a", "journal/.c.part", "journal/deep/d", "e"):
        disk.replace(path, b"x")
    assert disk.names("journal") == ["a", "b"]
    assert disk.names("nowhere") == []


def test_remove_and_a_new_start_under_the_same_name(disk):
    disk.append("a", b"old")
    disk.remove("a")
    assert not disk.exists("a")
    disk.append("a", b"new")
    assert disk.read("a") == b"new"


@pytest.mark.parametrize("path", ["", "/etc/x", "../x", "a/../../x", "a//b", "./a", "a/", "a\\b", "a\0b"])
def test_a_path_out_of_the_home_is_refused(disk, path):
    for operation in (disk.read, disk.exists, disk.size, disk.remove):
        with pytest.raises(Defect, match="not a path within the home folder"):
            operation(path)
    with pytest.raises(Defect):
        disk.append(path, b"x")
    with pytest.raises(Defect):
        disk.replace(path, b"x")


def test_reading_what_is_not_there_is_a_disk_error(disk):
    assert not disk.exists("nothing")
    for operation in (disk.read, disk.size, disk.remove):
        with pytest.raises(DiskError, match="check that the home folder is complete"):
            operation("nothing")


def test_a_second_owner_is_refused_by_name_until_the_first_lets_go(disk):
    assert disk.lock("lock", "bench") is None
    other = RealDisk(disk.root) if isinstance(disk, RealDisk) else disk
    with pytest.raises(HomeBusy, match=rf"in use by process {os.getpid()} \(bench\)"):
        other.lock("lock", "replay")
    disk.unlock()
    assert other.lock("lock", "replay") is None
    other.unlock()


_HOLD = """
import sys
from data.real_disk import RealDisk
RealDisk(sys.argv[1]).lock("lock", "child")
print("locked", flush=True)
sys.stdin.read()
"""


def test_the_lock_holds_between_processes_and_a_killed_owner_is_named(tmp_path):
    child = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(tmp_path)], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    try:
        assert child.stdout.readline() == b"locked\n"
        disk = RealDisk(tmp_path)
        with pytest.raises(HomeBusy, match=rf"in use by process {child.pid} \(child\)"):
            disk.lock("lock", "parent")
    finally:
        child.kill()
        child.communicate()
    assert disk.lock("lock", "parent") == f"process {child.pid} (child)"
    disk.close()
    assert disk.lock("lock", "parent") is None
    disk.close()


class Fails:
    """Stands for a system call that fails with an error number so many times, then works."""

    def __init__(self, real, number, times):
        self.real, self.number, self.times = real, number, times

    def __call__(self, *args):
        if self.times:
            self.times -= 1
            raise OSError(self.number, os.strerror(self.number))
        return self.real(*args)


@pytest.fixture
def real(tmp_path):
    disk = RealDisk(tmp_path)
    disk.append("a", b"kept\n")
    yield disk
    disk.close()


def test_a_full_disk_says_so_and_leaves_the_file(real, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", Fails(os.write, errno.ENOSPC, 1))
        with pytest.raises(DiskError, match=r"appending to a failed \(No space left on device\); free space"):
            real.append("a", b"lost\n")
    real.append("a", b"next\n")
    assert real.read("a") == b"kept\nnext\n"


def test_a_write_that_stops_half_way_is_taken_back(real, monkeypatch):
    write, calls = os.write, []

    def half_then_fail(fd, data):
        calls.append(data)
        if len(calls) > 1:
            raise OSError(errno.ENOSPC, "full")
        return write(fd, data[:3])

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", half_then_fail)
        with pytest.raises(DiskError):
            real.append("a", b"lost\n")
    assert calls == [b"lost\n", b"t\n"]
    assert real.read("a") == b"kept\n"


def test_a_short_write_is_completed(real, monkeypatch):
    write = os.write
    monkeypatch.setattr(os, "write", lambda fd, data: write(fd, data[:2]))
    real.append("a", b"in pieces\n")
    assert real.read("a") == b"kept\nin pieces\n"


def test_a_failed_sync_takes_the_bytes_back(real, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", Fails(os.fsync, errno.EIO, 1))
        with pytest.raises(DiskError, match="storage may be failing"):
            real.append("a", b"lost\n")
    assert real.read("a") == b"kept\n"
    real.append("a", b"next\n")
    assert real.read("a") == b"kept\nnext\n"


def test_what_cannot_be_taken_back_stops_all_appends_until_reopened(real, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", Fails(os.fsync, errno.EIO, 2))
        with pytest.raises(DiskError, match="could not be restored"):
            real.append("a", b"unsure\n")
    for path in ("a", "another"):
        with pytest.raises(DiskError, match="closed and opened again"):
            real.append(path, b"next\n")
    assert not real.exists("another")
    real.close()
    real.append("another", b"next\n")
    assert real.read("another") == b"next\n"


def test_a_failed_replace_keeps_the_old_content_and_leaves_nothing(real, monkeypatch, tmp_path):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", Fails(os.fsync, errno.ENOSPC, 1))
        with pytest.raises(DiskError, match="free space"):
            real.replace("a", b"new\n")
    assert real.read("a") == b"kept\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_new_file_whose_folder_cannot_be_synced_is_gone(real, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", Fails(os.fsync, errno.EIO, 1))
        with pytest.raises(DiskError):
            real.append("b", b"lost\n")
    assert not real.exists("b")
    real.append("b", b"next\n")
    assert real.read("b") == b"next\n"


def test_the_name_of_a_file_that_somebody_left_empty_is_durable_before_its_first_line_counts(real, monkeypatch):
    path = real.root / "journal" / "2026-W48.jsonl"
    path.parent.mkdir(parents=True)
    path.touch()
    synced, fsync = [], os.fsync

    def watched(fd):
        synced.append(Path(f"/proc/self/fd/{fd}").readlink())
        fsync(fd)

    monkeypatch.setattr(os, "fsync", watched)
    real.append("journal/2026-W48.jsonl", b"one\n")
    assert synced == [path.parent, path]
    real.close()
    synced.clear()
    real.append("journal/2026-W48.jsonl", b"two\n")
    assert synced == [path]


def test_the_faulty_disk_keeps_only_what_was_synced():
    disk = FaultyDisk()
    disk.append("a", b"synced\n")
    disk.scribble("head", b"x" * 40, 0)
    found = {bytes(disk.crash(seed).files.get("head", b"")) for seed in range(50)}
    assert {b"", b"x" * 40} < found and all(disk.crash(seed).read("a") == b"synced\n" for seed in range(50))
