"""Plans at once: orders of all tasks by plain rules."""

from bisect import insort

from .network import Network

Pair = tuple[int, int]


def first_orders(net: Network, group: list[int]) -> list[list[int]]:
    """Orders by several plain rules; `group` gives the group of tied tasks each task is of."""
    latest = _latest_starts(net)
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
    return [dispatched(net, rule) for rule in rules]


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


def dispatched(net: Network, rule: list[int]) -> list[int]:
    """In order of start: among the tasks that could start before another ends, the lowest by `rule` goes next.

    The lowest of all goes at once where it leaves nothing idle.
    """
    release = list(net.release)
    duration, uses, wait, after = net.duration, net.uses, net.wait, net.after
    free = [[-(10**15)] * units for units in net.capacity]
    by_rank = sorted(range(net.n), key=lambda k: (rule[k], k))
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
            if not wait[b] & ~mask and not mask >> b & 1 and rank[b] not in opened:
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
