"""The commands key, send and gather, and what a rehearsal leaves."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

import main
from tests.send.cases import WEEK, there


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("commands") / "home"
    assert main.main(["rehearse", "--hours", "3", "--scopes", "3", "--seed", "5", "--out", str(out)]) == 0
    return out


@pytest.fixture
def home(rehearsed, tmp_path) -> Path:
    return Path(shutil.copytree(rehearsed, tmp_path / "home"))


def test_a_rehearsal_leaves_all_forms_and_the_same_seed_the_same_bytes(rehearsed, tmp_path, capsys) -> None:
    names = set(there(rehearsed / "exports" / WEEK))
    assert {
        "cycles.csv", "events.csv", "baths.csv", "tests.csv", "columns.csv", "week.json", "week.fhir.json", "week.pdf",
        "manifest.json", "manifest.sig", f"chain/{WEEK}.jsonl",
    } <= names  # fmt: skip
    again = tmp_path / "again"
    assert main.main(["rehearse", "--hours", "3", "--scopes", "3", "--seed", "5", "--out", str(again)]) == 0
    assert there(again / "exports") == there(rehearsed / "exports")
    capsys.readouterr()


def test_what_was_left_verifies(home, capsys) -> None:
    assert main.main(["verify", str(home)]) == 0
    assert main.main(["verify", str(home / "exports")]) == 0
    capsys.readouterr()


def test_key_sends_and_gather_fit_together(home, tmp_path, capsys) -> None:
    (tmp_path / "stick").mkdir()
    assert main.main(["--home", str(home), "key"]) == 0
    line = capsys.readouterr().out
    assert re.fullmatch(r"rehearsal [0-9a-f]{64}\n", line)
    (tmp_path / "keys").write_text(line)
    assert main.main(["--home", str(home), "send", "--to", str(tmp_path / "stick")]) == 0
    assert "sent and read back" in capsys.readouterr().out
    assert main.main(["--home", str(home), "send"]) == 0
    assert "nothing waits" in capsys.readouterr().out
    gather = ["gather", str(tmp_path / "stick"), "--into", str(tmp_path / "unit"), "--keys", str(tmp_path / "keys")]
    assert main.main(gather) == 0
    assert "1 taken, 0 known, 0 superseded, 0 refused" in capsys.readouterr().out
    assert main.main(gather) == 0
    assert "0 taken, 1 known" in capsys.readouterr().out
    assert main.main(["verify", str(tmp_path / "stick" / "rehearsal")]) == 0
    capsys.readouterr()


def test_gather_says_what_is_wrong_and_exits_1(home, tmp_path, capsys) -> None:
    week = home / "exports" / WEEK
    content = (week / "cycles.csv").read_bytes()
    (week / "cycles.csv").write_bytes(content[:-5] + b"x" + content[-4:])
    gather = ["gather", str(home / "exports"), "--into", str(tmp_path / "unit")]
    assert main.main(gather) == 1
    assert "cycles.csv is not the file that was signed" in capsys.readouterr().out
    (tmp_path / "keys").write_text("rehearsal short\n")
    assert main.main([*gather, "--keys", str(tmp_path / "keys")]) == 1
    assert "line 1" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["send"], 2, "nothing was sent from this record before"),
        (["send", "--to", "http://127.0.0.1/"], 1, "http:// is no way to send"),
        (["send", "--to", "{absent}"], 1, "is not there"),
        (["send", "--to", "{here}", "--week", "2026-W01"], 1, "nothing is recorded in 2026-W01"),
        (["send", "--to", "{here}", "--week", "now"], 1, "is not a week"),
        (["gather", "{absent}", "--into", "{here}/unit"], 2, "is no folder"),
    ],
)
def test_wrong_use_and_findings_have_their_exit_codes(home, tmp_path, capsys, arguments, code, said) -> None:
    (tmp_path / "here").mkdir()
    names = {"absent": str(tmp_path / "absent"), "here": str(tmp_path / "here")}
    assert main.main(["--home", str(home), *(part.format(**names) for part in arguments)]) == code
    assert said in capsys.readouterr().err


def test_commands_that_need_a_record_say_so(tmp_path, capsys) -> None:
    for command in (["send", "--to", str(tmp_path)], ["key"]):
        assert main.main(["--home", str(tmp_path / "none"), *command]) == 2
        assert "holds no record" in capsys.readouterr().err


def test_an_export_made_again_is_left_and_names_whose_it_is(home, tmp_path, capsys) -> None:
    export = ["--home", str(home), "export", "--week", WEEK, "--to", str(tmp_path / "out")]
    assert main.main(export) == 0 and main.main(export) == 0
    shown = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in shown] == ["written", "unchanged"]
    manifest = json.loads((tmp_path / "out" / WEEK / "manifest.json").read_bytes())
    assert manifest["device"] == "rehearsal" and manifest["unit"] == "Alder Row endoscopy bench"


def test_an_export_whose_print_was_made_otherwise_stays_as_it_is(home, tmp_path, monkeypatch, capsys) -> None:
    from data.exporters import week_forms

    export = ["--home", str(home), "export", "--week", WEEK, "--to", str(tmp_path / "out")]
    assert main.main(export) == 0
    before = there(tmp_path / "out")
    monkeypatch.setattr(week_forms, "week_pdf", lambda *arguments: b"%PDF of another version")
    assert main.main(export) == 0
    assert capsys.readouterr().out.splitlines()[-1].startswith("unchanged:")
    assert there(tmp_path / "out") == before
    spoilt = tmp_path / "out" / WEEK / "week.fhir.json"
    spoilt.write_bytes(b"{}")
    # Of a week that is still open, one that is no longer whole is written anew.
    assert main.main(export) == 0 and capsys.readouterr().out.startswith("replaced:")


def test_a_folder_of_which_the_system_can_not_tell_is_named_and_nothing_else_happens(home, tmp_path, capsys) -> None:
    """As a share that went away: asking for it fails, so it is neither there nor missing."""
    gone = tmp_path / "gone"
    gone.symlink_to("x" * 300)
    (tmp_path / "in").mkdir()
    for command in (
        ["--home", str(home), "send", "--to", str(gone)],
        ["gather", str(gone), "--into", str(tmp_path / "unit")],
        ["gather", str(tmp_path / "in"), "--into", str(gone)],
        ["verify", str(gone)],
    ):
        assert main.main(command) != 0, command
        said = "".join(capsys.readouterr())
        assert str(gone) in said, said


@pytest.mark.parametrize("name", ["manifest.json", "cycles.csv"])
def test_an_export_that_was_spoilt_after_it_was_taken_is_named_by_its_place(home, tmp_path, capsys, name) -> None:
    gather = ["gather", str(home / "exports"), "--into", str(tmp_path / "unit")]
    assert main.main(gather) == 0
    (spoilt,) = (tmp_path / "unit" / "exports").glob(f"*/*/{name}")
    spoilt.write_bytes(spoilt.read_bytes()[:-9])
    capsys.readouterr()
    assert main.main(gather) == 1
    said = "".join(capsys.readouterr())
    assert f"{spoilt.parent} is no longer as it was taken" in said, said
    shutil.rmtree(spoilt.parent)
    assert main.main(gather) == 0
    assert main.main(gather) == 0
    assert "0 taken, 1 known" in capsys.readouterr().out
