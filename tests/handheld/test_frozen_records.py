"""A record of every version that ever left the house opens, reads the same, goes on, and is never rewritten.

The version goes up when a reader of today's could misread a newer record; `freeze.py` then adds the record of the new
one, and what these tests find missing is its upcaster.
"""

import json

import pytest

from data.audit import verify_home
from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.line import seal
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from protocols.errors import RecordTooNew
from protocols.event import SCHEMA, Command, Event
from tests.handheld.freeze import TOLD, files_of, folder_of, reopened, told

VERSIONS = range(1, SCHEMA + 1)


def test_there_is_a_frozen_record_of_every_version_and_every_reader_knows_the_newest():
    missing = [v for v in VERSIONS if not (folder_of(v) / TOLD).is_file()]
    assert not missing, "freeze it before it leaves the house: python3 -m tests.handheld.freeze"
    for version in VERSIONS:
        lines = [json.loads(line) for line in files_of(folder_of(version))["journal/2026-W48.jsonl"].splitlines()]
        assert {line["v"] for line in lines} == {version}
        assert sum(line["kind"] == "checkpoint" for line in lines) > 1, "the state of a checkpoint is read too"
    assert Journal(MemoryDisk())._known_v == SCHEMA


@pytest.mark.parametrize("version", VERSIONS)
def test_it_reads_as_it_did_and_no_byte_of_it_changes(version):
    before = files_of(folder_of(version))
    disk = MemoryDisk(dict(before))
    door, _ = reopened(disk)
    catch_up(Ledger(disk), door.journal)
    assert told(door, disk) == json.loads((folder_of(version) / TOLD).read_text(encoding="utf-8"))
    for path, data in before.items():
        if path.startswith(("journal/", "texts/")):
            assert bytes(disk.files[path]).startswith(data)


@pytest.mark.parametrize("version", VERSIONS)
def test_it_goes_on_and_verifies(version, tmp_path):
    disk = MemoryDisk(files_of(folder_of(version)))
    door, clock = reopened(disk)
    scope = told(door, disk)["open"][0][0]
    clock.advance(700)
    answer = door.give(Command("note", scope, {"what": "spill", "text": "after the update"}, "joss"))
    assert isinstance(answer, Event), answer
    catch_up(Ledger(disk), door.journal)
    real = RealDisk(tmp_path)
    for path, data in disk.files.items():
        real.replace(path, bytes(data))
    real.close()
    assert list(verify_home(tmp_path).differences()) == []


def test_a_record_of_a_newer_version_is_refused_with_nothing_written_and_can_still_be_read_up_to_there():
    disk = MemoryDisk(files_of(folder_of(SCHEMA)))
    path = "journal/2026-W48.jsonl"
    last = json.loads(bytes(disk.files[path]).splitlines()[-1])
    newer = {key: value for key, value in last.items() if key != "hash"}
    newer |= {"v": SCHEMA + 1, "seq": last["seq"] + 1, "prev": last["hash"]}
    disk.append(path, seal(newer)[0])
    before = {name: bytes(data) for name, data in disk.files.items()}
    _, clock = reopened(MemoryDisk(files_of(folder_of(SCHEMA))))
    with pytest.raises(RecordTooNew, match="install the newer app"):
        open_door(disk, clock, shipped_shelf())
    assert {name: bytes(data) for name, data in disk.files.items()} == before
    readable = Journal(disk).readable()
    assert [line["seq"] for line in readable.lines()] == list(range(1, last["seq"] + 1))
    assert readable.missing
