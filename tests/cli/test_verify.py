"""The command line's verify: what it prints, what it exits with, and that it leaves everything as it is."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import main
from data.audit import snapshot
from data.home import LOCK
from data.real_disk import RealDisk

ROOT = Path(main.__file__).parent


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("verify") / "record"
    assert main.main(["rehearse", "--hours", "3", "--scopes", "3", "--seed", "5", "--out", str(out)]) == 0
    return out


@pytest.fixture
def home(rehearsed, tmp_path, monkeypatch) -> Path:
    monkeypatch.setattr(snapshot, "_PAUSE_S", 0)
    return Path(shutil.copytree(rehearsed, tmp_path / "home"))


def files_of(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_a_rehearsal_verifies_and_is_left_as_it_is(home, capsys):
    before = files_of(home)
    exports = home / "exports"
    for arguments in ([str(home)], [str(home), "--chain"], [str(exports)], [str(exports / "2026-W48")]):
        assert main.main(["verify", *arguments]) == 0
        assert capsys.readouterr().out.endswith("; nothing differs\n")
    assert main.main(["--home", str(home), "verify"]) == 0
    assert re.search(r": 1 segment, \d+ lines, \d+ cycles, 1 ledger, 1 export, \d+ texts;", capsys.readouterr().out)
    assert files_of(home) == before


def test_it_reads_while_an_app_holds_the_home(home, capsys):
    disk = RealDisk(home)
    disk.lock(LOCK, "the app")
    try:
        assert main.main(["verify", str(home)]) == 0
    finally:
        disk.close()
    capsys.readouterr()


@pytest.mark.parametrize("chain", [[], ["--chain"]])
def test_a_line_taken_out_is_named_first_and_exits_1(home, chain):
    path = home / "journal" / "2026-W48.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:30], *lines[31:]]))
    done = subprocess.run(
        [sys.executable, "-OO", "main.py", "verify", str(home), *chain], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 1, done.stderr
    first, *_, last = done.stdout.splitlines()
    byte = sum(map(len, lines[:30]))
    assert first.startswith(f"journal/2026-W48.jsonl, line 31, byte {byte}, seq 31: its prev is ")
    assert last.endswith("; 1 difference")


def test_the_last_line_taken_out_exits_1(home, capsys):
    path = home / "journal" / "2026-W48.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))
    assert main.main(["verify", "--chain", str(home)]) == 1
    first = capsys.readouterr().out.splitlines()[0]
    assert f"line {len(lines)}, " in first and f"seq {len(lines)}: the record ends here" in first


@pytest.mark.parametrize("name", ["ledger/2026-W48.json", "exports/2026-W48/cycles.csv", "head", "texts"])
def test_a_flipped_bit_of_any_file_exits_1(home, name, capsys):
    path = next((home / name).iterdir()) if name == "texts" else home / name
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 4
    path.write_bytes(content)
    assert main.main(["verify", str(home)]) == 1
    assert path.name in capsys.readouterr().out


def test_an_export_away_from_its_home_is_held_against_itself_or_a_home_that_is_named(home, tmp_path, capsys):
    away = Path(shutil.copytree(home / "exports", tmp_path / "away"))
    assert main.main(["verify", str(away)]) == 0
    assert "1 export without their journal; nothing differs" in capsys.readouterr().out
    assert main.main(["--home", str(home), "verify", str(away / "2026-W48")]) == 0
    # Another handheld's week, whole in itself: only the journal shows that it is not this one's.
    assert main.main(["rehearse", "--hours", "2", "--scopes", "2", "--seed", "6", "--out", str(tmp_path / "b")]) == 0
    assert main.main(["verify", str(tmp_path / "b")]) == 0
    capsys.readouterr()
    assert main.main(["--home", str(home), "verify", str(tmp_path / "b" / "exports")]) == 1
    assert capsys.readouterr().out.startswith("2026-W48/")
    (away / "2026-W48" / "events.csv").unlink()
    assert main.main(["verify", str(away)]) == 1


def test_a_folder_with_neither_is_wrong_use(tmp_path, capsys):
    for path in (tmp_path, tmp_path / "none"):
        assert main.main(["verify", str(path)]) == 2
    assert "neither a record nor an export" in capsys.readouterr().err
