"""The planner from the command line: a file in, one JSON line out."""

from __future__ import annotations

import json

import pytest

import main


@pytest.fixture
def plan(tmp_path, capsys):
    def run(problem: object):
        file = tmp_path / "bench.json"
        file.write_text(problem if isinstance(problem, str) else json.dumps(problem), encoding="utf-8")
        code = main.main(["plan", str(file)])
        out, err = capsys.readouterr()
        return code, json.loads(out) if out else None, err

    return run


def task(name: str, duration_s: int, **more: object) -> dict[str, object]:
    return {"id": name, "scope": name[0], "duration_s": duration_s, "uses": {"hands": 1}, **more}


def test_two_soaks_and_one_pair_of_hands(plan):
    # A and B each go in (60 s of hands), soak 300 s at least, and must be out 60 s of hands later, 360 s at most.
    tasks = [task(f"{s}-{t}", 60) for s in "AB" for t in ("in", "out")]
    lags = [{"from": f"{s}-in", "to": f"{s}-out", "min_s": 300, "max_s": 360} for s in "AB"]
    code, answer, _ = plan({"tasks": tasks, "lags": lags, "capacity": {"hands": 1}})
    assert code == 0
    assert answer["proven"] is True
    # By hand: in at 0 and 60, out at 300 and 360, done at 420, nothing late.
    assert (answer["late_total_s"], answer["finish_s"]) == (0, 420)
    starts = answer["starts_s"]
    assert all(300 <= starts[f"{s}-out"] - starts[f"{s}-in"] <= 360 for s in "AB")


def test_lateness_that_nobody_can_avoid_is_told_with_its_proof(plan):
    # Three lifts of 100 s due at the same moment: by hand 0 + 100 + 200 s late.
    code, answer, _ = plan({"tasks": [task(n, 100, due_s=100) for n in "abc"], "capacity": {"hands": 1}})
    assert code == 0
    assert (answer["late_total_s"], answer["bound_s"], answer["proven"]) == (300, 300, True)


def test_no_plan_at_all_names_tasks_that_conflict(plan):
    tasks = [task("a", 100), task("b", 100), task("c", 5)]
    lags = [
        {"from": "a", "to": "b", "min_s": -50, "max_s": 50, "hard": True},
        {"from": "a", "to": "c", "min_s": 0, "max_s": None},
    ]
    code, answer, _ = plan({"tasks": tasks, "lags": lags, "capacity": {"hands": 1}})
    assert code == 0
    assert answer == {"infeasible": True, "proven": True, "why": ["a", "b"]}


@pytest.mark.parametrize(
    ("problem", "says"),
    [
        ("{", "not JSON"),
        ('{"tasks": [], "tasks": []}', "given twice"),
        ({"lags": []}, "no 'tasks'"),
        ({"tasks": [task("a", -1)], "capacity": {"hands": 1}}, "-1"),
        ({"tasks": [task("a", 1), task("a", 1)], "capacity": {"hands": 1}}, "'a'"),
        ({"tasks": [task("a", 1)]}, "capacity does not list"),
        ({"tasks": [task("a", 1)], "lags": [{"from": "a", "to": "z", "min_s": 0}], "capacity": {"hands": 1}}, "'z'"),
        ({"tasks": [task("a", 1)], "budget_s": 0}, "budget_s is 0"),
    ],
)
def test_bad_input_exits_1_with_a_clear_error(plan, problem, says):
    code, answer, err = plan(problem)
    assert (code, answer) == (1, None)
    assert says in err


def test_a_missing_file_is_wrong_use(capsys):
    assert main.main(["plan", "no-such.json"]) == 2
    assert "can't be read" in capsys.readouterr().err
