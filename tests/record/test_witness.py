"""The head witness: two slots, the newest whole one counts."""

import json

import pytest

from data.canonical import canonical
from data.memory_disk import MemoryDisk
from data.witness import PATH, SLOT_LENGTH, Sight, Witness
from protocols.errors import Defect, DiskError
from tests.faults import FaultyDisk


def sight(seq, **changes):
    at = {"segment": "2026-W48", "size": seq * 500, "checkpoint_segment": "2026-W48", "checkpoint_offset": 0}
    clocks = {"elapsed": seq * 1000, "wall": "2026-11-25T10:42:00.123+01:00", "boot": 'boot "é" 1'}
    return Sight(**{"seq": seq, "hash": f"{seq:064x}", **at, **clocks, **changes})


def put(witness, *sights):
    for seen in sights:
        witness.write(witness.slot(seen))


def test_no_file_is_no_witness():
    assert Witness(MemoryDisk()).read() is None


def test_the_last_one_written_is_read_and_the_one_before_stays():
    disk = MemoryDisk()
    put(Witness(disk), *(sight(seq) for seq in range(1, 8)))
    assert disk.size(PATH) == 2 * SLOT_LENGTH
    assert Witness(disk).read() == sight(7)
    newer = 0 if json.loads(disk.read(PATH)[: SLOT_LENGTH - 65])["seq"] == 7 else SLOT_LENGTH
    disk.scribble(PATH, b"torn", newer + 10)
    assert Witness(disk).read() == sight(6)


def test_a_slot_is_canonical_json_with_its_hash():
    text = Witness(MemoryDisk()).slot(sight(3))[: SLOT_LENGTH - 65]
    assert text.rstrip(b" ") == canonical(json.loads(text))


def test_the_clocks_seen_later_win_over_the_same_line():
    disk = MemoryDisk()
    put(Witness(disk), sight(1), sight(2))
    witness = Witness(disk)
    put(witness, witness.read()._replace(elapsed=9_999), sight(2, elapsed=12_000))
    assert Witness(disk).read() == sight(2, elapsed=12_000)


def test_no_flipped_bit_makes_a_wrong_witness():
    disk = MemoryDisk()
    put(Witness(disk), sight(1), sight(2))
    whole = disk.read(PATH)
    for place in range(len(whole) * 8):
        flipped = bytearray(whole)
        flipped[place // 8] ^= 1 << place % 8
        assert Witness(MemoryDisk({PATH: bytes(flipped)})).read() in (sight(1), sight(2))
    for length in range(len(whole)):
        assert Witness(MemoryDisk({PATH: whole[:length]})).read() in (None, sight(1), sight(2))


def test_both_slots_bad_is_no_witness():
    disk = MemoryDisk()
    put(Witness(disk), sight(1), sight(2))
    disk.scribble(PATH, b"x", 5)
    disk.scribble(PATH, b"x", SLOT_LENGTH + 5)
    assert Witness(disk).read() is None


def test_a_failed_write_never_harms_the_other_slot():
    disk = FaultyDisk()
    witness = Witness(disk)
    put(witness, sight(1), sight(2))
    for seq in (3, 4, 5):
        disk.fail(disk.operations + 1, how="short")
        with pytest.raises(DiskError):
            put(witness, sight(seq))
        disk.mend()
        assert Witness(disk).read() == sight(2)
    put(witness, sight(5))
    assert Witness(disk).read() == sight(5)


def test_names_too_long_for_a_slot_are_refused_before_anything_is_written():
    with pytest.raises(Defect, match="does not fit"):
        Witness(MemoryDisk()).slot(sight(1, boot="b" * 400))
