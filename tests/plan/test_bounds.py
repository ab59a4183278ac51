"""Lower bounds of partial plans: never above what the best completion costs, and what they see in plain cases."""

from itertools import pairwise
from random import Random

import pytest

from protocols.plan import Lag, Problem, Task
from protocols.plan.bounds import Bounds
from protocols.plan.network import build
from protocols.plan.states import State, States


def chains(seed: int) -> Problem:
    """Up to six tasks in two or three chains that share hands and sinks; due at the end and often on the way."""
    chance = Random(f"bounds {seed}")
    capacity = {"hands": chance.choice((1, 1, 2, 3)), "sinks": chance.choice((1, 2))}
    tasks: list[Task] = []
    lags: list[Lag] = []
    for scope in range(chance.choice((2, 2, 3))):
        row = []
        for k in range(chance.choice((1, 2, 3) if len(tasks) < 3 else (1, 2))):
            uses = {name: chance.randint(1, units) for name, units in capacity.items() if chance.random() < 0.7}
            length, earliest = chance.choice((0, 2, 3, 5, 8, 20)), chance.choice((0, 0, 3, 9))
            row.append(Task(f"{scope}.{k}", length, uses=uses, earliest_s=earliest))
        for k, task in enumerate(row):
            if chance.random() < (0.8 if k == len(row) - 1 else 0.4):
                row[k] = Task(task.id, task.duration_s, "", task.uses, task.earliest_s, chance.randint(0, 20))
        pairs = list(pairwise(row))
        if len(row) == 3 and chance.random() < 0.4:
            pairs[0] = (row[0], row[2])  # two tasks side by side before the third
        lags += [Lag(a.id, b.id, max(0, a.duration_s + chance.choice((-1, 0, 0, 4)))) for a, b in pairs]
        tasks += row
    if chance.random() < 0.3:
        lags.append(Lag(tasks[0].id, tasks[-1].id, chance.randint(0, 6)))
    return Problem(tuple(tasks), tuple(lags), capacity)


class Truth:
    """The best completion of a partial plan by trying every order, each task at its first second that fits."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        number = {task.id: k for k, task in enumerate(problem.tasks)}
        self.lags = [(number[lag.from_id], number[lag.to_id], lag.min_s) for lag in problem.lags]

    def best(self, starts: dict[int, int], now: int) -> tuple[int, int]:
        """(least lateness of the tasks without a start, earliest end of everything), each by itself."""
        tasks = self.problem.tasks
        if len(starts) == len(tasks):
            return 0, max(starts[k] + task.duration_s for k, task in enumerate(tasks))
        found = []
        for k, task in enumerate(tasks):
            if k in starts or any(b == k and a not in starts for a, b, _ in self.lags):
                continue
            at = max([now, task.earliest_s, *(starts[a] + w for a, b, w in self.lags if b == k)])
            while not self._fits(starts, k, at):
                at += 1
            late = 0 if task.due_s is None else max(0, at + task.duration_s - task.due_s)
            more, finish = self.best({**starts, k: at}, at)
            found.append((late + more, finish))
        return min(late for late, _ in found), min(finish for _, finish in found)

    def _fits(self, starts: dict[int, int], k: int, at: int) -> bool:
        tasks, length = self.problem.tasks, self.problem.tasks[k].duration_s
        for name, units in tasks[k].uses.items():
            held = sum(tasks[j].uses.get(name, 0) for j, s in starts.items() if s <= at < s + tasks[j].duration_s)
            if length and held + units > self.problem.capacity[name]:
                return False
        return True


def placed(state: State) -> dict[int, int]:
    starts, trail = {}, state.trail
    while trail is not None:
        starts[trail.task] = trail.start
        trail = trail.before
    return starts


@pytest.mark.parametrize("part", range(3))
def test_no_bound_is_above_the_best_completion(part: int) -> None:
    met = {"late": 0, "exact": 0, "finish": 0}
    for seed in range(part * 100, part * 100 + 100):
        problem, chance = chains(seed), Random(seed)
        net, truth = build(problem), Truth(problem)
        bounds = Bounds(net)
        states = States(net, bounds, limits=False)
        state = states.root()
        while True:
            starts = placed(state)
            late, finish = truth.best(starts, state.now)
            low = bounds.late(state.mask, state.release, state.free, state.now)
            soon = bounds.finish(state.mask, state.release, state.free, state.now)
            assert low <= late and soon <= finish, (seed, starts)
            met["late"] += low > 0
            met["exact"] += low == late > 0
            met["finish"] += soon == finish
            if not state.open:
                break
            k = chance.choice(state.open)
            following = states.child(state, k, states.start_in(state.now, state.release, state.free, k), False)
            assert following is not None
            state = following
    # a bound of nothing would be valid too: most of these are exact
    assert met["late"] > 60 and met["exact"] > 50 and met["finish"] > 20, met


def bounds_of(
    tasks: tuple[Task, ...], lags: tuple[Lag, ...] = (), free: tuple[int, ...] = (0,), now: int = 0, mask: int = 0
) -> tuple[int, int]:
    """(lateness, finish) for tasks that share hands, whose units are free at these times."""
    net = build(Problem(tasks, lags, {"hands": len(free)}))
    bounds, release = Bounds(net), tuple(net.release)
    return bounds.late(mask, release, (free,), now), bounds.finish(mask, release, (free,), now)


def hands(name: str, length: int, due: int | None = None, earliest: int = 0) -> Task:
    return Task(name, length, uses={"hands": 1}, earliest_s=earliest, due_s=due)


def test_the_shortest_work_first_is_seen_against_sorted_due_times() -> None:
    jobs = (hands("a", 50, due=60), hands("b", 30, due=30))
    assert bounds_of(jobs) == (20, 80)
    # nothing starts before now, nor before the hands are free
    assert bounds_of(jobs, now=7) == bounds_of(jobs, free=(7,)) == (34, 87)
    # what is placed is left out, and what alone starts too late counts without the others too
    assert bounds_of(jobs, mask=0b10) == (0, 50)
    assert bounds_of((hands("a", 50, due=60), hands("b", 30, due=30, earliest=7)), mask=0b01) == (7, 37)
    assert bounds_of((hands("a", 50, due=60, earliest=15), hands("b", 30, due=130))) == (5, 80)


def test_a_task_that_takes_both_pairs_of_hands_counts_twice() -> None:
    jobs = tuple(Task(name, 10, uses={"hands": 2}, due_s=10) for name in "ab")
    assert bounds_of(jobs, free=(0, 0)) == (10, 20)


def test_a_short_job_that_comes_later_interrupts_the_bound() -> None:
    # at 10 the short one is first: it ends at 15 and the long one at 45, each on time or 5 late
    assert bounds_of((hands("a", 40, due=40), hands("b", 5, due=15, earliest=10))) == (5, 45)
    # and hands that have nothing to do until a job comes do nothing: 5, 40 and 70
    waiting = (hands("a", 5, due=5), hands("b", 30, due=35, earliest=10), hands("c", 30, due=65, earliest=10))
    assert bounds_of(waiting)[0] == 10


def test_waits_after_the_last_handwork_count() -> None:
    # 20 s of hands each and 100 s in the cabinet: the second scope is done at 140 at best
    tasks = (hands("a", 20), Task("a dry", 100, due_s=120), hands("b", 20), Task("b dry", 100, due_s=120))
    lags = (Lag("a", "a dry", 20), Lag("b", "b dry", 20))
    assert bounds_of(tasks, lags) == (20, 140)
    # in whatever order the tasks are given
    row = (hands("a", 20), Task("a soak", 30), Task("a dry", 100), hands("b", 20))
    lags = (Lag("a", "a soak", 20), Lag("a soak", "a dry", 30))
    assert bounds_of(row, lags)[1] == bounds_of(row[::-1], lags)[1] == 150


def test_hands_that_are_free_late_take_nothing_before() -> None:
    # one of two pairs is free at 100: until then the other does all the work, and has done it long before
    tasks = (hands("a", 10, due=12), hands("b", 10, due=12), Task("b dry", 600), hands("c", 1))
    assert bounds_of(tasks, (Lag("b", "b dry", 10),), free=(0, 100)) == (8, 610)


def test_lateness_that_needs_no_hands_is_added() -> None:
    # the third is in the cabinet from 30 on and 25 late, whatever the hands do
    idle = (Task("c", 5, earliest_s=30, due_s=10), Task("d", 5, due_s=500))
    assert bounds_of((*idle, hands("a", 50, due=60), hands("b", 30, due=30))) == (45, 80)


def test_tasks_that_must_start_together_have_no_first() -> None:
    pairs = [(hands(f"{name}1", 30, due=30), hands(f"{name}2", 10)) for name in "ab"]
    lags = [Lag(x.id, y.id, 0) for one, two in pairs for x, y in ((one, two), (two, one))]
    # 80 s of work for two pairs of hands: done at 20 and 40 at best
    assert bounds_of((*pairs[0], *pairs[1]), tuple(lags), free=(0, 0)) == (10, 40)
