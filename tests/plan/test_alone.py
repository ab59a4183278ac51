"""Each way of proof by itself, without the orders and walks that find most plans first: what it says is so."""

from collections.abc import Iterable
from functools import cache
from itertools import combinations
from random import Random
from typing import Any, NamedTuple

import pytest

from protocols.plan import Problem, Task, read_problem
from protocols.plan.beam import Beam, Pair
from protocols.plan.coarse import coarsened
from protocols.plan.exact import Clashes, first_clash
from protocols.plan.meter import Meter
from protocols.plan.network import Network, Unmeetable, build
from protocols.plan.orders import resource_orders
from protocols.plan.run import Run, worth_of
from protocols.plan.timetable import Timetable
from protocols.plan.timing import best_starts
from tests.plan.benches import generate
from tests.plan.reference import reference
from tests.plan.small import small

NOTHING: Pair = (10**18, 10**18)


class Told(NamedTuple):
    """The best plan a proof met, or NOTHING, and the floor it says no better plan is below, for so many nodes."""

    best: Pair
    floor: Pair
    finished: bool
    nodes: int


def row(name: str, length: int, earliest: int = 0, due: int | None = None, **uses: int) -> dict[str, Any]:
    return {"id": name, "duration_s": length, "uses": uses, "earliest_s": earliest, "due_s": due}


def lag(a: str, b: str, least: int, most: int | None = None, hard: bool = False) -> dict[str, Any]:
    return {"from": a, "to": b, "min_s": least, "max_s": most, "hard": hard}


# What few of the drawn problems ask for.
BY_HAND: tuple[dict[str, Any], ...] = (
    # soak, rinse and only then the other two is best: the long one fits in before the rinse when the soak begins at
    # once, but not when the soak waits for the rinse
    {
        "tasks": [
            row("soak", 1, 1, hands=1),
            row("rinse", 1, 8, 7, hands=1),
            row("short", 4, 4, 14, hands=1),
            row("long", 6, 1, hands=1),
        ],
        "lags": [lag("soak", "rinse", 2, 3)],
        "capacity": {"hands": 1},
    },
)


def networks(given: Iterable[dict[str, Any]]) -> list[tuple[int, Network, Pair]]:
    """Problems with their least (lateness, finish) by CP-SAT; NOTHING without a plan."""
    found = []
    for seed, problem in enumerate(given):
        try:
            net = build(read_problem(problem))
        except Unmeetable:
            continue
        if any(units > net.capacity[r] for uses in net.uses for r, units in uses):
            continue
        expected = reference(problem, 10, with_finish=True)
        assert expected.status in ("OPTIMAL", "INFEASIBLE"), seed
        least = (expected.late_total_s, expected.finish_s) if expected.status == "OPTIMAL" else NOTHING
        found.append((seed, net, least))
    return found


def beam(net: Network, echoing: bool, lateness_only: bool, width: int, nodes: int = 10**9) -> Told:
    run = Run(net, Meter(nodes))
    states = run.echoing if echoing else run.plain
    outcome = Beam(states, run.meter, run.leaf, lambda: run.best, lateness_only).run(width)
    return Told(run.best or NOTHING, outcome.floor, outcome.finished, run.meter.spent)


def branching(net: Network, limit: int, nodes: int = 10**9) -> Told:
    met: list[tuple[list[int], Pair]] = []
    meter = Meter(nodes)
    search = Clashes(
        net, meter, lambda s: worth_of(net, s), lambda: met[-1][1] if met else None, lambda s, w: met.append((s, w))
    )
    finished = search.run(limit)
    for starts, worth in met:
        assert first_clash(net, starts) == [] and worth == worth_of(net, starts)
        assert all(starts[b] - starts[a] >= w for a, b, w in net.arcs)
    assert [worth for _, worth in met] == sorted({worth for _, worth in met}, reverse=True)
    return Told(met[-1][1] if met else NOTHING, NOTHING, finished, meter.spent)


@cache
def problems() -> list[tuple[int, Network, Pair]]:
    """Small ones first, then benches of two and three scopes; numbered in this order."""
    benches = [generate(seed, scopes=2 + seed // 40, steps=4) for seed in range(60)]
    return networks((*BY_HAND, *map(small, range(300)), *benches))


# of the problems above, so many a full beam proves alone: (plans, lateness) with limits ignored, and with echoes
PROVEN = {False: (178, 187), True: (220, 228)}
# and this takes so many nodes
NODES = {False: 45_000, True: 92_000}


@pytest.mark.parametrize("lateness_only", [False, True])
@pytest.mark.parametrize("echoing", [False, True])
def test_a_beam_drops_nothing_that_could_be_best(echoing: bool, lateness_only: bool) -> None:
    parts = 1 if lateness_only else 2
    proven = none = cut = nodes = 0
    for width in (3, 10**9):
        for seed, net, least in problems():
            told = beam(net, echoing, lateness_only, width)
            assert told.best >= least, seed
            best, floor = told.best[:parts], told.floor[:parts]
            assert min(floor, best) <= least[:parts], seed
            if told.finished and not net.limits:
                assert best == least[:parts] <= floor, seed
            cut += not told.finished
            none += width > 3 and told.best == told.floor == NOTHING
            proven += width > 3 and floor >= best
            nodes += told.nodes if width > 3 else 0
    # to rule nothing out would be valid too
    assert cut > 50 and (none > 5 or not echoing) and proven >= PROVEN[echoing][lateness_only]
    assert nodes < NODES[echoing], nodes


@pytest.mark.parametrize("lateness_only", [False, True])
@pytest.mark.parametrize("echoing", [False, True])
def test_a_beam_that_runs_out_of_nodes_claims_no_more_than_it_ruled_out(echoing: bool, lateness_only: bool) -> None:
    parts, open_ends = 1 if lateness_only else 2, 0
    for nodes in (10, 40, 150, 600):
        for seed, net, least in problems()[::2]:
            told = beam(net, echoing, lateness_only, 10**9, nodes)
            if told.nodes < nodes:
                continue
            assert min(told.floor, told.best)[:parts] <= least[:parts], (seed, nodes)
            open_ends += not told.finished and told.floor < NOTHING
    assert open_ends > 100


def test_branching_on_clashes_finds_the_best_plan_alone() -> None:
    unfinished = none = 0
    for limit in (100, 10**9):
        for seed, net, least in problems()[:260]:
            told = branching(net, limit)
            assert told.best >= least, seed
            if told.finished:
                assert told.best == least, seed
            assert told.finished or limit == 100, seed
            unfinished += not told.finished
            none += told.finished and least == NOTHING
    assert 30 < unfinished < 65 and none > 10
    # what is open when the budget ends is still open
    open_ends = [(branching(net, 10**9, 40), least) for _, net, least in problems()[:260]]
    assert all(told.best == least for told, least in open_ends if told.finished)
    assert sum(not told.finished for told, _ in open_ends) > 30


def test_orders_taken_from_a_schedule_keep_it_and_keep_what_there_is() -> None:
    met = [0, 0]
    for seed in range(150):
        problem, chance = small(seed), Random(seed)
        net = build(read_problem({**problem, "lags": []}))
        if any(units > net.capacity[r] for uses in net.uses for r, units in uses):
            continue
        order = sorted(range(net.n), key=lambda _: chance.random())
        start = Timetable(net).schedule(order).start
        sequence = sorted((start[k], k) for k in order)
        arcs = resource_orders(net, sequence)
        assert all(start[b] - start[a] >= w == net.duration[a] for a, b, w in arcs), seed
        # where the wish holds too much at once, the orders make room
        wished = [(chance.randint(0, 9), k) for k in order]
        for orders in (arcs, resource_orders(net, sorted(wished))):
            earliest = best_starts(net, orders, Meter(10**9))
            assert earliest is not None and first_clash(net, earliest) == [], seed
        met[bool(arcs)] += 1
    assert min(met) > 10, met


def test_units_are_taken_over_from_who_freed_them_last() -> None:
    # two pairs of hands, free at 5 and at 8: whoever starts at 8 waits for b, and a is free for who comes after
    rows = (("a", 5, 1), ("b", 8, 1), ("c", 4, 1), ("d", 3, 1), ("e", 2, 2))
    net = build(Problem(tuple(Task(name, s, uses={"hands": held}) for name, s, held in rows), (), {"hands": 2}))
    assert resource_orders(net, [(0, 0), (0, 1), (8, 2), (8, 3), (12, 4)]) == [
        (0, 3, 5),
        (1, 2, 8),
        (2, 4, 4),
        (3, 4, 3),
    ]
    # what has to wait goes on with the units that are free first, and is over that much later
    assert resource_orders(net, [(0, 1), (0, 0), (1, 2), (7, 3)]) == [(0, 2, 5), (1, 3, 8)]


def test_what_is_counted_in_shares_leans_to_the_side_it_promises() -> None:
    finer = 0
    for seed in range(60):
        chance = Random(seed)
        units = {"air": chance.randint(33, 500), "water": chance.choice((7, 32, 33)), "hands": 2}
        tasks = [Task(str(k), 5, uses={r: chance.randint(0, most) for r, most in units.items()}) for k in range(7)]
        net = build(Problem((*tasks, Task("all", 5, uses=units)), (), units))
        down, up = coarsened(net), coarsened(net, up=True)
        assert down.capacity == up.capacity == [min(most, 32) for most in net.capacity]
        for r, most in enumerate(net.capacity):
            true, low, high = ([dict(uses[k]).get(r, 0) for k in range(8)] for uses in (net.uses, down.uses, up.uses))
            shares = down.capacity[r]
            assert low[7] == high[7] == shares
            for chosen in (c for size in range(1, 8) for c in combinations(range(7), size)):
                whole, least, largest = (sum(row[k] for k in chosen) for row in (true, low, high))
                assert whole > most or least <= shares, seed
                assert largest > shares or whole <= most, seed
                # each is less than a share off
                assert -len(chosen) * most < least * most - shares * whole <= 0, seed
                assert 0 <= largest * most - shares * whole < len(chosen) * most, seed
            finer += most > 32
            for shared in (down, up):
                assert shared.users[r] == [k for k in range(8) if dict(shared.uses[k]).get(r)]
    assert finer > 60
