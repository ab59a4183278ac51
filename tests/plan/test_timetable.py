"""Orders rated: the schedule is the one the order stands for, and an order cut short really is too late."""

from random import Random
from typing import Any

import pytest

from protocols.plan import Lag, Problem, Task, read_problem
from protocols.plan.local import first_orders
from protocols.plan.meter import Meter
from protocols.plan.moves import components
from protocols.plan.network import Network, Unmeetable, build
from protocols.plan.orders import resource_orders
from protocols.plan.run import worth_of
from protocols.plan.timetable import Timetable
from protocols.plan.timing import best_starts
from tests.plan.benches import generate
from tests.plan.small import small


def network(problem: dict[str, Any]) -> Network | None:
    try:
        net = build(read_problem(problem))
    except Unmeetable:
        return None
    fits = all(units <= net.capacity[r] for uses in net.uses for r, units in uses)
    return net if fits else None


def any_order(net: Network, rng: Random) -> list[int]:
    """Drawn so that every task comes after those it must wait for."""
    order: list[int] = []
    placed = 0
    while len(order) < net.n:
        k = rng.choice([k for k in range(net.n) if not placed >> k & 1 and not net.wait[k] & ~placed])
        order.append(k)
        placed |= 1 << k
    return order


def plain(net: Network, order: list[int]) -> list[int]:
    """Each task in turn after its lags and after all before it that share one of its resources, of one unit each."""
    start: dict[int, int] = {}
    for k in order:
        shared = {r for r, _ in net.uses[k]}
        busy = [start[j] + net.duration[j] for j in start if shared & {r for r, _ in net.uses[j]}]
        start[k] = max([net.release[k], *(start[a] + w for a, w in net.before[k] if a in start), *busy])
    return [start[k] for k in range(net.n)]


def of_single_units(problem: dict[str, Any]) -> dict[str, Any]:
    """Without limits, and with one unit of each resource."""
    return {
        "tasks": [{**task, "uses": dict.fromkeys(task["uses"], 1)} for task in problem["tasks"]],
        "lags": [{**lag, "max_s": None, "hard": False} for lag in problem["lags"]],
        "capacity": dict.fromkeys(problem["capacity"], 1),
    }


def test_every_task_starts_as_early_as_those_before_it_allow() -> None:
    rated = 0
    for seed in range(150):
        net = network(of_single_units(small(seed)))
        if net is None:
            continue
        # arcs of negative length are limits too, and may delay a start
        order = any_order(net, Random(seed))
        if not net.limits:
            assert Timetable(net).schedule(order).start == plain(net, order), seed
            rated += 1
    assert rated > 40


@pytest.mark.parametrize("kind", ["small", "bench"])
def test_a_rated_order_is_a_plan_and_its_worth_adds_up(kind: str) -> None:
    met = {"plan": 0, "broken": 0, "late": 0}
    for seed in range(120):
        net = network(small(seed) if kind == "small" else generate(seed, scopes=3, steps=6))
        if net is None:
            continue
        rated = Timetable(net).schedule(any_order(net, Random(seed)))
        start = rated.start
        assert all(start[b] - start[a] >= w for a, b, w in net.arcs if w >= 0), seed
        assert all(at >= earliest for at, earliest in zip(start, net.release, strict=True)), seed
        for r, units in enumerate(net.capacity):
            for moment in set(start):
                held = [k for k in net.users[r] if start[k] <= moment < start[k] + net.duration[k]]
                assert sum(dict(net.uses[k])[r] for k in held) <= units, seed
        assert rated.broken == any(start[b] - start[a] < w for a, b, w in net.arcs), seed
        met["broken" if rated.broken else "plan"] += 1
        if not rated.broken and all(m >= 0 for _, _, m in net.soft):
            assert rated.worth == worth_of(net, start), seed
            met["late"] += rated.late > 0
    assert min(met.values()) > 5 or (kind == "bench" and met["plan"] > 5 < met["late"]), met


@pytest.mark.parametrize("kind", ["small", "bench"])
def test_who_waits_for_a_unit_names_the_task_whose_end_it_starts_at(kind: str) -> None:
    waited = 0
    for seed in range(120):
        net = network(small(seed) if kind == "small" else generate(seed, scopes=3, steps=6))
        if net is None:
            continue
        # without limits to delay for, a task is later than its lags allow for want of a unit only
        net.limits = []
        order = any_order(net, Random(seed))
        rated = Timetable(net).schedule(order)
        start = rated.start
        for place, k in enumerate(order):
            # a task that must start with this one is placed before or after it
            lags = [start[a] + w for a, w in net.before[k] if a in order[:place]]
            holder = rated.held[k]
            assert (start[k] > max([net.release[k], *lags])) == (holder >= 0), (seed, k)
            if holder >= 0:
                assert start[k] == start[holder] + net.duration[holder], (seed, k)
                assert order.index(holder) < place and dict(net.uses[k]).keys() & dict(net.uses[holder]).keys()
                waited += 1
    assert waited > 50


def test_what_is_cut_short_is_too_late_and_nothing_else_is() -> None:
    met = [0, 0]
    for seed in range(60):
        net = network(generate(seed, scopes=4, steps=6))
        assert net is not None
        # without limits to delay for, what is late past due times is all that is late
        net.limits = []
        timetable, order = Timetable(net), any_order(net, Random(seed))
        late, start = timetable.schedule(order).late, timetable.schedule(order).start
        assert late == sum(max(0, start[k] + net.duration[k] - due) for k, due in enumerate(net.due) if due is not None)
        for most in (late - 1, late // 2, late, late + 1):
            found = timetable.rate(order, most)
            assert (found is None) == (most < late), (seed, most)
            met[found is None] += 1
    assert min(met) > 30


def test_a_single_unit_held_alone_and_beside_another_is_one_unit() -> None:
    # the scale is held alone by one task and with the hood by the other: whoever is second must wait
    tasks = (
        Task("a", 10, uses={"scale": 1}),
        Task("b", 10, uses={"scale": 1, "hood": 1}),
        Task("c", 30, uses={"hood": 1}),
    )
    net = build(Problem(tasks, (), {"scale": 1, "hood": 1}))
    assert len(net.capacity) == 2
    for order in ([0, 1, 2], [1, 0, 2], [2, 1, 0], [2, 0, 1], [0, 2, 1], [1, 2, 0]):
        start = Timetable(net).schedule(order).start
        assert start == plain(net, order), order
        assert abs(start[0] - start[1]) >= 10


def test_a_start_is_delayed_into_its_slack_to_keep_a_limit() -> None:
    tasks = (Task("x", 30, uses={"hands": 1}), Task("soak", 10), Task("rinse", 5, uses={"hands": 1}))
    net = build(Problem(tasks, (Lag("soak", "rinse", 10, 12),), {"hands": 1}))
    rated = Timetable(net).schedule([1, 0, 2])
    assert (rated.start, rated.worth) == ([0, 18, 30], (0, 35))
    due = (tasks[0], Task("soak", 10, due_s=15), tasks[2])
    rated = Timetable(build(Problem(due, (Lag("soak", "rinse", 10, 12),), {"hands": 1}))).schedule([1, 0, 2])
    assert (rated.start, rated.worth) == ([0, 5, 30], (13, 35))


def test_an_order_that_breaks_a_hard_limit_comes_after_every_plan() -> None:
    tasks = (Task("x", 30, uses={"hands": 1}), Task("soak", 10, due_s=10), Task("rinse", 5, uses={"hands": 1}))
    net = build(Problem(tasks, (Lag("soak", "rinse", 10, 12, hard=True),), {"hands": 1}))
    timetable = Timetable(net)
    good, bad = timetable.schedule([1, 2, 0]), timetable.schedule([1, 0, 2])
    assert (good.broken, bad.broken) == (False, True)
    assert good.worth < bad.worth and bad.worth[0] > 10**12


def test_a_start_pushes_what_comes_after_it_into_its_slack_to_keep_a_limit() -> None:
    def rated(due: int | None, between: tuple[Lag, ...] = ()) -> tuple[list[int], int]:
        tasks = (
            Task("soak", 20, uses={"hands": 1}),
            Task("wipe", 10, uses={"hands": 1}, due_s=due),
            Task("rinse", 5, uses={"hands": 1}, earliest_s=50),
        )
        net = build(Problem(tasks, (Lag("soak", "rinse", 20, 35), *between), {"hands": 1}))
        found = Timetable(net).schedule([0, 1, 2])
        return found.start, found.late

    assert rated(None) == ([15, 35, 50], 0)
    # as far as what is pushed has slack
    assert rated(38) == ([8, 28, 50], 7)
    assert rated(25) == ([0, 20, 50], 15 + 5)
    assert rated(None, (Lag("wipe", "rinse", 10, 5),)) == ([15, 40, 50], 5)
    # of several units each next holder is pushed too
    tasks = (
        Task("soak", 20, uses={"sinks": 1}),
        Task("other", 20, uses={"sinks": 1}),
        Task("wipe", 10, uses={"sinks": 1}),
        Task("rinse", 5, earliest_s=50),
    )
    net = build(Problem(tasks, (Lag("soak", "rinse", 20, 35),), {"sinks": 2}))
    found = Timetable(net).schedule([0, 1, 2, 3])
    assert (found.start, found.late) == ([15, 0, 35, 50], 0)


def soft(seed: int) -> Network:
    """A bench without hard limits, so that every order is a plan."""
    net = network(generate(seed, scopes=5, steps=8))
    assert net is not None
    net.limits = [limit for limit in net.limits if not limit[3]]
    net.arcs = [arc for arc in net.arcs if arc[2] >= 0]
    return net


def test_starts_are_nearly_the_best_of_their_orders() -> None:
    """Beside the exact best starts for the same orders on the resources: never better, and seldom worse."""
    same, gap = 0, 0
    for seed in range(80):
        net = soft(seed)
        for order in first_orders(net, components(net)):
            rated = Timetable(net).schedule(order)
            turns = sorted(range(net.n), key=lambda k: (rated.start[k], order.index(k)))
            best = best_starts(net, resource_orders(net, [(rated.start[k], k) for k in turns]), Meter(10**9))
            assert best is not None
            least = worth_of(net, best)[0]
            assert least <= rated.late, seed
            same += least == rated.late
            gap += rated.late - least
    # 295 of 320 are the same. Without pushing 235 would be, without what first goes alone 290, with a gap of 7,998 s.
    assert same >= 294 and gap < 6_500, (same, gap)


def test_a_later_start_makes_no_end_late_that_was_not_and_takes_no_unit_from_another() -> None:
    delayed = 0
    for seed in range(120):
        net = soft(seed)
        order = any_order(net, Random(seed)) if seed % 2 else first_orders(net, components(net))[seed // 2 % 4]
        rated = Timetable(net).schedule(order)
        limits, net.limits = net.limits, []
        early = Timetable(net).schedule(order)
        delayed += rated.start != early.start
        assert all(late >= soon for late, soon in zip(rated.start, early.start, strict=True)), seed
        for k, due in enumerate(net.due):
            if due is not None:
                end = early.start[k] + net.duration[k]
                assert rated.start[k] + net.duration[k] <= max(due, end), seed
        before = early.late + sum(max(0, early.start[b] - early.start[a] - m) for a, b, m, _ in limits)
        assert rated.late <= before, seed
        assert all(rated.start[b] - rated.start[a] >= w for a, b, w in net.arcs), seed
        for r, units in enumerate(net.capacity):
            for moment in {rated.start[k] for k in net.users[r]}:
                held = [k for k in net.users[r] if rated.start[k] <= moment < rated.start[k] + net.duration[k]]
                assert sum(dict(net.uses[k])[r] for k in held) <= units, seed
    assert delayed > 80
