"""Published scheduling examples that fit the planner; each names where its figures were read."""

from typing import Any

import pytest

from protocols.plan import Infeasible, Plan, read_problem, solve, write_result
from tests.plan.small import broken_rules

NODES = 200_000


def task(name: str, length: int, uses: str = "", earliest: int = 0, due: int | None = None) -> dict[str, Any]:
    held = {uses: 1} if uses else {}
    return {"id": name, "duration_s": length, "uses": held, "earliest_s": earliest, "due_s": due}


def lag(before: str, after: str, least: int, most: int | None = None) -> dict[str, Any]:
    return {"from": before, "to": after, "min_s": least, "max_s": most, "hard": True}


def plan(tasks: list[dict[str, Any]], lags: list[dict[str, Any]], capacity: dict[str, int]) -> Plan:
    problem = {"tasks": tasks, "lags": lags, "capacity": capacity}
    result = solve(read_problem(problem), NODES)
    assert isinstance(result, Plan)
    assert broken_rules(problem, write_result(result)) == []
    assert result.proven
    return result


def test_seven_jobs_with_heads_and_tails() -> None:
    # Carlier, EJOR 11:42-47 (1982), data and optimum 50 as printed on docs.rs, proc-opt 0.1.3, module schrage
    heads, lengths, tails = (
        (10, 13, 11, 20, 30, 0, 30),
        (5, 6, 7, 4, 3, 6, 2),
        (7, 26, 24, 21, 8, 17, 0),
    )
    tasks, lags = [], []
    for k, (r, p, q) in enumerate(zip(heads, lengths, tails, strict=True)):
        tasks += [task(f"job{k}", p, "machine", earliest=r), task(f"tail{k}", q)]
        lags.append(lag(f"job{k}", f"tail{k}", p))
    result = plan(tasks, lags, {"machine": 1})
    assert result.finish_s == result.finish_bound_s == 50


# Fisher and Thompson (1963), ft06: (machine, length) by job, as in github.com/ptal/kobe-rcpsp, data/jssp/ft
FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)


def chains(jobs: Any) -> tuple[list[dict[str, Any]], list[dict[str, Any]], dict[str, int]]:
    tasks, lags, capacity = [], [], {}
    for j, job in enumerate(jobs):
        for k, (machine, length) in enumerate(job):
            capacity[f"m{machine}"] = 1
            tasks.append(task(f"j{j}.{k}", length, f"m{machine}"))
            if k:
                lags.append(lag(f"j{j}.{k - 1}", f"j{j}.{k}", job[k - 1][1]))
    return tasks, lags, capacity


def test_six_by_six_job_shop() -> None:
    # optimum 55: same source as the data
    assert plan(*chains(FT06)).finish_s == 55


def test_two_machine_flow_shop() -> None:
    # Johnson's rule gives makespan 47: tests of the librualg crate 0.29.1, docs.rs
    first, second = (4, 4, 30, 6, 2), (5, 1, 4, 30, 3)
    jobs = [((0, a), (1, b)) for a, b in zip(first, second, strict=True)]
    assert plan(*chains(jobs)).finish_s == 47


@pytest.mark.parametrize(("allowed", "late"), [(5, False), (4, True)])
def test_greatest_lateness_of_four_jobs(allowed: int, late: bool) -> None:
    # Pinedo, branch and bound for one machine with releases: the greatest lateness is 5 at best (copies of lecture
    # notes). So due times eased by 5 can all be met, and eased by 4 they can't.
    rows = zip((0, 1, 3, 5), (4, 2, 6, 5), (8, 12, 11, 10), strict=True)
    tasks = [task(f"j{k}", p, "machine", r, d + allowed) for k, (r, p, d) in enumerate(rows)]
    result = plan(tasks, [], {"machine": 1})
    assert (result.late_total_s > 0) is late
    assert result.bound_s == result.late_total_s


def test_total_tardiness_of_five_jobs() -> None:
    # Pinedo, total tardiness 370: from memory, not seen in print; checked by enumeration
    rows = zip((121, 79, 147, 83, 130), (260, 266, 266, 336, 337), strict=True)
    tasks = [task(f"j{k}", p, "machine", due=d) for k, (p, d) in enumerate(rows)]
    assert plan(tasks, [], {"machine": 1}).late_total_s == 370


def test_total_tardiness_of_seven_jobs() -> None:
    # Data: Gueret, Prins, Sevaux, Applications of Optimization (2002), 7.4. Total tardiness 18 was computed by
    # enumerating all orders, as the smallest makespan 31 was.
    rows = list(zip((2, 5, 4, 0, 0, 8, 9), (5, 6, 8, 4, 2, 4, 2), (10, 21, 15, 10, 5, 15, 22), strict=True))
    due = [task(f"j{k}", p, "machine", r, d) for k, (r, p, d) in enumerate(rows)]
    assert plan(due, [], {"machine": 1}).late_total_s == 18
    free = [task(f"j{k}", p, "machine", r) for k, (r, p, _) in enumerate(rows)]
    assert plan(free, [], {"machine": 1}).finish_s == 31


# Phillips and Unger, AIIE Transactions 8(2):219-225 (1976), as in github.com/MiniZinc/mzn-challenge,
# 2020/hoist-benchmark: shortest and longest soaks of 12 tanks (None: no longest), and loaded moves from tank k
SHORTEST = (150, 90, 120, 90, 30, 60, 60, 45, 130, 120, 90, 30)
LONGEST = (200, 120, 180, 125, 40, 120, 120, 75, None, None, 120, 60)
MOVES = (31, 22, 22, 22, 25, 23, 22, 22, 22, 47, 27, 22, 30)


def line(parts: int, period: int) -> dict[str, Any]:
    """`parts` enter every `period` seconds; one hoist (its empty travel left out), one part a tank, hard soaks."""
    tasks, lags = [], []
    for p in range(parts):
        tasks += [task(f"p{p}.{k}", MOVES[k], "hoist") for k in range(13)]
        for k in range(12):
            most = LONGEST[k]
            longest = None if most is None else MOVES[k] + most
            lags.append(lag(f"p{p}.{k}", f"p{p}.{k + 1}", MOVES[k] + SHORTEST[k], longest))
        if p:
            lags.append(lag(f"p{p - 1}.0", f"p{p}.0", period, period))
            lags += [lag(f"p{p - 1}.{k + 1}", f"p{p}.{k}", -MOVES[k]) for k in range(12)]
    return {"tasks": tasks, "lags": lags, "capacity": {"hoist": 1}}


def test_hoist_line_has_a_plan_at_the_published_period() -> None:
    # 521 s is the known shortest period with empty travel (recalled, reproduced with two solvers); without it a
    # plan at that period must exist all the more
    problem = line(parts=3, period=521)
    result = solve(read_problem(problem), NODES)
    assert isinstance(result, Plan)
    assert broken_rules(problem, write_result(result)) == []


def test_hoist_line_has_no_plan_faster_than_a_tank() -> None:
    # a tank holds one part for its shortest soak, so parts can't enter faster than the slowest tank lets them
    result = solve(read_problem(line(parts=2, period=100)), NODES)
    assert isinstance(result, Infeasible)
    assert result.proven and len(result.why) >= 2


# ProGen/max test set UBO10 as in github.com/ptal/kobe-rcpsp, data/rcpsp-max, with its optimum.csv: psp1 has no plan,
# psp2 has the optimum 45. Five resources of ten units; rows: length, uses, {later task: lag from start to start}.
PSP1 = (
    (2, (5, 7, 8, 4, 6), {10: 2}),
    (9, (10, 8, 0, 8, 10), {4: 5, 7: 0}),
    (6, (9, 9, 0, 4, 5), {9: 3}),
    (6, (0, 8, 0, 5, 5), {5: 4}),
    (9, (0, 8, 6, 3, 4), {6: -5}),
    (10, (8, 9, 4, 9, 9), {5: -4, 7: -4}),
    (5, (6, 3, 0, 6, 9), {8: -4}),
    (7, (6, 8, 2, 0, 10), {7: -2}),
    (7, (0, 8, 10, 3, 0), {}),
    (5, (0, 8, 0, 10, 0), {1: -3}),
)
PSP2 = (
    (4, (4, 3, 7, 7, 2), {5: 9}),
    (4, (1, 9, 6, 4, 2), {5: -3, 6: 8}),
    (10, (2, 0, 0, 4, 2), {7: 24}),
    (10, (0, 7, 4, 7, 10), {9: 22}),
    (3, (6, 6, 3, 6, 6), {8: 4}),
    (1, (10, 4, 1, 4, 7), {10: 3}),
    (8, (9, 0, 10, 4, 6), {10: -2, 3: -26}),
    (10, (4, 0, 0, 0, 0), {}),
    (9, (0, 8, 0, 0, 0), {4: -25}),
    (5, (4, 1, 6, 9, 6), {}),
)


def with_lags_both_ways(rows: Any) -> dict[str, Any]:
    tasks, lags = [], []
    for k, (length, uses, after) in enumerate(rows, 1):
        held = {f"r{r}": units for r, units in enumerate(uses) if units}
        tasks.append({"id": str(k), "duration_s": length, "uses": held})
        lags += [{"from": str(k), "to": str(j), "min_s": w} for j, w in after.items()]
    return {"tasks": tasks, "lags": lags, "capacity": {f"r{r}": 10 for r in range(5)}}


def test_resource_problem_with_lags_both_ways() -> None:
    problem = with_lags_both_ways(PSP2)
    result = plan(problem["tasks"], problem["lags"], problem["capacity"])
    assert result.finish_s == 45


def test_resource_problem_without_a_plan() -> None:
    result = solve(read_problem(with_lags_both_ways(PSP1)), NODES)
    assert isinstance(result, Infeasible)
    assert result.proven
