"""Changes of an order of all tasks: small ones that keep it an order, and new priorities for a whole group of tasks."""

from random import Random

from .network import Network


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


def unblocked(
    net: Network, order: list[int], late: list[int], held_by: list[int], led_by: list[int], rng: Random
) -> list[int] | None:
    """A neighbour in which something late waits less: a task goes before the one whose end it waited for."""
    k = late[int(rng.random() * len(late))]
    pairs: list[tuple[int, int]] = []
    # tasks that start together may have waited for each other, so the walk back is cut
    for _ in range(net.n):
        if k < 0:
            break
        if held_by[k] >= 0:
            if not net.ancestors[k] >> held_by[k] & 1:
                pairs.append((held_by[k], k))
            k = held_by[k]
        else:
            k = led_by[k]
    if not pairs:
        return None
    holder, k = pairs[int(rng.random() * len(pairs))]
    low, high = order.index(holder), order.index(k)
    if low > high:
        return None
    need = net.ancestors[k]
    part = order[low:high]
    ahead = [j for j in part if need >> j & 1]
    if holder in ahead:
        return None
    return order[:low] + ahead + [k] + [j for j in part if not need >> j & 1] + order[high + 1 :]


def shifted(
    order: list[int], group: list[int], late: list[int], held_by: list[int], led_by: list[int], rng: Random
) -> list[int] | None:
    """New priorities, lowest first, by which one group of tied tasks comes earlier or later than in `order`.

    Mostly it is what is late that comes earlier, or what that waited for that comes later; sometimes any group. Tasks
    already placed in between keep their turns among themselves, so that the group is woven in anew.
    """
    n = len(order)
    if rng.random() < 0.9:
        turns = _turns(group, late[int(rng.random() * len(late))], held_by, led_by, n)
        if not turns:
            return None
        k, sign = turns[int(rng.random() * len(turns))]
    else:
        k, sign = int(rng.random() * n), 1 if rng.random() < 0.5 else -1
    place = [0] * n
    for at, j in enumerate(order):
        place[j] = at
    chosen = group[k]
    first = place[k] if rng.random() < 0.6 else -1
    last = n
    if rng.random() < 0.4:
        ours = [at for at, j in enumerate(order) if first <= at <= last and group[j] == chosen]
        last = ours[int(rng.random() * len(ours))]
    span = n if rng.random() < 0.5 else 0.4 * n
    by = 2 * sign * int(rng.random() * span + 1) - 1
    return [2 * at + by if first <= at <= last and group[j] == chosen else 2 * at for j, at in enumerate(place)]


def _turns(group: list[int], k: int, held_by: list[int], led_by: list[int], n: int) -> list[tuple[int, int]]:
    """What `k` waited for, step by step back: who might come earlier (-1) and the one of another group later (1)."""
    turns: list[tuple[int, int]] = []
    # tasks that start together may have waited for each other, so the walk back is cut
    for _ in range(n):
        if k < 0:
            break
        before = held_by[k]
        if before >= 0 and group[before] != group[k]:
            turns += ((k, -1), (before, 1))
        k = before if before >= 0 else led_by[k]
    return turns


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
