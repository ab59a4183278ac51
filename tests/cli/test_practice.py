"""A practice record is never taken for a real one: export, send and gather refuse it, verify and trace say so first."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import main
from data.canonical import canonical
from data.exporters.manifest import MANIFEST, SIGNATURE, ExportRefused, read_manifest
from data.opening import owned_door
from data.practice import DEMO, MARK, PRACTICE, PracticeRecord, is_practice, require_real
from data.real_disk import RealDisk
from data.rehearse.scene import Place, must, opening, scene_clock
from data.signing import signer_of

WEEK = "2026-W48"


@pytest.fixture(params=[PRACTICE, DEMO])
def home(request: Any, tmp_path: Path) -> Path:
    folder = tmp_path / "practice"
    folder.mkdir()
    with owned_door(RealDisk(folder), scene_clock(), "test", request.param) as (door, _):
        for command in opening(door.unit, [Place("B5", "bronchoscope-1", "bronchoscopy")]):
            must(door.give(command))
    return folder


def test_every_line_names_the_device(home: Path) -> None:
    lines = (home / "journal" / f"{WEEK}.jsonl").read_text().splitlines()
    assert {json.loads(line)["device"] for line in lines} in ({PRACTICE}, {DEMO})


@pytest.mark.parametrize("command", [["export", "--week", WEEK, "--to"], ["send", "--to"]])
def test_it_does_not_leave(home: Path, tmp_path: Path, capsys: Any, command: list[str]) -> None:
    out = tmp_path / "out"
    out.mkdir()
    assert main.main(["--home", str(home), *command, str(out)]) == 1
    said = capsys.readouterr()
    assert MARK in said.out + said.err
    assert list(out.rglob("*.csv")) == []
    assert list(out.rglob(MANIFEST)) == []


def test_verify_and_trace_say_it_first(home: Path, tmp_path: Path, capsys: Any) -> None:
    assert main.main(["verify", str(home)]) == 0
    assert capsys.readouterr().out.splitlines()[0] == MARK
    main.main(["--home", str(home), "trace", "--scope", "B5"])
    assert capsys.readouterr().out.splitlines()[0] == MARK
    table = tmp_path / "trace.csv"
    assert main.main(["--home", str(home), "trace", "--scope", "B5", "--csv", str(table)]) == 1
    assert not table.exists()


def test_an_export_that_was_made_by_force_is_not_gathered(tmp_path: Path) -> None:
    """Somebody writes a manifest anew under the practice name and signs it with the handheld's own key."""
    folder = tmp_path / "real"
    folder.mkdir()
    disk = RealDisk(folder)
    with owned_door(disk, scene_clock(), "test") as (door, _):
        for command in opening(door.unit, [Place("B5", "bronchoscope-1", "bronchoscopy")]):
            must(door.give(command))
    assert main.main(["--home", str(folder), "export", "--week", WEEK, "--to", str(tmp_path / "out")]) == 0
    exported = tmp_path / "out" / WEEK
    content = (exported / MANIFEST).read_bytes()
    assert read_manifest(content, (exported / SIGNATURE).read_bytes()).week == WEEK
    said = json.loads(content)
    said["device"] = PRACTICE
    forged = canonical(said) + b"\n"
    disk.lock("lock", "test")
    signature = signer_of(disk).sign(forged)
    disk.close()
    with pytest.raises(ExportRefused, match="PRACTICE"):
        read_manifest(forged, signature)
    (exported / MANIFEST).write_bytes(forged)
    (exported / SIGNATURE).write_bytes(signature)
    assert main.main(["gather", str(tmp_path / "out"), "--into", str(tmp_path / "unit")]) == 1
    assert list((tmp_path / "unit").rglob("events.csv")) == []


def test_a_real_handheld_never_has_the_name(tmp_path: Path) -> None:
    disk = RealDisk(tmp_path)
    with owned_door(disk, scene_clock(), "test") as (door, _):
        assert not is_practice(door.device)
    require_real("hh-1a2b3c", "it is not exported")
    with pytest.raises(PracticeRecord, match="--home"):
        require_real(PRACTICE, "it is not exported")
