"""Two homes on one disk: a cycle goes from one to the other by files, and its answer back."""

from __future__ import annotations

import pytest

import main
from data.opening import owned_door
from data.real_disk import RealDisk
from data.system_clock import SystemClock
from protocols.event import Command, Event
from tests.cli.cases import opened


@pytest.fixture
def homes(tmp_path, capsys):
    """Two records and how to call main.py on each; `a` has B2 in a cycle. Each knows the other's key."""
    (tmp_path / "a.jsonl").write_text(opened().text(), encoding="utf-8")
    assert main.main(["replay", str(tmp_path / "a.jsonl"), "--out", str(tmp_path / "a")]) == 0
    (tmp_path / "b").mkdir()
    with owned_door(RealDisk(tmp_path / "b"), SystemClock(), "test", "hh-b") as (door, _):
        for do, subject, values in (
            ("set-unit", "unit", {"zone": "Europe/Berlin"}), ("add-person", "ann", {"name": "Ann", "role": "lead"}),
        ):  # fmt: skip
            assert isinstance(door.give(Command(do, subject, values, "ann")), Event)

    def call(home: str, *arguments: object):
        capsys.readouterr()
        code = main.main(["--home", str(tmp_path / home), *map(str, arguments)])
        out, err = capsys.readouterr()
        return code, out, err

    keys = {name: call(name, "key")[1].split() for name in "ab"}
    code, _, err = call("a", "pair", keys["a"][0], keys["a"][1], "--by", "ann")
    assert code == 1 and "name of this handheld" in err
    for name, other in ("ab", "ba"):
        device, key = keys[other]
        assert call(name, "pair", device, key, "--by", "ann")[0] == 0
    return tmp_path, call, keys


def test_a_cycle_goes_over_by_file_and_comes_back_as_an_answer(homes):
    path, call, keys = homes
    device = keys["b"][0]
    offer = path / "b2.offer"
    code, out, _ = call("a", "hand-over", "B2", "--to", device, "--by", "ann", "--file", offer)
    assert code == 0 and "B2: offered" in out
    code, out, _ = call("b", "take-over", offer, "--by", "ann")
    assert code == 0 and "B2: taken over" in out
    assert "in cycle" in call("b", "scopes")[1]
    code, out, err = call("b", "take-over", offer, "--by", "ann")
    assert code == 0 and "answered already" in err and "answer" in out
    code, out, _ = call("a", "take-over", path / "b2.offer.answer", "--by", "ann")
    assert code == 0 and "B2: its answer is taken" in out
    assert "with another handheld" in call("a", "scopes")[1]
    for name in "ab":
        code, out, err = call(name, "verify")
        assert code == 0, out + err
    # The look-back finds the case on both, and each week exports.
    assert all("26-1" in call(name, "trace", "--case", "26-1")[1] for name in "ab")


def test_wrong_use_and_what_can_not_be_taken(homes):
    path, call, keys = homes
    assert call("a", "hand-over", "B4", "--to", keys["b"][0], "--by", "ann", "--file", path / "x")[0] == 1
    assert call("a", "hand-over", "B2", "--to", "nobody", "--by", "ann", "--file", path / "x")[0] == 1
    assert call("b", "take-over", path / "missing", "--by", "ann")[0] == 2
    (path / "junk").write_bytes(b"junk")
    code, _, err = call("b", "take-over", path / "junk", "--by", "ann")
    assert code == 1 and "bring it again" in err
    assert call("nowhere", "pair", "x", "ab" * 32, "--by", "ann")[0] == 2
