"""The planner's parts alone: the timing of given orders, clashes seen, and what is claimed when the budget is short."""

from itertools import combinations
from random import Random
from typing import Any

import pytest

from protocols.plan import Infeasible, Lag, Plan, PlanFault, Problem, Task, read_problem, solve, write_result
from protocols.plan.exact import first_clash
from protocols.plan.meter import Meter
from protocols.plan.network import Network, Unmeetable, build
from protocols.plan.run import worth_of
from protocols.plan.timing import best_starts
from tests.plan.benches import generate
from tests.plan.reference import reference
from tests.plan.small import broken_rules, small, tight


def timed(problem: dict[str, Any], orders: list[tuple[int, int, int]]) -> tuple[Network, list[int] | None] | None:
    try:
        net = build(read_problem(problem))
    except Unmeetable:
        return None
    return net, best_starts(net, orders, Meter(10**9))


@pytest.mark.parametrize("part", range(3))
def test_given_orders_are_timed_as_cp_sat_times_them(part: int) -> None:
    met = {"plan": 0, "late": 0, "none": 0}
    for seed in range(part * 40, part * 40 + 40):
        problem, chance = small(seed), Random(seed)
        tasks = problem["tasks"]
        pairs = [chance.sample(range(len(tasks)), 2) for _ in range(chance.randint(0, 3))]
        orders = [(a, b, tasks[a]["duration_s"]) for a, b in pairs]
        kept = [
            {"from": tasks[a]["id"], "to": tasks[b]["id"], "min_s": w, "max_s": None, "hard": True}
            for a, b, w in orders
        ]
        expected = reference({"tasks": tasks, "lags": problem["lags"] + kept, "capacity": {}}, 10, with_finish=True)
        got = timed(problem, orders)
        if got is None or got[1] is None:
            assert expected.status == "INFEASIBLE", seed
            met["none"] += 1
            continue
        net, starts = got
        assert expected.status == "OPTIMAL", seed
        assert worth_of(net, starts) == (expected.late_total_s, expected.finish_s), seed
        assert all(starts[k] >= task["earliest_s"] for k, task in enumerate(tasks)), seed
        assert all(starts[b] - starts[a] >= w for a, b, w in [*net.arcs, *orders]), seed
        met["late" if expected.late_total_s else "plan"] += 1
    assert all(met.values()), met


def test_a_clash_is_seen_wherever_there_is_one_and_names_the_fewest_tasks() -> None:
    met = [0, 0]
    for seed in range(120):
        problem, chance = small(seed), Random(seed)
        free = {**problem, "lags": []}
        net = build(read_problem(free))
        starts = [chance.randint(0, 20) for _ in free["tasks"]]
        clash = first_clash(net, starts)
        crowded = []
        for moment in sorted(set(starts)):
            for name, units in free["capacity"].items():
                held = {
                    k: task["uses"][name]
                    for k, task in enumerate(free["tasks"])
                    if task["uses"].get(name) and starts[k] <= moment < starts[k] + task["duration_s"]
                }
                for size in range(1, len(held) + 1):
                    if sum(sorted(held.values())[-size:]) > units:
                        too_many = [set(c) for c in combinations(held, size) if sum(held[k] for k in c) > units]
                        crowded.append((moment, size, too_many))
                        break
        met[bool(crowded)] += 1
        if not crowded:
            assert clash == [], seed
            continue
        first = min(moment for moment, _, _ in crowded)
        assert any(set(clash) in sets for moment, _, sets in crowded if moment == first), seed
    assert min(met) > 10


def bound_above(problem: dict[str, Any]) -> tuple[str, ...]:
    """The tasks, in their order, that may not start later than some time after another one, whatever the lateness."""
    names = set()
    for lag in problem["lags"]:
        if lag["min_s"] < 0 or (lag["hard"] and lag["max_s"] is not None and lag["max_s"] > 0):
            names |= {lag["from"], lag["to"]}
    return tuple(task["id"] for task in problem["tasks"] if task["id"] in names)


@pytest.mark.parametrize("nodes", [1, 300, 3_000])
def test_a_short_budget_claims_nothing_that_is_not_so(nodes: int) -> None:
    met = {"proven": 0, "late proven": 0, "open": 0, "none": 0}
    for seed in range(1_000, 1_090):
        problem = small(seed)
        expected = reference(problem, 10, with_finish=True)
        result = solve(read_problem(problem), nodes)
        if isinstance(result, Infeasible):
            assert expected.status == "INFEASIBLE" or not result.proven, seed
            if not result.proven:
                assert result.why == bound_above(problem), seed
            met["none"] += 1
            continue
        assert expected.status == "OPTIMAL", seed
        best = (expected.late_total_s, expected.finish_s)
        assert result.bound_s <= best[0] <= result.late_total_s, seed
        assert result.late_proven == (result.bound_s == result.late_total_s), seed
        if result.late_proven:
            assert result.late_total_s == best[0] and result.finish_bound_s <= best[1] <= result.finish_s, seed
        if result.proven:
            assert (result.late_total_s, result.finish_s, result.finish_bound_s) == (*best, best[1]), seed
        met["proven" if result.proven else "late proven" if result.late_proven else "open"] += 1
    assert met["proven"] and met["none"], met


@pytest.mark.parametrize("seed", [118, 308, 342, 380, 392, 968, 1324, 1402, 1482])
def test_a_budget_that_ends_before_a_plan_is_met_proves_nothing(seed: int) -> None:
    problem = tight(seed)
    short, long = (solve(read_problem(problem), nodes) for nodes in (150, 3_000))
    assert isinstance(short, Infeasible) and not short.proven
    assert isinstance(long, Plan) and broken_rules(problem, write_result(long)) == []


def test_what_all_layers_rule_out_is_proven_before_branching_proves_it() -> None:
    result = solve(read_problem(tight(2_969)), 2_800)  # 2,578 nodes; by branching alone 3,010
    assert isinstance(result, Infeasible) and result.proven


def test_beams_raise_the_bound_to_the_plan_where_branching_does_not() -> None:
    # CP-SAT (ortools 9, one thread) proves the same least lateness. 11,929 nodes; without the beams' bound over 60,000.
    result = solve(read_problem(generate(39)), 30_000)
    assert isinstance(result, Plan) and result.proven
    assert (result.late_total_s, result.bound_s) == (805, 805)


@pytest.mark.parametrize("nodes", [1, 2_000])
def test_bounds_of_benches_are_never_above_the_least(nodes: int) -> None:
    raised = 0
    for seed in range(100, 116):
        problem = generate(seed, scopes=3, steps=5)
        expected = reference(problem, 10, with_finish=True)
        result = solve(read_problem(problem), nodes)
        assert isinstance(result, Plan) and expected.status == "OPTIMAL", seed
        assert result.bound_s <= expected.late_total_s <= result.late_total_s, seed
        if result.late_total_s == expected.late_total_s:
            assert result.finish_bound_s <= expected.finish_s <= result.finish_s, seed
        if result.proven:
            assert (result.late_total_s, result.finish_s) == (expected.late_total_s, expected.finish_s), seed
        raised += result.bound_s > 0
    assert raised > 3


def test_a_lag_from_a_task_to_itself() -> None:
    one = (Task("a", 5),)
    assert solve(Problem(one, (Lag("a", "a", 1),)), 10) == Infeasible(("a",), True)
    assert solve(Problem(one, (Lag("a", "a", 0, -3, hard=True),)), 10) == Infeasible(("a",), True)
    kept = solve(Problem(one, (Lag("a", "a", 0, 0, hard=True),)), 10)
    late = solve(Problem(one, (Lag("a", "a", -9, -3),)), 10)
    assert isinstance(kept, Plan) and isinstance(late, Plan)
    assert (kept.late_total_s, kept.proven, late.late_s, late.bound_s, late.proven) == (0, True, {"a": 3}, 3, True)
    easy = solve(Problem(one, (Lag("a", "a", 0, 5),)), 10)
    assert isinstance(easy, Plan) and (easy.late_s, easy.late_total_s, easy.bound_s, easy.proven) == (
        {"a": 0},
        0,
        0,
        True,
    )


def test_a_lag_without_figures_only_forbids_going_first() -> None:
    free = solve(Problem((Task("a", 10), Task("b", 1)), (Lag("a", "b"),)), 100)
    assert isinstance(free, Plan) and free.starts_s == {"a": 0, "b": 0}
    tasks = (Task("a", 10, uses={"hands": 1}), Task("b", 1, uses={"hands": 1}, due_s=1))
    scarce = solve(Problem(tasks, (Lag("a", "b"),), {"hands": 1}), 2_000)
    assert isinstance(scarce, Plan) and scarce.starts_s == {"a": 0, "b": 10}


def test_a_lag_below_nothing_lets_the_second_task_go_first() -> None:
    # b may start a second before a, and is late in any other order
    tasks = (Task("a", 10, uses={"hands": 1}), Task("b", 1, uses={"hands": 1}, due_s=1))
    for lag in (Lag("a", "b", -1), Lag("b", "a", 0, 1, hard=True)):
        result = solve(Problem(tasks, (lag,), {"hands": 1}), 2_000)
        assert isinstance(result, Plan) and result.proven
        assert (result.starts_s, result.late_total_s, result.finish_s) == ({"a": 1, "b": 0}, 0, 11)


def test_nothing_of_a_resource_is_a_capacity_and_a_task_of_no_length_holds_nothing() -> None:
    none = {"hands": 0}
    assert solve(Problem((Task("a", 1, uses={"hands": 1}),), (), none), 10) == Infeasible(("a",), True)
    for idle in (Task("a", 0, uses={"hands": 1}), Task("a", 1, uses={"hands": 0})):
        result = solve(Problem((idle,), (), none), 10)
        assert isinstance(result, Plan) and result.proven and result.finish_s == idle.duration_s


@pytest.mark.parametrize(
    ("tasks", "lags", "capacity"),
    [
        ((Task("a", -1),), (), {}),
        ((Task("a", 1), Task("a", 1)), (), {}),
        ((Task("a", 1, uses={"hands": -1}),), (), {"hands": 1}),
        ((Task("a", 1, uses={"hands": 1}),), (), {}),
        ((Task("a", 1),), (), {"hands": -1}),
        ((Task("a", 1),), (Lag("a", "b"),), {}),
        ((Task("a", 1),), (Lag("b", "a"),), {}),
    ],
)
def test_what_is_no_problem_is_refused(
    tasks: tuple[Task, ...], lags: tuple[Lag, ...], capacity: dict[str, int]
) -> None:
    with pytest.raises(PlanFault):
        Problem(tasks, lags, capacity)
