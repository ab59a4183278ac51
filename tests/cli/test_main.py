"""The command line as a user meets it: exit codes, messages, files on disk."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

import main
from data.library import library_folder

ROOT = Path(main.__file__).parent


def files_of(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.mark.parametrize(
    ("version", "says"),
    [
        ((3, 10, 13), "3.10 is too old"),
        ((2, 7, 18), "2.7 is too old"),
        ((3, 14, 0), "3.14 is too new"),
        ((4, 0), "4.0"),
    ],
)
def test_an_unsupported_python_is_told_why(version, says):
    refusal = main.python_refusal(version)
    assert says in refusal
    assert "3.11 to 3.13" in refusal
    assert "tomllib" in refusal or "Kivy" in refusal


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 12, 4), (3, 13, 9)])
def test_a_supported_python_is_not_refused(version):
    assert main.python_refusal(version) == ""


def test_the_check_of_the_python_comes_before_anything_newer():
    # Whatever stands above the check must be readable by the Python that is to be refused.
    text = (ROOT / "main.py").read_text(encoding="utf-8")
    head = text.split('if __name__ == "__main__" and python_refusal')[0]
    assert [line for line in head.splitlines() if line.startswith(("import", "from"))] == ["import sys"]


def test_help_teaches():
    done = subprocess.run([sys.executable, "main.py", "--help"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0
    assert "a named person does" in done.stdout
    assert "python3 main.py rehearse" in done.stdout


@pytest.mark.parametrize(
    "arguments", [["polish"], ["rehearse", "--scopes", "0"], ["rehearse", "--pace", "fast"], ["export"]]
)
def test_wrong_use_exits_2(arguments, capsys):
    with pytest.raises(SystemExit) as exit_:
        main.main(arguments)
    assert exit_.value.code == 2
    assert capsys.readouterr().err


def test_check_passes_the_shipped_library(capsys):
    assert main.main(["check", *map(str, sorted(library_folder().glob("*.toml")))]) == 0
    out = capsys.readouterr().out
    assert "protocol bronchoscope-1, " in out
    assert "chemistry claims, no faults" in out


def test_check_names_file_key_rule_and_remedy(tmp_path, capsys):
    good = (library_folder() / "bronchoscope-1.toml").read_text(encoding="utf-8")
    bad = tmp_path / "mine.toml"
    bad.write_text(good.replace('kind = "pass"', 'kind = "polish"', 1), encoding="utf-8")
    torn = tmp_path / "torn.toml"
    torn.write_text(good[: len(good) // 2] + "[[", encoding="utf-8")
    assert main.main(["check", str(bad), str(torn)]) == 1
    lines = capsys.readouterr().out.splitlines()
    fault = next(line for line in lines if line.startswith(str(bad)))
    where, rule = fault.removeprefix(f"{bad}: ").split(": ", 1)
    assert where.endswith('"brush-suction-cylinder".kind')
    assert "polish" in rule
    assert "; " in rule
    assert any(line.startswith(f"{torn}: ") for line in lines)


def test_check_of_a_missing_file_is_wrong_use(capsys):
    assert main.main(["check", "no-such.toml"]) == 2
    assert "can't be read" in capsys.readouterr().err


@pytest.fixture(scope="module")
def shift(tmp_path_factory):
    """A rehearsed shift with its record, left by the command line."""
    out = tmp_path_factory.mktemp("shift") / "record"
    done = subprocess.run(
        [sys.executable, "main.py", "rehearse", "--hours", "4", "--seed", "3", "--out", str(out)],
        cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return out, done.stdout


def test_rehearse_prints_prompts_and_a_closing_table(shift):
    out = shift[1].splitlines()
    assert any("ready      lift out (disinfectant-soak)" in line for line in out)
    at = out.index("cycles")
    titles = [line.split(":")[0].split(" ")[0] for line in out[at:] if not line.startswith(" ")]
    assert titles == ["cycles", "turnaround,", "lates", "refusals", "repeats", "prompts", "commands", "written"]


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(shift, tmp_path, capsys):
    again, other = tmp_path / "again", tmp_path / "other"
    assert main.main(["rehearse", "--hours", "4", "--seed", "3", "--out", str(again)]) == 0
    assert main.main(["rehearse", "--hours", "4", "--seed", "4", "--out", str(other)]) == 0
    capsys.readouterr()
    assert files_of(again) == files_of(shift[0])
    assert files_of(other)["journal/2026-W48.jsonl"] != files_of(again)["journal/2026-W48.jsonl"]


def test_the_rehearsal_leaves_the_weeks_export(shift):
    folder = shift[0] / "exports" / "2026-W48"
    with (folder / "cycles.csv").open(encoding="utf-8-sig", newline="") as file:
        cycles = list(csv.DictReader(file))
    with (folder / "events.csv").open(encoding="utf-8-sig", newline="") as file:
        events = list(csv.DictReader(file))
    assert cycles
    assert {row["cycle"] for row in cycles} <= {row["cycle"] for row in events}
    assert all(row["case"].startswith("26-") for row in cycles)


def test_export_of_the_record_equals_the_one_left(shift, tmp_path, capsys):
    assert main.main(["--home", str(shift[0]), "export", "--week", "2026-W48", "--to", str(tmp_path)]) == 0
    assert "written" in capsys.readouterr().out
    assert files_of(tmp_path / "2026-W48") == files_of(shift[0] / "exports" / "2026-W48")
    assert main.main(["--home", str(shift[0]), "export", "--week", "2026-W48", "--to", str(tmp_path)]) == 0
    assert "unchanged" in capsys.readouterr().out


@pytest.mark.parametrize(("week", "says"), [("2026-48", "is not a week"), ("2026-W10", "2026-W10")])
def test_export_of_no_such_week_is_a_finding(shift, tmp_path, capsys, week, says):
    assert main.main(["--home", str(shift[0]), "export", "--week", week, "--to", str(tmp_path)]) == 1
    assert says in capsys.readouterr().err
    assert files_of(tmp_path) == {}


def test_export_without_a_record_is_wrong_use(tmp_path, capsys):
    assert main.main(["--home", str(tmp_path / "none"), "export", "--week", "2026-W48", "--to", str(tmp_path)]) == 2
    assert "holds no record" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


def test_a_home_in_use_is_named(shift, tmp_path, capsys):
    from data.home import LOCK
    from data.real_disk import RealDisk

    disk = RealDisk(shift[0])
    disk.lock(LOCK, "another window")
    try:
        assert main.main(["--home", str(shift[0]), "export", "--week", "2026-W48", "--to", str(tmp_path)]) == 1
    finally:
        disk.close()
    assert "in use by" in capsys.readouterr().err


def test_a_folder_that_can_not_be_made_is_wrong_use(tmp_path, capsys) -> None:
    (tmp_path / "file").write_text("in the way")
    for call in (["rehearse", "--out"], ["replay", str(tmp_path / "none.jsonl"), "--out"]):
        (tmp_path / "none.jsonl").write_text("")
        assert main.main([*call, str(tmp_path / "file" / "below")]) == 2
        assert "can't be made" in capsys.readouterr().err


def test_a_folder_of_which_the_system_can_not_tell_is_wrong_use(tmp_path, capsys) -> None:
    """As a share is that went away; a name that is too long ends a look the same way."""
    away = str(tmp_path / ("x" * 300))
    for call in (["trace", "--scope", "B2"], ["send", "--to", str(tmp_path)], ["verify"]):
        assert main.main(["--home", away, *call]) == 2
        assert "holds n" in capsys.readouterr().err
    assert main.main(["rehearse", "--hours", "1", "--out", away]) == 2
    assert "can't be made" in capsys.readouterr().err


def test_hours_are_plain_numbers(capsys) -> None:
    for text in ("1_0", "1e1", "nan", "inf"):
        with pytest.raises(SystemExit):
            main.main(["rehearse", "--hours", text])
        assert "is not a number from 0.1 to 168" in capsys.readouterr().err
