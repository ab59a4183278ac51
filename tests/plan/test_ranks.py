"""Plans by rank: each is a plan, what ranks lower delays nothing higher, climbing never makes it worse."""

from random import Random
from typing import Any

import pytest

from protocols.plan import Plan, budget_nodes, read_problem, solve
from protocols.plan.meter import Meter
from protocols.plan.moves import components
from protocols.plan.network import Network, Unmeetable, build
from protocols.plan.ranks import Ranks
from protocols.plan.run import worth_of
from protocols.plan.timetable import BROKEN
from tests.plan.benches import generate
from tests.plan.small import small

FAR = 10**15


def ranks_of(problem: dict[str, Any], seed: int = 1) -> Ranks | None:
    try:
        net = build(read_problem(problem))
    except Unmeetable:
        return None
    if any(units > net.capacity[r] for uses in net.uses for r, units in uses):
        return None
    # tasks that must start together are for the exact timing; here each comes after what it waits for
    together = any(net.ancestors[a] >> b & 1 and net.ancestors[b] >> a & 1 for a, b, w in net.arcs if w >= 0)
    return None if together else Ranks(net, Meter(10**9), components(net), Random(seed))


def any_ranks(net: Network, rng: Random) -> list[int]:
    ranks = components(net)
    rng.shuffle(ranks)
    return ranks


def held_too_much(net: Network, start: list[int]) -> list[tuple[int, int]]:
    """(resource, moment) where more is held than there is, moment by moment of every start."""
    return [
        (r, moment)
        for r, units in enumerate(net.capacity)
        for moment in start
        if sum(
            dict(net.uses[k])[r] for k in net.users[r] if start[k] <= moment < start[k] + net.duration[k]
        ) > units
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["bench", "small"])
def test_every_ranking_gives_a_plan_and_its_true_worth(kind: str) -> None:
    hard = met = 0
    for seed in range(60 if kind == "bench" else 300):
        ranks = ranks_of(generate(seed, 3) if kind == "bench" else small(seed))
        if ranks is None:
            continue
        net = ranks.net
        found = ranks.rate(any_ranks(net, Random(seed)), FAR)
        assert found is not None
        start = found.start
        assert held_too_much(net, start) == []
        assert all(start[k] >= net.release[k] for k in range(net.n))
        assert all(start[b] - start[a] >= w for a, b, w in net.arcs if w >= 0)
        over = sum(max(0, start[b] - start[a] - m) for a, b, m, is_hard in net.limits if is_hard)
        late, finish = worth_of(net, start)
        met += 1
        hard += over > 0
        if not any(m < 0 for _, _, m in net.soft):
            assert found.worth == (late + BROKEN * over, finish)
    assert met >= 60 and (kind == "bench" or hard >= 5), (met, hard)


def test_what_ranks_lower_delays_nothing_that_ranks_higher() -> None:
    for seed in range(40):
        ranks = ranks_of(generate(seed, 4))
        assert ranks is not None
        order = any_ranks(ranks.net, Random(seed))
        whole = ranks.rate(order, FAR)
        cut = next(at for at in range(len(order) // 2, len(order)) if order[at] != order[at - 1])
        part = ranks.rate(order[:cut], FAR)
        assert whole is not None and part is not None
        placed = {g: order[:cut].count(g) for g in ranks.groups}
        for k in ranks.order(whole.start):
            if placed[ranks.group[k]]:
                placed[ranks.group[k]] -= 1
                assert part.start[k] == whole.start[k], (seed, k)


def test_starts_of_ranks_worked_out_by_hand() -> None:
    """Two scopes: A with a and then a soak or more work, B with one piece of work; one pair of hands."""

    def starts(ranks: str, tasks: str, most: int | None = None) -> dict[str, int]:
        # each task: name, what it holds, length, earliest start; A's two follow each other
        rows = [row.split() for row in tasks.split(",")]
        problem = {
            "tasks": [
                {"id": name, "scope": name[0], "duration_s": int(long_s), "uses": {held: 1}, "earliest_s": int(from_s)}
                for name, held, long_s, from_s in rows
            ],
            "lags": [{"from": "A1", "to": "A2", "min_s": 10, "max_s": most}],
            "capacity": {"hands": 1, "bath": 1},
        }
        made = ranks_of(problem)
        assert made is not None
        names = [row[0] for row in rows]
        found = made.rate([made.group[names.index(f"{scope}1")] for scope in ranks], FAR)
        assert found is not None
        return dict(zip(names, found.start, strict=True))

    work = "A1 hands 10 0,A2 hands 10 0,B1 hands 15 0"
    assert starts("AAB", work) == {"A1": 0, "A2": 10, "B1": 20}
    assert starts("ABA", work) == {"A1": 0, "B1": 10, "A2": 25}
    assert starts("BAA", work) == {"B1": 0, "A1": 15, "A2": 25}
    # into the gap before what ranks higher: one of 12 s has room for one task, one of 20 s for both, to the second
    assert starts("BAA", "A1 hands 10 0,A2 hands 10 0,B1 hands 15 12") == {"B1": 12, "A1": 0, "A2": 27}
    assert starts("BAA", "A1 hands 10 0,A2 hands 10 0,B1 hands 15 20") == {"B1": 20, "A1": 0, "A2": 10}
    # hands are free at 30 s only: a soak of at most 12 s begins so late that they are there in time
    soak = "A1 bath 10 0,A2 hands 5 0,B1 hands 30 0"
    assert starts("BAA", soak) == {"B1": 0, "A1": 0, "A2": 30}
    assert starts("BAA", soak, 12) == {"B1": 0, "A1": 18, "A2": 30}
    # ... but not once the soak ranks higher by itself
    assert starts("ABA", soak, 12) == {"B1": 0, "A1": 0, "A2": 30}


def test_ranks_given_up_are_too_late_indeed() -> None:
    given_up = 0
    for seed in range(60):
        ranks = ranks_of(generate(seed, 5))
        assert ranks is not None
        order = any_ranks(ranks.net, Random(seed))
        whole = ranks.rate(order, FAR)
        assert whole is not None
        for most in (0, 100, whole.worth[0] - 1, whole.worth[0]):
            found = ranks.rate(order, most)
            given_up += found is None
            assert found == whole if found is not None else whole.worth[0] > most
    assert given_up >= 60


def test_climbing_is_never_for_the_worse_and_ends_at_what_is_good_enough() -> None:
    better = 0
    for seed in range(20):
        ranks = ranks_of(generate(seed, 5))
        assert ranks is not None
        queue = ranks.groups[:]
        Random(seed).shuffle(queue)
        begun = ranks.first(queue)
        assert begun == ranks.rate(begun.ranks, FAR)
        climbed = ranks.climb(begun, ranks.meter.spent + 1_500, lambda worth: False)
        assert climbed == ranks.rate(climbed.ranks, FAR)
        assert sorted(climbed.ranks) == sorted(ranks.group) and climbed.worth <= begun.worth
        better += climbed.worth < begun.worth
        assert ranks.climb(begun, FAR, lambda worth: True) == begun
    assert better >= 10


# CP-SAT (ortools 9, one thread, 10 s) proves 1,200 and 1,380 s least; 7,060 s is the least that it found. Each wants
# a scope that no due time presses to stand back whole, or its rest.
@pytest.mark.parametrize(("seed", "least"), [(130, 1_200), (139, 1_380), (191, 7_060)])
def test_a_scope_that_nothing_presses_stands_back_in_a_short_plan(seed: int, least: int) -> None:
    result = solve(read_problem(generate(seed)), budget_nodes(0.05))
    assert isinstance(result, Plan)
    assert result.late_total_s <= 1.1 * least


# CP-SAT proves these least. Without walks: 345, 1,525 and 300 s.
@pytest.mark.parametrize(("seed", "least"), [(2, 0), (19, 939), (178, 0)])
def test_walks_reach_in_a_short_plan_what_rules_and_ranks_do_not(seed: int, least: int) -> None:
    result = solve(read_problem(generate(seed)), budget_nodes(0.05))
    assert isinstance(result, Plan)
    assert result.late_total_s <= 1.1 * least


# CP-SAT proves 1,660 s least; 2,880 s is the least that it found. Without thorough contests: 1,703 and 3,285 s.
@pytest.mark.parametrize(("seed", "least"), [(63, 1_660), (99, 2_880)])
def test_thorough_contests_reach_what_beams_and_walks_alone_do_not(seed: int, least: int) -> None:
    result = solve(read_problem(generate(seed)), budget_nodes(0.5))
    assert isinstance(result, Plan)
    assert result.late_total_s <= 1.02 * least
