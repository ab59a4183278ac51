"""The journal through failing disks, power cuts and killed processes: what was said to be durable is always there."""

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from record_cases import NEXT_WEEK, WEEK, event, numbers, opened

from data.journal import Journal
from data.real_disk import RealDisk
from protocols.errors import DiskError
from tests.faults import FaultyDisk, PowerCut

ROOT = Path(__file__).parents[2]
EVERY = 3
EVENTS = 8


def shift(disk, accepted, refused):
    """Eight events over two weeks, opening again after each failure; durable ones are `accepted`, others `refused`."""
    journal = None
    for number in range(1, EVENTS + 1):
        try:
            if journal is None:
                journal = opened(disk, EVERY)
            journal.append(event(number), WEEK if number < 5 else NEXT_WEEK, lambda number=number: {"next": number})
            journal.touch(60_000 + number * 1000 + 500, "2026-11-25T12:00:00.000+01:00")
            accepted.append(number)
        except DiskError:
            refused.append(number)
            journal = None
            disk.reopen()


def require_kept(disk, accepted, may_be_there, note):
    """What a new start finds: all accepted events, besides them only `may_be_there`, in order; and it goes on."""
    journal = Journal(disk, checkpoint_every=EVERY)
    found = journal.open()
    there = numbers(journal.lines())
    assert [n for n in there if n not in may_be_there] == [n for n in accepted if n not in may_be_there], note
    assert set(accepted) <= set(there) <= {*accepted, *may_be_there} and there == sorted(there), note
    assert journal.readable().missing == [], note
    if found.events or found.checkpoint:
        # The state to start from is whole: the checkpoint says which event comes after it.
        assert numbers(found.events) == [n for n in there if n >= found.checkpoint["data"]["next"]], note
    journal.append(event(50), NEXT_WEEK, lambda: {"next": 50})
    assert numbers(opened(disk).lines()) == [*there, 50], note


@pytest.mark.parametrize("for_good", [False, True])
@pytest.mark.parametrize("how", ["clean", "short", "whole"])
def test_each_operation_failing_in_turn_loses_nothing_that_was_accepted(how, for_good):
    at = 0
    while True:
        at += 1
        disk, accepted, refused = FaultyDisk(), [], []
        disk.fail(at, for_good, how)
        shift(disk, accepted, refused)
        if not disk.fired:
            break
        note = f"operation {at} {how} {'for good' if for_good else 'once'}"
        assert for_good or len(accepted) >= EVENTS - 1, note
        # Only where the bytes could not be taken back may a refused event show up, and the error then said so.
        may_be_there = refused if how == "whole" else []
        for seed in range(4):
            require_kept(disk.crash(seed), accepted, may_be_there, f"{note}, crash {seed}")
        disk.mend()
        disk.reopen()
        require_kept(disk, accepted, may_be_there, note)
    assert at > 20 and accepted == list(range(1, EVENTS + 1)) and refused == []


def test_a_line_that_was_never_synced_is_made_durable_before_anything_is_built_on_it():
    for seed in range(40):
        disk = FaultyDisk()
        opened(disk).append(event(1), WEEK, dict)
        journal = opened(disk)
        disk.fail(disk.operations + 1, how="whole")
        with pytest.raises(DiskError):
            journal.append(event(2), WEEK, dict)
        disk.mend()
        disk.reopen()
        assert numbers(Journal(disk).open().events) == [1, 2]
        assert numbers(Journal(disk.crash(seed)).open().events) == [1, 2], f"seed {seed}"


def test_the_power_going_in_each_operation_loses_nothing_that_was_accepted():
    at = 0
    while True:
        at += 1
        disk, accepted, refused = FaultyDisk(), [], []
        disk.fail(at, how="power")
        try:
            shift(disk, accepted, refused)
        except PowerCut:
            for seed in range(12):
                require_kept(disk.crash(seed), accepted, [len(accepted) + 1], f"power gone in {at}, crash {seed}")
        else:
            break
    assert at > 20 and accepted == list(range(1, EVENTS + 1))


def test_crash_upon_crash_with_failures_between():
    for seed in range(150):
        chance = random.Random(seed)
        disk, accepted, may_be_there, number = FaultyDisk(), [], set(), 0
        for _ in range(6):
            disk.fail(
                disk.operations + chance.randrange(1, 25), how=chance.choice(("clean", "short", "whole", "power"))
            )
            try:
                journal = opened(disk, EVERY)
                for _ in range(chance.randrange(6)):
                    number += 1
                    week = WEEK if number < 9 else NEXT_WEEK
                    may_be_there.add(number)
                    journal.append(event(number), week, lambda number=number: {"next": number})
                    accepted.append(number)
                    may_be_there.discard(number)
            except (DiskError, PowerCut):
                pass
            # What a start after the crash has seen is kept by the next one too.
            disk = FaultyDisk(disk.crash(chance.randrange(1000)))
            there = numbers(opened(disk, EVERY).lines())
            assert set(accepted) <= set(there) <= {*accepted, *may_be_there}, f"seed {seed}"
            accepted, may_be_there = there, set()
        require_kept(disk, accepted, [], f"seed {seed}")


_CHILD = """
import sys
sys.path.insert(0, sys.argv[2])
from data.real_disk import RealDisk
from record_cases import WEEK, event, opened
disk = RealDisk(sys.argv[1])
disk.lock("lock", "child")
journal = opened(disk, 5)
number = journal.head[0]
while True:
    number += 1
    sealed = journal.append(event(number, data={"number": number, "text": "x" * 3000}), WEEK, lambda: {"next": number})
    print(sealed["seq"], flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="killing needs POSIX signals")
def test_killed_at_any_moment_everything_told_is_there(tmp_path):
    chance = random.Random(20261125)
    for kill in range(24):
        child = subprocess.Popen(
            [sys.executable, "-c", _CHILD, str(tmp_path), str(Path(__file__).parent)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
        )
        told = [child.stdout.readline() for _ in range(chance.randrange(1, 30))]
        os.kill(child.pid, signal.SIGKILL)
        told += child.communicate()[0].splitlines(keepends=True)
        last = int([line for line in told if line.endswith(b"\n")][-1])
        disk = RealDisk(tmp_path)
        assert disk.lock("lock", "parent") == f"process {child.pid} (child)"
        journal = opened(disk, 5)
        assert journal.head[0] >= last, f"kill {kill}"
        assert [line["seq"] for line in journal.lines()] == list(range(1, journal.head[0] + 1)), f"kill {kill}"
        disk.close()
