"""The ledger's files and its look-ups: whole or not at all, and never empty because of damage."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

import pytest
from tinydb.storages import Storage

from data.canonical import canonical
from data.disk import Disk
from data.ledger import Ledger
from data.ledger_storage import LEDGER_V, WeekStorage
from data.memory_disk import MemoryDisk
from protocols.errors import CommandFault, Defect, DiskError, RecordDamaged, RecordTooNew
from tests.faults import FaultyDisk
from tests.searching import searched

WEEK = "2026-W48"
PATH = "ledger/2026-W48.json"


def cycle(seq: int, **changes: Any) -> dict[str, Any]:
    return {
        "seq": seq, "ended_seq": seq + 50, "cycle": f"hh1-{seq:06d}", "scope": {"tag": "B2"},
        "case": {"reference": f"26-{seq}"}, "baths": [{"uid": "hh1-000002", "label": "H4", "lot": "L-9"}],
        "events": [{"by": "tim"}, {"by": "ann"}], **changes,
    }  # fmt: skip


def filled(disk: Disk | None = None) -> tuple[Disk, Ledger]:
    disk = disk or MemoryDisk()
    ledger = Ledger(disk)
    ledger.put(WEEK, [cycle(9), cycle(120, scope={"tag": "G1"})], 200)
    return disk, ledger


def file_of(document: dict[str, Any]) -> bytes:
    body = canonical(document)
    return b'{"sha256":"%b","document":%b}\n' % (sha256(body).hexdigest().encode(), body)


def test_put_and_read_back() -> None:
    disk, ledger = filled()
    assert ledger.weeks() == [WEEK] and ledger.through(WEEK) == 200
    assert ledger.week(WEEK) == [cycle(9), cycle(120, scope={"tag": "G1"})]
    assert issubclass(WeekStorage, Storage)  # TinyDB's own seam
    document = {
        "tables": {"cycles": {"9": cycle(9), "120": cycle(120, scope={"tag": "G1"})}}, "through": 200, "v": 1,
        "week": WEEK,
    }  # fmt: skip
    assert disk.read(PATH) == file_of(document)


def test_repeated_put_adds_nothing() -> None:
    disk, ledger = filled()
    before = disk.read(PATH)
    ledger.put(WEEK, [cycle(9), cycle(120, scope={"tag": "G1"})], 200)
    assert disk.read(PATH) == before
    ledger.put(WEEK, [], 200)
    assert disk.read(PATH) == before


def test_put_without_documents_moves_through_and_never_back() -> None:
    _, ledger = filled()
    ledger.put(WEEK, [], 300)
    assert ledger.through(WEEK) == 300 and len(ledger.week(WEEK)) == 2
    ledger.put(WEEK, [], 250)
    assert ledger.through(WEEK) == 300


def test_documents_come_in_the_order_in_which_cycles_ended() -> None:
    ledger = Ledger(MemoryDisk())
    ledger.put(WEEK, [cycle(100, ended_seq=150), cycle(9, ended_seq=300), cycle(20, ended_seq=90)], 300)
    assert [d["seq"] for d in ledger.week(WEEK)] == [20, 100, 9]


def test_missing_week_is_empty_but_a_malformed_one_is_refused() -> None:
    ledger = Ledger(MemoryDisk())
    assert ledger.week("2026-W01") == [] and ledger.through("2026-W01") == 0 and ledger.weeks() == []
    for text in ("2026-W00", "2026-W54", "2026-48", "../x", "2026-W48\n", ""):
        with pytest.raises(CommandFault, match="2026-W48"):
            ledger.week(text)


def test_every_changed_byte_is_damage() -> None:
    disk, ledger = filled()
    whole = disk.read(PATH)
    for place in range(len(whole)):
        changed = bytearray(whole)
        changed[place] ^= 1
        disk.replace(PATH, bytes(changed))
        with pytest.raises(RecordDamaged, match=r"ledger/2026-W48\.json"):
            ledger.week(WEEK)
        assert disk.read(PATH) == bytes(changed)


def test_every_cut_is_damage_and_no_put_writes_over_it() -> None:
    disk, ledger = filled()
    whole = disk.read(PATH)
    for size in range(len(whole)):
        disk.replace(PATH, whole[:size])
        with pytest.raises(RecordDamaged):
            ledger.put(WEEK, [cycle(300)], 400)
        with pytest.raises(RecordDamaged):
            searched(ledger, tag="B2")
        assert disk.read(PATH) == whole[:size]


@pytest.mark.parametrize(
    "document",
    [
        {"tables": {}, "through": 1, "v": 1, "week": "2026-W47"},  # another week's file under this name
        {"tables": {}, "through": "1", "v": 1, "week": WEEK},
        {"tables": [], "through": 1, "v": 1, "week": WEEK},
        {"tables": {}, "through": 1, "v": 0, "week": WEEK},
        {"tables": {}, "through": 1, "week": WEEK},
    ],
)
def test_right_hash_over_a_wrong_shape_is_damage(document: dict[str, Any]) -> None:
    with pytest.raises(RecordDamaged):
        Ledger(MemoryDisk({PATH: file_of(document)})).week(WEEK)


@pytest.mark.parametrize("body", [b"[]", b"not json", b"null", b"[" * 100_000])
def test_right_hash_over_no_document_is_damage(body: bytes) -> None:
    content = b'{"sha256":"%b","document":%b}\n' % (sha256(body).hexdigest().encode(), body)
    with pytest.raises(RecordDamaged):
        Ledger(MemoryDisk({PATH: content})).week(WEEK)


def test_newer_version_is_not_read() -> None:
    content = file_of({"tables": {}, "through": 1, "v": LEDGER_V + 1, "week": WEEK})
    with pytest.raises(RecordTooNew, match="newer"):
        Ledger(MemoryDisk({PATH: content})).week(WEEK)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "\ud800"])
def test_what_json_cannot_say_is_refused_and_nothing_changes(value: object) -> None:
    disk, ledger = filled()
    before = disk.read(PATH)
    with pytest.raises(Defect):
        ledger.put(WEEK, [cycle(300, odd=value)], 400)
    assert disk.read(PATH) == before and ledger.through(WEEK) == 200


def test_failed_write_leaves_the_week_as_it_was() -> None:
    disk = FaultyDisk()
    _, ledger = filled(disk)
    before = disk.read(PATH)
    disk.fill()
    with pytest.raises(DiskError):
        ledger.put(WEEK, [cycle(300)], 400)
    disk.mend()
    assert disk.read(PATH) == before and len(ledger.week(WEEK)) == 2
    ledger.put(WEEK, [cycle(300)], 400)
    assert len(ledger.week(WEEK)) == 3


def test_unreadable_file_is_an_error_and_not_an_empty_week() -> None:
    disk = FaultyDisk()
    _, ledger = filled(disk)
    disk.fail(disk.operations + 2)  # the reading after the question whether it is there
    with pytest.raises(DiskError):
        ledger.week(WEEK)


def test_search_over_weeks() -> None:
    _, ledger = filled()
    other = cycle(500, baths=[{"uid": "hh1-000400", "label": "H5", "lot": "L-10"}], events=[{"by": "eve"}])
    ledger.put("2026-W50", [other], 600)

    def found(**by: Any) -> list[int]:
        return [d["seq"] for d in searched(ledger, **by)]

    assert found() == [9, 120, 500]
    assert found(tag="B2") == [9, 500] and found(tag="G1") == [120] and found(tag="b2") == []
    assert found(case="26-120") == [120]
    assert found(bath="H4") == [9, 120] and found(bath="hh1-000400") == [500] and found(bath="L-10") == [500]
    assert found(person="eve") == [500] and found(person="tim") == [9, 120] and found(person="nobody") == []
    assert found(tag="B2", person="tim", bath="L-9") == [9] and found(tag="B2", weeks=["2026-W50"]) == [500]


def test_changing_an_answer_changes_nothing_kept() -> None:
    _, ledger = filled()
    ledger.week(WEEK)[0]["scope"]["tag"] = "other"
    assert ledger.week(WEEK)[0]["scope"]["tag"] == "B2"
