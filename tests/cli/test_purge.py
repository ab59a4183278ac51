"""The command line's purge: who may, what it needs, what it says, and what is left."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import main
from data.pins import pin_values
from protocols.clock import FakeClock
from protocols.event import Command
from tests.record.purge_cases import NEXT_WEEK, NOW, SECRET, THIRD_WEEK, WEEK, fresh, home_files
from tests.send.cases import put

PIN = "740912"


@pytest.fixture
def bench():
    return fresh()[0]


@pytest.fixture
def home(bench, tmp_path, monkeypatch) -> Path:
    """A home of four weeks that goes on with the fake clock, and a stick that it was sent to by the command line."""
    monkeypatch.setattr("data.system_clock.SystemClock", lambda: bench.clock)
    monkeypatch.setattr("screens.terminal.leaving.wall_now", lambda: NOW)
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    (tmp_path / "stick").mkdir()
    return put(home_files(bench.disk), tmp_path / "home")


def run(home: Path, *arguments: str) -> int:
    return main.main(["--home", str(home), *arguments])


def test_weeks_that_were_sent_are_purged_and_the_rest_verifies(home, capsys) -> None:
    stick = home.parent / "stick"
    assert run(home, "send", "--to", str(stick)) == 0
    capsys.readouterr()
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann", "--yes") == 0
    assert capsys.readouterr().out == f"{WEEK}: purged, lines 1 to 128\n"
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann", "--yes") == 0
    assert "there is no closed week before" in capsys.readouterr().out
    assert run(home, "purge", "--before", "2026-W52", "--by", "ann", "--yes", "--from", str(stick)) == 1
    told = capsys.readouterr()
    assert f"{NEXT_WEEK}: purged" in told.out and f"{THIRD_WEEK}: weeks since {THIRD_WEEK}: 1" in told.err
    assert run(home, "verify") == 0
    assert "2 purged weeks; nothing differs" in capsys.readouterr().out
    assert run(home, "trace", "--scope", "B2") == 1
    assert f"not looked through: {WEEK} to {NEXT_WEEK}, purged" in capsys.readouterr().out
    assert run(home, "export", "--week", WEEK, "--to", str(home.parent / "out")) == 1
    assert run(home, "export", "--week", THIRD_WEEK, "--to", str(home.parent / "out")) == 0
    assert run(home, "send", "--to", str(stick)) == 0
    assert run(home, "gather", str(stick), "--into", str(home.parent / "unit")) == 0
    assert main.main(["verify", str(stick / "hh1" / WEEK)]) == 0


def test_nobody_purges_unasked_unsent_or_without_standing_for_it(home, bench, monkeypatch, capsys) -> None:
    stick = home.parent / "stick"
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann", "--yes") == 2
    assert "nothing was sent from this record" in capsys.readouterr().err
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann", "--yes", "--from", str(stick)) == 1
    assert "has not arrived whole" in capsys.readouterr().err
    assert run(home, "send", "--to", str(stick)) == 0
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann") == 1
    assert "confirm with --yes" in capsys.readouterr().err
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda words: "y")
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann") == 1
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "tim", "--yes") == 1
    assert "purge needs a lead, 'tim' is a technician" in capsys.readouterr().err
    assert run(home, "purge", "--before", "2026-W99", "--by", "ann", "--yes") == 1
    assert "is not a week" in capsys.readouterr().err
    assert main.main(["--home", str(home.parent / "none"), "purge", "--before", WEEK, "--by", "ann"]) == 2
    assert sorted(p.name for p in (home / "journal").iterdir())[0] == f"{WEEK}.jsonl" and not (home / "purged").exists()


@pytest.mark.parametrize("how", [EOFError, KeyboardInterrupt])
def test_whoever_stops_at_the_question_has_purged_nothing(home, monkeypatch, capsys, how) -> None:
    def stop(words: str) -> str:
        raise how

    assert run(home, "send", "--to", str(home.parent / "stick")) == 0
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", stop)
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann") == 1
    assert capsys.readouterr().err == "stopped; what was not said to be done is not done\n"
    assert (home / "journal" / f"{WEEK}.jsonl").exists() and not (home / "purged").exists()
    monkeypatch.setattr("builtins.input", lambda words: "yes")
    assert run(home, "purge", "--before", NEXT_WEEK, "--by", "ann") == 0


def test_who_has_a_pin_shows_it_first(home, bench, monkeypatch, capsys) -> None:
    bench.door.give(Command("set-pin", "ann", pin_values(PIN, lambda length: bytes(range(length))), "ann"))
    put(home_files(bench.disk), home)
    stick = home.parent / "stick"
    assert run(home, "send", "--to", str(stick)) == 0
    ask = ("purge", "--before", NEXT_WEEK, "--by", "ann", "--yes")
    assert run(home, *ask) == 1
    assert "give it in BASINBELL_PIN" in capsys.readouterr().err
    monkeypatch.setenv("BASINBELL_PIN", "111222")
    assert run(home, *ask) == 1
    assert "that is not the PIN" in capsys.readouterr().err
    monkeypatch.setenv("BASINBELL_PIN", PIN)
    assert run(home, *ask) == 0
    kinds = [path.read_text("utf-8") for path in sorted((home / "journal").iterdir())][-1]
    assert kinds.count('"kind":"pin-wrong"') == 1 and kinds.count('"kind":"sign-in"') == 1
    assert PIN not in kinds and SECRET.hex() not in kinds
    assert isinstance(bench.clock, FakeClock)
