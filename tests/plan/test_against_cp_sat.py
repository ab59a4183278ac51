"""The planner beside CP-SAT (ortools) on generated problems: lateness, finish, and whether there is a plan at all."""

import pytest

from protocols.plan import Infeasible, Plan, read_problem, solve, write_result
from tests.plan.benches import generate
from tests.plan.reference import reference
from tests.plan.small import broken_rules, small

NODES = 100_000


@pytest.mark.parametrize("part", range(6))
def test_small_problems_end_the_same(part: int) -> None:
    # several resources of several units, hard and soft lags both ways; about a third of them have no plan
    none = 0
    for seed in range(part * 30, part * 30 + 30):
        problem = small(seed)
        expected = reference(problem, 10, with_finish=True)
        result = solve(read_problem(problem), NODES)
        assert result.proven, seed
        if isinstance(result, Infeasible):
            assert expected.status == "INFEASIBLE", seed
            none += 1
        else:
            assert expected.status == "OPTIMAL", seed
            assert (result.late_total_s, result.finish_s) == (expected.late_total_s, expected.finish_s), seed
            assert result.bound_s == result.late_total_s
            assert broken_rules(problem, write_result(result)) == [], seed
    assert 0 < none < 30


@pytest.mark.parametrize("part", range(3))
def test_the_named_tasks_conflict_and_no_fewer_do(part: int) -> None:
    for seed in range(part * 20, part * 20 + 20):
        problem = small(seed)
        result = solve(read_problem(problem), NODES)
        if isinstance(result, Plan):
            continue
        for left_out in [None, *result.why]:
            kept = [task for task in problem["tasks"] if task["id"] in result.why and task["id"] != left_out]
            names = {task["id"] for task in kept}
            lags = [lag for lag in problem["lags"] if lag["from"] in names and lag["to"] in names]
            status = reference({**problem, "tasks": kept, "lags": lags}, 10).status
            assert status == ("INFEASIBLE" if left_out is None else "OPTIMAL"), (seed, left_out)


@pytest.mark.parametrize("seed", range(12))
def test_benches_of_three_scopes_end_the_same(seed: int) -> None:
    problem = generate(seed, scopes=3, steps=5)
    expected = reference(problem, 10, with_finish=True)
    result = solve(read_problem(problem), NODES)
    assert isinstance(result, Plan)
    assert broken_rules(problem, write_result(result)) == []
    assert expected.status == "OPTIMAL"
    assert result.bound_s <= expected.late_total_s <= result.late_total_s
    if result.late_proven:
        assert result.late_total_s == expected.late_total_s
    if result.proven:
        assert result.finish_s == expected.finish_s


def test_most_benches_of_three_scopes_are_proven() -> None:
    results = [solve(read_problem(generate(seed, scopes=3, steps=5)), NODES) for seed in range(12)]
    assert sum(result.proven for result in results) >= 10
