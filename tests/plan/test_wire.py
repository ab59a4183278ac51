"""Reading problems and writing answers: what is wrong is named, with its value and what to do."""

import json
from typing import Any

import pytest

from protocols.plan import (
    Infeasible,
    Lag,
    PlanFault,
    budget_nodes,
    read_budget_s,
    read_problem,
    safety_stop_s,
    solve,
    write_result,
)
from protocols.plan.wire import NODES_PER_SECOND

GOOD: dict[str, Any] = {
    "tasks": [
        {"id": "a", "scope": "S1", "duration_s": 60, "uses": {"hands": 1}, "earliest_s": 0, "due_s": None},
        {"id": "b", "scope": "S1", "duration_s": 30, "uses": {"hands": 1}, "earliest_s": 0, "due_s": 80},
    ],
    "lags": [{"from": "a", "to": "b", "min_s": 60, "max_s": 100, "hard": False}],
    "capacity": {"hands": 1},
    "budget_s": 2,
}


def changed(**edits: Any) -> dict[str, Any]:
    """A copy of GOOD with paths such as tasks__0__id replaced."""
    problem = json.loads(json.dumps(GOOD))
    for path, value in edits.items():
        *way, last = [int(step) if step.isdigit() else step for step in path.split("__")]
        at = problem
        for step in way:
            at = at[step]
        at[last] = value
    return problem


def test_the_answer_has_the_promised_fields() -> None:
    answer = write_result(solve(read_problem(GOOD), budget_nodes(read_budget_s(GOOD))))
    assert answer == {
        "starts_s": {"a": 0, "b": 60},
        "late_s": {"a": 0, "b": 10},
        "finish_s": 90,
        "late_total_s": 10,
        "bound_s": 10,
        "proven": True,
    }


def test_no_plan_is_written_with_its_reason() -> None:
    assert write_result(Infeasible(("a", "b"), True)) == {"infeasible": True, "proven": True, "why": ["a", "b"]}


def test_fields_that_may_be_left_out() -> None:
    problem = read_problem({"tasks": [{"id": "a", "duration_s": 5}]})
    assert (problem.tasks[0].earliest_s, problem.tasks[0].due_s, problem.lags) == (0, None, ())
    assert read_budget_s({"tasks": []}) == 2.0
    assert budget_nodes(0.05) == round(0.05 * NODES_PER_SECOND)


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        ({"tasks__0__id": "b"}, ("'b'", "twice")),
        ({"tasks__0__id": ""}, ("tasks[0].id", "text")),
        ({"tasks__0__duration_s": -1}, ("'a'", "duration_s", "-1")),
        ({"tasks__0__duration_s": float("nan")}, ("'a'", "duration_s", "nan")),
        ({"tasks__0__duration_s": float("inf")}, ("'a'", "duration_s", "inf")),
        ({"tasks__0__duration_s": 1.5}, ("'a'", "1.5", "whole")),
        ({"tasks__0__duration_s": True}, ("'a'", "True", "whole")),
        ({"tasks__0__duration_s": "60"}, ("'a'", "'60'", "whole")),
        ({"tasks__0__duration_s": 10**12}, ("'a'", "1000000000000")),
        ({"tasks__0__due_s": float("nan")}, ("'a'", "due_s", "nan")),
        ({"tasks__0__earliest_s": None}, ("'a'", "earliest_s")),
        ({"tasks__0__uses": {"hand": 1}}, ("'a'", "'hand'", "capacity")),
        ({"tasks__0__uses": {"hands": -1}}, ("'a'", "'hands'", "-1")),
        ({"tasks__0__uses": ["hands"]}, ("'a'", "uses", "object")),
        ({"tasks__0__colour": "red"}, ("tasks[0]", "'colour'")),
        ({"lags__0__to": "c"}, ("'a' to 'c'", "'c'")),
        ({"lags__0__min_s": float("nan")}, ("'a' to 'b'", "min_s", "nan")),
        ({"lags__0__max_s": "soon"}, ("'a' to 'b'", "max_s", "'soon'")),
        ({"lags__0__hard": 1}, ("'a' to 'b'", "hard", "true or false")),
        ({"capacity__hands": -1}, ("'hands'", "-1")),
        ({"capacity__hands": 0.5}, ("'hands'", "0.5")),
        ({"tasks__0__duration_s": 10**9 + 1}, ("'a'", "1000000001")),
        ({"tasks__0__earliest_s": -(10**9) - 1}, ("'a'", "-1000000001")),
        ({"tasks__0__scope": 7}, ("'a'", "scope", "7", "text")),
        ({"tasks__0__uses": {"": 1}}, ("'a'", "uses", "''", "text")),
        ({"tasks__0": 7}, ("tasks[0]", "7", "object")),
        ({"lags__0": None}, ("lags[0]", "missing", "object")),
        ({"lags__0__from": None}, ("lags[0].from", "missing", "text")),
        ({"lags__0__until": 3}, ("lags[0]", "'until'", "from, hard, max_s, min_s, to")),
        ({"capacity": ["hands"]}, ("capacity", "['hands']", "object")),
        ({"hurry": True}, ("the problem", "'hurry'", "budget_s, capacity, lags, tasks")),
        ({"tasks": "x" * 59}, ("tasks", "'" + "x" * 56 + "...: give a list")),
        ({"tasks": "x" * 58}, ("tasks", "'" + "x" * 58 + "': give a list")),
        ({"tasks": None}, ("tasks", "list")),
        ({"lags": {}}, ("lags", "list")),
    ],
)
def test_what_is_wrong_is_named(edits: dict[str, Any], words: tuple[str, ...]) -> None:
    with pytest.raises(PlanFault) as fault:
        read_problem(changed(**edits))
    for word in words:
        assert word in str(fault.value)


def test_what_may_be_written_in_more_than_one_way() -> None:
    edits = {"tasks__0__duration_s": 10.0**9, "tasks__0__scope": "", "tasks__0__earliest_s": -(10**9)}
    problem = read_problem(changed(**edits, tasks__1__scope=None, lags__0={"from": "a", "to": "b"}))
    first, second = problem.tasks
    assert (first.duration_s, first.scope, first.earliest_s, second.scope) == (10**9, "", -(10**9), "")
    assert isinstance(first.duration_s, int)
    assert problem.lags == (Lag("a", "b", 0, None, False),)
    assert read_problem(changed(lags__0__hard=True)).lags == (Lag("a", "b", 60, 100, True),)


def test_a_task_without_a_length_is_named() -> None:
    with pytest.raises(PlanFault, match="'a' has no duration_s"):
        read_problem({"tasks": [{"id": "a"}]})


def test_a_budget_buys_at_least_one_node_and_a_stop_of_five_times_its_seconds() -> None:
    assert (budget_nodes(1e-9), budget_nodes(2), safety_stop_s(2)) == (1, 2 * NODES_PER_SECOND, 10)
    assert read_budget_s(changed(budget_s=1)) == 1.0


@pytest.mark.parametrize("budget", [0, -1, float("nan"), float("inf"), "2", None, True])
def test_a_budget_is_a_number_above_nothing(budget: Any) -> None:
    with pytest.raises(PlanFault, match="budget_s"):
        read_budget_s(changed(budget_s=budget))


@pytest.mark.parametrize("obj", [None, [], "x", 3, {}])
def test_what_is_no_problem_at_all(obj: Any) -> None:
    with pytest.raises(PlanFault):
        read_problem(obj)
