"""As somebody new would try it: an activated bath, three scopes through it, a strip that fails, the look-back."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest

import main
from tests.cli.cases import Day, received, to_disinfectant

ROOT = Path(main.__file__).parent
DATES = {"expires": "2027-06-01", "opened": "2026-11-20"}
TAGS = ("B2", "B4", "B6")


def glutaraldehyde_day() -> Day:
    """B2 and B4 share the bath H7; B6's strip fails while B4 still lies in it and B2 hangs in its cabinet."""
    day = Day()
    day.give("set-unit", "unit", zone="Europe/Berlin").give("add-person", "ann", name="Ann", role="lead")
    day.give("add-person", "tim", name="Tim", role="technician").give("adopt-protocol", "bronchoscope-1")
    for tag in TAGS:
        day.give("add-scope", tag, protocol="bronchoscope-1")
    day.give("register-container", "K1", kind="disinfectant", claim="glut-2-label-25c", lot="GLUT-22", **DATES)
    day.give("pour-bath", "H7", container="K1")  # refused: it is not activated
    day.give("pour-bath", "H7", container="K1", activated="2026-11-25")
    day.give("register-strips", "S1", type="glutaraldehyde 1.5 %", **DATES)
    day.give("strip-control", "S1", positive=3, negative=3)
    for number, tag in enumerate(TAGS, 1):
        day.give("pour-bath", f"W{number}", kind="detergent", lot="D-1", **DATES)
        received(day, tag, f"26-{number}")
        to_disinfectant(day, tag, f"W{number}")
    values = {"bath": "H7", "temp_c": 25.5, "under": True, "filled": True, "parts": True}
    day.give("strip-test", "H7", scope="B2", result="pass", strip_lot="S1").wait(60).give("start", "B2", **values)
    day.wait(600)
    day.give("strip-test", "H7", scope="B4", result="pass", strip_lot="S1").wait(60).give("start", "B4", **values)
    day.wait(5400 - 661 - 2).give("lift", "B2", temp_c=25)
    finish(day, "B2")
    day.give("strip-test", "H7", by="tim", scope="B6", result="fail", strip_lot="S1")
    day.give("start", "B6", **values)
    day.give("release", "B2", by="tim")
    return day


def finish(day: Day, tag: str) -> None:
    """From the lift to storage."""
    day.wait(20).give("start", tag)
    for _ in range(3):
        day.wait(60).give("count", tag, fresh=True, water="sterile")
    for _ in range(3):
        day.wait(5).give("count", tag, fresh=True, water="sterile")
    for _ in range(3):
        day.wait(5).give("count", tag)
    day.wait(5).give("skip", tag, reason="by risk assessment").wait(5).give("start", tag)
    day.wait(600).give("check", tag, dry=True)
    day.wait(5).give("look", tag, outcome="hung", label=True, place="cabinet 1")


def replayed(day: Day, folder: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    file = folder / "day.jsonl"
    file.write_text(day.text(), encoding="utf-8")
    assert main.main(["replay", str(file), "--out", str(folder / "record")]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def asked(folder: Path, *arguments: str) -> tuple[int, str, str]:
    done = subprocess.run(
        [sys.executable, "main.py", "--home", str(folder / "record"), "trace", *arguments],
        cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


def test_a_failing_strip_and_the_scopes_it_holds_found_by_the_bath(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = replayed(glutaraldehyde_day(), tmp_path, capsys)
    refused = [(a["do"], a["subject"], a["rule"]) for a in answers if a["answer"] == "refused"]
    assert refused == [
        ("pour-bath", "H7", "bath-not-activated"), ("start", "B6", "bath-failed"), ("release", "B2", "held"),
    ]  # fmt: skip
    failed = next(a for a in answers if a["do"] == "strip-test" and a.get("holds"))
    assert [(h["scope"], h["as"]) for h in failed["holds"]] == [("B2", "stored"), ("B4", "soak")]  # type: ignore[attr-defined]

    code, out, err = asked(tmp_path, "--bath", "H7", "--csv", str(tmp_path / "h7.csv"))
    assert (code, err) == (0, "")
    held = [line for line in out.splitlines() if "held since" in line]
    assert [line.split()[0] for line in held] == ["B2", "B4"] and all("H7 failed a strip test" in line for line in held)
    assert "pour-bath           H7" in out and "GLUT-22" in out
    assert [line for line in out.splitlines() if line.startswith("B6")]  # its strip was read in that bath
    ribbons = out.split("ribbons:")[1]
    assert "DDDDDDDDDD" in ribbons and "08:" in ribbons
    with (tmp_path / "h7.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {"pour-bath", "strip-test", "start", "lift"} <= {row["kind"] for row in rows}
    assert sorted({row["scope"] for row in rows if row["scope"]}) == list(TAGS)

    day = glutaraldehyde_day()
    day.give("lift", "B4", reason="the bath has failed", temp_c=25)
    day.give("decide", "B2", decision="reprocess", reason="weak bath")
    again = tmp_path / "again"
    again.mkdir()
    assert replayed(day, again, capsys)[-1]["answer"] == "accepted"
    _, out, _ = asked(again, "--lot", "GLUT-22")
    assert "reprocess by ann (weak bath)" in out and "to be reprocessed" in out


def test_other_questions_and_their_exit_codes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    replayed(glutaraldehyde_day(), tmp_path, capsys)
    for question, says in (
        (["--scope", "B4"], "scope B4: 1 cycle"), (["--case", "26-1"], "case 26-1: 1 cycle, 0 other"),
        (["--person", "tim"], "person tim: 1 cycle"), (["--lot", "S1"], "register-strips     S1"),
        (["--scope", "B2", "--since", "2026-11-25"], "scope B2: 1 cycle"),
    ):  # fmt: skip
        code, out, _ = asked(tmp_path, *question)
        assert code == 0 and says in out, out
    assert asked(tmp_path, "--scope", "Z9")[0] == 1
    assert asked(tmp_path, "--scope", "B2", "--since", "2027-01-01")[0] == 1
    for wrong in ([], ["--scope", "B2", "--case", "1"], ["--scope", "B2", "--since", "yesterday"]):
        assert asked(tmp_path, *wrong)[0] == 2
    code, _, err = asked(tmp_path, "--scope", "B2", "--csv", str(tmp_path / "none" / "x.csv"))
    assert code == 2 and "can't be written" in err
    assert main.main(["--home", str(tmp_path / "nothing"), "trace", "--scope", "B2"]) == 2
    assert not (tmp_path / "nothing").exists()


def test_dilute(capsys: pytest.CaptureFixture[str]) -> None:
    # CDC, Appendix E, example 3: 5 % to 0.1 % takes 49 parts of water.
    assert main.main(["dilute", "--stock", "5%", "--target", "0.1%", "--make", "10 L"]) == 0
    assert "49 parts of water" in capsys.readouterr().out
    assert main.main(["dilute", "--stock", "5 L", "--target", "0.1%"]) == 1
    assert "not a strength" in capsys.readouterr().err
