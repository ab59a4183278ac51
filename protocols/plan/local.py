"""Good plans quickly: orders of all tasks, by rules or by ranking scopes."""

from bisect import insort
from random import Random

from .meter import Meter
from .moves import components
from .network import Network
from .timetable import Timetable

Pair = tuple[int, int]
NOT_NOW = -(10**15)


def first_orders(net: Network, timetable: Timetable, meter: Meter) -> list[tuple[Pair, list[int]]]:
    """Orders by several plain rules and by ranking whole groups of tied tasks, rated, the best first."""
    latest = _latest_starts(net)
    group = components(net)
    work: dict[int, int] = {}
    urgent: dict[int, int] = {}
    begin: dict[int, int] = {}
    for k in range(net.n):
        g = group[k]
        work[g] = work.get(g, 0) + net.duration[k] * len(net.uses[k])
        urgent[g] = min(urgent.get(g, latest[k]), latest[k])
        begin[g] = min(begin.get(g, net.release[k]), net.release[k])
    rules = [
        latest,
        net.release,
        [urgent[g] for g in group],
        [begin[g] + work[g] for g in group],
    ]
    found = []
    for rule in rules:
        order = ranked(net, rule)
        meter.spend(net.n // 3 + 1)
        found.append((timetable.schedule(order).worth, order))
    for first in (work, urgent):
        # ranking takes about half the tasks at each of so many places; it may take a third of what is left
        if 3 * len(work) * (len(work) + 1) * net.n // 4 <= meter.budget - meter.spent:
            found.append(_inserted(net, timetable, meter, group, sorted(work, key=lambda g: (first[g], g))))
    found.sort(key=lambda entry: entry[0])
    return found


def ranked_at_random(
    net: Network, timetable: Timetable, meter: Meter, count: int, rng: Random
) -> list[tuple[Pair, list[int]]]:
    """Orders by `count` random rankings of the groups of tied tasks, rated, each plan once."""
    group = components(net)
    rank = sorted(set(group))
    found: dict[tuple[int, ...], tuple[Pair, list[int]]] = {}
    for _ in range(count):
        rng.shuffle(rank)
        place = {g: at for at, g in enumerate(rank)}
        order = ranked(net, [place[g] for g in group])
        rated = timetable.schedule(order)
        meter.spend(net.n + 1)
        found.setdefault(tuple(rated.start), (rated.worth, order))
    return list(found.values())


def _inserted(
    net: Network, timetable: Timetable, meter: Meter, group: list[int], queue: list[int]
) -> tuple[Pair, list[int]]:
    """Ranks groups one after the other, each at the rank where the plan of those ranked so far is best."""
    ranks: list[int] = []
    result: tuple[Pair, list[int]] = ((0, 0), [])
    for g in queue:
        tried = []
        for place in range(len(ranks) + 1):
            new = [*ranks[:place], g, *ranks[place:]]
            rank = {h: place for place, h in enumerate(new)}
            order = ranked(net, [rank.get(h, NOT_NOW) for h in group])
            meter.spend(len(order) // 2 + 1)
            tried.append((timetable.schedule(order).worth, new, order))
        pair, ranks, order = min(tried, key=lambda entry: entry[0])
        result = (pair, order)
    return result


def _latest_starts(net: Network) -> list[int]:
    """The latest start of each task that leaves every due time after it reachable; far off without one."""
    far = max(net.release, default=0) + sum(net.duration)
    latest = [(due if due is not None else far) - net.duration[k] for k, due in enumerate(net.due)]
    stack = list(range(net.n))
    while stack:
        b = stack.pop()
        for a, w in net.before[b]:
            if latest[b] - w < latest[a]:
                latest[a] = latest[b] - w
                stack.append(a)
    return latest


def ranked(net: Network, rule: list[int]) -> list[int]:
    """In order of start: among the tasks that could start before another ends, the lowest by `rule` goes next.

    The lowest of all goes at once where it leaves nothing idle. Tasks with the rule NOT_NOW are left out.
    """
    release = list(net.release)
    duration, uses, wait, after = net.duration, net.uses, net.wait, net.after
    free = [[-(10**15)] * units for units in net.capacity]
    by_rank = sorted((k for k in range(net.n) if rule[k] > NOT_NOW), key=lambda k: (rule[k], k))
    rank = {k: at for at, k in enumerate(by_rank)}
    # ranks, so that they stay sorted by rule
    opened = [at for at, k in enumerate(by_rank) if not wait[k]]
    order: list[int] = []
    mask = 0
    while opened:
        k = by_rank[opened[0]]
        begin = release[k]
        if uses[k]:
            tight = True
            for r, units in uses[k]:
                ready = free[r][units - 1]
                if ready < begin:
                    tight = False
                elif ready > begin:
                    tight = begin <= release[k] and len(uses[k]) == 1
                    begin = ready
            if not tight and len(opened) > 1:
                k, begin = _next(net, opened, by_rank, release, free)
        order.append(k)
        mask |= 1 << k
        opened.remove(rank[k])
        end = begin + duration[k]
        for r, units in uses[k]:
            times = free[r]
            if len(times) == 1:
                times[0] = end
            else:
                del times[:units]
                for _ in range(units):
                    insort(times, end)
        for b, w in after[k]:
            if begin + w > release[b]:
                release[b] = begin + w
            if not wait[b] & ~mask and not mask >> b & 1 and b in rank and rank[b] not in opened:
                insort(opened, rank[b])
    return order


def _next(
    net: Network, opened: list[int], by_rank: list[int], release: list[int], free: list[list[int]]
) -> tuple[int, int]:
    """The first by rank of the tasks that could start before another ends, and its start."""
    duration, uses = net.duration, net.uses
    over = 10**15
    begins = []
    for at in opened:
        k = by_rank[at]
        begin = release[k]
        for r, units in uses[k]:
            ready = free[r][units - 1]
            if ready > begin:
                begin = ready
        begins.append((k, begin))
        if begin + duration[k] < over:
            over = begin + duration[k]
    return next((k, begin) for k, begin in begins if begin < over or begin + duration[k] == over)
