"""Weeks leave a home whatever became of its ledger; and no home's own key gives way to the rehearsals' public one."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from purge_cases import FOURTH_WEEK, THIRD_WEEK, fresh, home_files

from data.leaving import export_home, send_home
from data.memory_disk import MemoryDisk
from data.receipts import Receipt, Receipts
from data.rehearse.leaving import leave_weeks
from data.send import Delivered
from data.signing import KEY_FILE, keep_secret
from protocols.errors import Defect, RecordDamaged
from tests.places import MemoryPlace
from tests.send.cases import put


@pytest.fixture
def home(tmp_path) -> Path:
    return put(home_files(fresh()[0].disk), tmp_path / "home")


@pytest.mark.parametrize("spoilt", [b"", b"{}", b"\xff" * 300])
def test_a_damaged_ledger_is_made_again_said_and_keeps_no_week_here(home, tmp_path, spoilt) -> None:
    path = home / "ledger" / f"{FOURTH_WEEK}.json"
    whole = path.read_bytes()
    path.write_bytes(spoilt or whole[:-9])
    told: list[str] = []
    said = export_home(home, THIRD_WEEK, tmp_path / "out", lambda progress: told.append(str(progress)))
    assert said.startswith("written") and (tmp_path / "out" / THIRD_WEEK / "manifest.json").exists()
    assert told[0] == f"{FOURTH_WEEK}: making the ledger again from the journal, for its file was damaged"
    assert path.read_bytes() == whole
    path.write_bytes(whole[: len(whole) // 2])
    place = MemoryPlace("elsewhere")
    sent = list(send_home(home, place, THIRD_WEEK, lambda: "now", lambda progress: told.append(str(progress))))
    assert isinstance(sent[0][1], Delivered) and path.read_bytes() == whole


def test_a_ledger_that_goes_further_than_the_journal_is_evidence_and_is_left(home, tmp_path) -> None:
    path = home / "journal" / f"{FOURTH_WEEK}.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    ledger = (home / "ledger" / f"{FOURTH_WEEK}.json").read_bytes()
    path.write_bytes(b"".join(lines[:-1]))
    (home / "head").unlink()
    with pytest.raises(RecordDamaged, match="the journal was replaced by an older copy"):
        export_home(home, THIRD_WEEK, tmp_path / "out")
    assert (home / "ledger" / f"{FOURTH_WEEK}.json").read_bytes() == ledger


def test_a_home_with_a_key_or_receipts_is_never_signed_with_the_public_key(tmp_path) -> None:
    bench, _ = fresh()
    kept = bench.disk.read(KEY_FILE)
    with pytest.raises(Defect, match="no rehearsal's"):
        list(leave_weeks(bench.disk, bench.journal, tmp_path))
    assert bench.disk.read(KEY_FILE) == kept and list(tmp_path.iterdir()) == []
    bench.disk.remove(KEY_FILE)
    with pytest.raises(Defect, match="no rehearsal's"):
        list(leave_weeks(bench.disk, bench.journal, tmp_path))
    assert not bench.disk.exists(KEY_FILE)
    disk = MemoryDisk()
    keep_secret(disk, bytes(32))
    Receipts(disk).keep(THIRD_WEEK, Receipt("x", 1, "0" * 64, True, "0" * 64, "now"))
    with pytest.raises(Defect):
        list(leave_weeks(disk, bench.journal, tmp_path))
    assert json.dumps(list(tmp_path.iterdir())) == "[]"
