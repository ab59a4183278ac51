"""Changes of an order of all tasks: small ones that keep it an order, and new times for a whole group of tasks."""

from random import Random

from .network import Network

_FAR = 10**15


def components(net: Network) -> list[int]:
    """For each task the lowest number among the tasks that lags tie to it: usually one scope each."""
    group = list(range(net.n))
    changed = True
    while changed:
        changed = False
        for a, b, _ in net.arcs:
            low = min(group[a], group[b])
            if group[a] != low or group[b] != low:
                group[a] = group[b] = low
                changed = True
    return group


def blockers(net: Network, start: list[int], held: list[int], k: int) -> list[tuple[int, int]]:
    """What `k` waited for, step by step back, as pairs (holder, waiting); not where that order is given by the lags."""
    pairs: list[tuple[int, int]] = []
    # tasks that start together may have waited for each other, so the walk back is cut
    for _ in range(net.n):
        holder = held[k]
        if holder < 0:
            holder = next((a for a, w in net.before[k] if start[a] + w == start[k]), -1)
            if holder < 0:
                break
        elif not net.ancestors[k] >> holder & 1:
            pairs.append((holder, k))
        k = holder
    return pairs


def passed(net: Network, order: list[int], pair: tuple[int, int], rng: Random) -> list[int] | None:
    """The waiting task before the one it waited for, with what it needs; or that one after it, with what needs it."""
    holder, k = pair
    low, high = order.index(holder), order.index(k)
    if low > high:
        return None
    ancestors = net.ancestors
    part = order[low : high + 1]
    if rng.random() < 0.5:
        need = ancestors[k] | 1 << k
        first = [j for j in part if need >> j & 1]
        rest = [j for j in part if not need >> j & 1]
    else:
        first = [j for j in part if j != holder and not ancestors[j] >> holder & 1]
        rest = [j for j in part if j == holder or ancestors[j] >> holder & 1]
    return order[:low] + first + rest + order[high + 1 :]


def retimed(
    net: Network,
    order: list[int],
    start: list[int],
    group: list[int],
    pair: tuple[int, int],
    length: float,
    rng: Random,
) -> list[int]:
    """The order of start when the waiting task's group comes earlier, or the other's later, from there on or whole.

    `length` in seconds sets how far: up to 20 of them, mostly less.
    """
    k, sign = (pair[1], -1) if rng.random() < 0.5 else (pair[0], 1)
    by = sign * int((rng.random() ** 2 * 20 + 0.5) * length)
    begin = start[k] if rng.random() < 0.6 else -_FAR
    chosen = group[k]
    wished = start[:]
    for j in order:
        if group[j] == chosen and start[j] >= begin:
            wished[j] += by
    if by < 0:
        # what stays where it is still comes before what waits for it
        for j in order:
            if group[j] == chosen:
                for b, w in net.after[j]:
                    if wished[b] < wished[j] + w:
                        wished[b] = wished[j] + w
    return sorted(order, key=wished.__getitem__)


def changed(net: Network, order: list[int], group: list[int], rng: Random) -> list[int] | None:
    """A neighbour of `order` that still lets every task wait for what it must; None when the draw changes nothing.

    Either one task moves, or within a stretch one group of tied tasks goes first or last, or two groups change turns.
    """
    n = net.n
    kind = rng.random()
    if kind < 0.25:
        return _regrouped(order, group, rng)
    if kind < 0.75:
        place = int(rng.random() * n)
        k = order[place]
        low = high = place
        reach = 3 + int(rng.random() * 10)
        if rng.random() < 0.5:
            while low > 0 and place - low < reach and not net.wait[k] >> order[low - 1] & 1:
                low -= 1
            if low == place:
                return None
            to = low + int(rng.random() * (place - low))
        else:
            bit = 1 << k
            while high < n - 1 and high - place < reach and not net.wait[order[high + 1]] & bit:
                high += 1
            if high == place:
                return None
            to = place + 1 + int(rng.random() * (high - place))
        new = order[:place] + order[place + 1 :]
        new.insert(to, k)
        return new
    low = int(rng.random() * n)
    high = min(n, low + 4 + int(rng.random() * 24)) if rng.random() < 0.7 else n
    part = order[low:high]
    chosen = group[part[int(rng.random() * len(part))]]
    ours = [k for k in part if group[k] == chosen]
    rest = [k for k in part if group[k] != chosen]
    moved = ours + rest if rng.random() < 0.5 else rest + ours
    return order[:low] + moved + order[high:] if moved != part else None


def _regrouped(order: list[int], group: list[int], rng: Random) -> list[int] | None:
    """From some place on, one group takes the early places of two groups and the other the late ones."""
    low = int(rng.random() * rng.random() * len(order))
    first = group[order[low + int(rng.random() * (len(order) - low))]]
    second = group[order[low + int(rng.random() * (len(order) - low))]]
    if first == second:
        return None
    places = [at for at in range(low, len(order)) if group[order[at]] in (first, second)]
    ours = [order[at] for at in places if group[order[at]] == first]
    ours += [order[at] for at in places if group[order[at]] == second]
    new = list(order)
    for at, k in zip(places, ours, strict=True):
        new[at] = k
    return new if new != order else None
