"""Replay: a file of commands through the real door, from the command line, with files on disk."""

from __future__ import annotations

import json

import pytest

import main
from tests.cli.cases import Day, opened, received, to_disinfectant


@pytest.fixture
def replay(tmp_path, capsys):
    """Gives a day to `replay` and promises its exit code and answers by line number."""

    def run(day: Day | str, *more: str):
        file = tmp_path / "day.jsonl"
        file.write_text(day if isinstance(day, str) else day.text(), encoding="utf-8")
        code = main.main(["replay", str(file), *more])
        out, err = capsys.readouterr()
        return code, [json.loads(line) for line in out.splitlines()], err

    return run


def in_contact(day: Day) -> Day:
    to_disinfectant(day).wait(30).give("strip-test", "H4", scope="B2", result="pass", strip_lot="S1", test="t1")
    return day.give("start", "B2", bath="H4", test="t1", temp_c=21, under=True, filled=True, parts=True)


def test_a_whole_cycle_is_accepted_and_ends_completed(replay, tmp_path):
    day = in_contact(opened()).wait(720).give("lift", "B2")
    day.wait(20).give("start", "B2")
    for _ in range(3):
        day.wait(60).give("count", "B2", fresh=True, water="sterile")
    for _ in range(3):
        day.wait(20).give("count", "B2", fresh=True, water="sterile")
    for _ in range(3):
        day.wait(20).give("count", "B2")
    day.wait(20).give("count", "B2", alcohol_pct=70).wait(20).give("start", "B2")
    day.wait(600).give("check", "B2", dry=True).wait(30).give(
        "look", "B2", outcome="hung", label=True, place="cabinet 1"
    )
    day.wait(60).give("release", "B2")
    code, answers, _ = replay(day, "--out", str(tmp_path / "record"))
    assert code == 0
    assert [a for a in answers if a["answer"] != "accepted"] == []
    assert answers[-2]["ends"] == "completed"
    assert answers[-1]["state"] == {"cycle": None, "last": "completed", "released_by": "ann"}
    assert list((tmp_path / "record" / "journal").glob("*.jsonl"))


def test_a_refusal_exits_0_and_says_rule_reason_and_remedy(replay):
    code, answers, _ = replay(in_contact(opened()).wait(600).give("lift", "B2"))
    assert code == 0
    last = answers[-1]
    assert (last["answer"], last["rule"]) == ("refused", "early-lift")
    assert "10:01 of 12:00 contact time proven, 1:59 to go" in last["why"]
    assert "contact starts again from zero" in last["remedy"]
    assert last["state"]["is"] == "in a soak"


def test_prompts_due_since_the_last_line_come_with_its_answer(replay):
    _, answers, _ = replay(in_contact(opened()).wait(900).give("note", "B2", what="other", text="still here"))
    levels = [(p["level"], p["for"], p["times"]) for p in answers[-1]["prompts"] if p["scope"] == "B2"]
    # Soon one minute before 12:00, then ready at 12:00, 13:00, 14:00 and 15:00 of the 15:01 that passed.
    assert levels == [("soon", "lift out", 1), ("ready", "lift out", 4)]


def test_wall_clock_step_proves_nothing_and_costs_nothing(replay):
    day = in_contact(opened()).wait(300).clock(step_s=3600).wait(300).give("lift", "B2")
    _, answers, _ = replay(day)
    assert answers[-1]["rule"] == "early-lift"
    assert "10:02 of 12:00" in answers[-1]["why"]


def test_device_sleep_counts_and_its_prompts_come_at_waking(replay):
    day = in_contact(opened()).wait(10).clock(sleep_s=800).give("lift", "B2")
    _, answers, _ = replay(day)
    assert answers[-1]["answer"] == "accepted"
    asleep = answers[-2]
    assert asleep["do"] == "clock"
    assert [p["level"] for p in asleep["prompts"] if p["for"] == "lift out"] == ["soon", "ready"]


def test_a_reboot_proves_nothing_of_its_gap(replay):
    # 300 s before, 60 s without power, 400 s after: 700 s and a bit proven of 720, though 760 s have passed.
    day = (
        in_contact(opened()).wait(299).clock(reboot_down_s=60).wait(399).give("lift", "B2").wait(20).give("lift", "B2")
    )
    _, answers, _ = replay(day)
    early, lifted = answers[-2:]
    assert early["rule"] == "early-lift"
    assert "11:40 of 12:00" in early["why"]
    assert lifted["answer"] == "accepted"


def test_one_strip_test_covers_one_scope(replay):
    day = in_contact(received(opened(), "B4", "26-2"))
    day.give("pour-bath", "W2", kind="detergent", lot="D-1", expires="2027-06-01", opened="2026-11-20")
    to_disinfectant(day, "B4", "W2").wait(5)
    day.give("start", "B4", bath="H4", test="t1", temp_c=21, under=True, filled=True, parts=True)
    code, answers, _ = replay(day)
    assert code == 0
    assert answers[-1]["rule"] == "strip-other"
    assert "t1 was for B2, not for B4" in answers[-1]["why"]


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ("{", "not a JSON object"),
        ("[1]", "not a JSON object"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"polish","subject":"B2","by":"ann"}', "no command is called 'polish'"),
        ('{"at":"yesterday","do":"lift","subject":"B2","by":"ann"}', "'yesterday' is not a time"),
        ('{"at":"2026-11-25T09:00:60+01:00","do":"lift","subject":"B2","by":"ann"}', "is not a time"),
        ('{"at":"2026-11-25T07:00:00+01:00","do":"lift","subject":"B2","by":"ann"}', "put the lines in order"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"lift","subject":"B2","by":"ann","to":1}', "unknown member to"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"lift","do":"lift","subject":"B2","by":"ann"}', "given twice"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"lift","subject":"B2","by":"ann","values":{"temp_c":NaN}}', "NaN"),
        (
            '{"at":"2026-11-25T09:00:00+01:00","do":"lift","subject":"B2","by":"ann","values":{"temp_c":"21"}}',
            "a number",
        ),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"lift","subject":"B2","by":"ann","values":{"temp_c":140}}', "0 to 99"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"clock","values":{"sleep_s":-1}}', "from 0 to"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"clock","values":{"sleep_s":1,"step_s":1}}', "exactly one of"),
        ('{"at":"2026-11-25T09:00:00+01:00","do":"lift","subject":"B2"}', "by is ''"),
    ],
)
def test_a_faulty_line_is_named_and_nothing_is_written(replay, tmp_path, bad, says):
    day = opened()
    code, answers, err = replay(day.text() + bad + "\n", "--out", str(tmp_path / "record"))
    assert code == 1
    assert answers == []
    assert f"line {len(day.lines) + 1}: " in err
    assert says in err
    assert not (tmp_path / "record").exists()


def test_a_line_inside_a_sleep_is_out_of_order(replay):
    day = opened().clock(sleep_s=600).wait(-300).give("note", "B2", what="other", text="x")
    code, _, err = replay(day)
    assert code == 1
    assert "put the lines in order" in err


def test_a_doubled_command_is_one_tap(replay):
    lines = opened().wait(20).give("look", "B2", outcome="ready", ppe=True).text()
    code, answers, _ = replay(lines + lines.splitlines()[-1] + "\n")
    assert code == 0
    assert answers[-1]["rule"] == "doubled"
    assert answers[-1]["state"]["step"] == answers[-2]["state"]["step"] == "take-apart"


def test_an_older_view_is_refused(replay):
    day = opened().wait(20).give("look", "B2", outcome="ready", ppe=True)
    seen = {**json.loads(day.lines[-1]), "at": day.wait(30).at.isoformat(), "after": 1}
    _, answers, _ = replay(day.text() + json.dumps(seen) + "\n")
    assert answers[-1]["rule"] == "stale-view"


def test_out_must_be_a_new_folder(replay, tmp_path, capsys):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "something").touch()
    code, _, told = replay(opened(), "--out", str(tmp_path / "there"))
    assert code == 2 and "not empty" in told


def test_a_file_that_is_not_there_is_wrong_use(capsys):
    assert main.main(["replay", "no-such-file.jsonl"]) == 2
    assert "can't be read" in capsys.readouterr().err


def test_an_empty_file_is_fine(replay):
    assert replay("\n")[:2] == (0, [])
