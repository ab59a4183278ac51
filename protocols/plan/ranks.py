"""Plans by rank: what ranks lower goes into the gaps that what ranks higher leaves, and never delays it.

A walk over orders seldom moves all that is left of a scope behind everything else, since each step on the way is worse.
Here that is one step, and so is the first task early with the rest late.
"""

from bisect import bisect_right
from collections.abc import Callable
from random import Random
from typing import NamedTuple

from .local import Pair
from .meter import Meter
from .network import Network
from .slack import FAR
from .timetable import BROKEN

# how much of a resource is held from each time on
_Level = tuple[list[int], list[int]]
# resource, units held, units that others may hold beside them
_Use = tuple[int, int, int]
# release, length, arcs from what comes before, uses, limits that end here
_Row = tuple[int, int, list[tuple[int, int]], list[_Use], list[tuple[int, int]]]
# of the cuts, so many where no limit ties what comes before to what comes after
_AT_HEADS = 0.8


class Ranked(NamedTuple):
    """Ranks, the starts they give, and what these are worth: (lateness, finish).

    `ranks` names a group once for each of its tasks; a stretch of one group is placed together.
    """

    worth: Pair
    start: list[int]
    ranks: list[int]


class Ranks:
    """Ranks of the tasks of one network, changed step by step for the better."""

    def __init__(self, net: Network, meter: Meter, group: list[int], rng: Random) -> None:
        """`group` gives for each task the number of the group of tied tasks it is of."""
        self.net = net
        self.meter = meter
        self.rng = rng
        self.group = group
        self.groups = sorted(set(group))
        # one order in which no task comes before one it must wait for
        self._sorted = sorted(range(net.n), key=lambda k: (net.ancestors[k].bit_count(), k))
        self._tasks = {g: [k for k in self._sorted if self.group[k] == g] for g in self.groups}
        self._heads = {g: self._cuts(tasks) for g, tasks in self._tasks.items()}
        self._rows: list[_Row] = []
        for k in range(net.n):
            uses = [(r, units, net.capacity[r] - units) for r, units in net.uses[k]]
            self._rows.append((net.release[k], net.duration[k], net.before[k], uses, []))
        for a, b, m, _ in net.limits:
            self._rows[b][-1].append((a, m))
        # finding gaps takes longer the more resources a task holds
        self.cost = (net.n + sum(len(uses) for uses in net.uses)) // 14 + 1

    def _cuts(self, tasks: list[int]) -> list[int]:
        """Where a group may be cut so that no limit ties what comes before to what comes after; 0 among them."""
        place = {k: at for at, k in enumerate(tasks)}
        tied = [sorted((place[a], place[b])) for a, b, _, _ in self.net.limits if a in place]
        return [at for at in range(len(tasks)) if not any(low < at <= high for low, high in tied)]

    def order(self, start: list[int]) -> list[int]:
        """All tasks in order of start."""
        return sorted(self._sorted, key=start.__getitem__)

    def first(self, queue: list[int]) -> Ranked:
        """Ranks groups one after the other, each whole where the plan of those ranked so far is best."""
        best = Ranked((0, 0), self.net.release, [])
        for g in queue:
            before = best.ranks
            best = Ranked((FAR * FAR, 0), [], [])
            for at in range(len(before) + 1):
                if 0 < at < len(before) and before[at] == before[at - 1]:
                    continue
                ranks = [*before[:at], *(g for _ in self._tasks[g]), *before[at:]]
                self.meter.spend(self.cost * len(ranks) // self.net.n + 1)
                found = self.rate(ranks, best.worth[0])
                if found is not None and found.worth < best.worth:
                    best = found
        return best

    def climb(self, best: Ranked, until: int, good_enough: Callable[[Pair], bool]) -> Ranked:
        """The best met from there, step by step and never for the worse, until about `until` nodes are spent."""
        while self.meter.spent < until and not self.meter.over() and not good_enough(best.worth):
            ranks = self._changed(best.ranks)
            if ranks == best.ranks:
                self.meter.spend(1)
                continue
            self.meter.spend(self.cost)
            found = self.rate(ranks, best.worth[0])
            if found is not None and found.worth <= best.worth:
                best = found
        return best

    def _changed(self, ranks: list[int]) -> list[int]:
        """Other ranks: the rest of a group, or a part of it, goes earlier or later, but not past its own tasks."""
        rng = self.rng
        g = self.groups[int(rng.random() * len(self.groups))]
        heads, count = self._heads[g], len(self._tasks[g])
        low, high = 0, count
        kind = rng.random()
        if kind >= 0.4:
            low = heads[int(rng.random() * len(heads))] if rng.random() < _AT_HEADS else int(rng.random() * count)
        if kind >= 0.7:
            ends = [at for at in (*heads, count) if at > low]
            if rng.random() >= _AT_HEADS:
                ends = list(range(low + 1, count + 1))
            high = ends[int(rng.random() * len(ends))]
        places = [at for at, h in enumerate(ranks) if h == g]
        new = [h for at, h in enumerate(ranks) if h != g or not places[low] <= at <= places[high - 1]]
        first = places[low - 1] + 1 if low else 0
        last = places[high] - (high - low) if high < count else len(new)
        to = first + int(rng.random() * (last - first + 1))
        while 0 < to < last and new[to] == new[to - 1]:
            to += 1
        new[to:to] = [g] * (high - low)
        return new

    def rate(self, ranks: list[int], most: int) -> Ranked | None:
        """The plan of these ranks; None as soon as tasks past their due time alone are later than `most`."""
        net = self.net
        start = net.release[:]
        levels: list[_Level] = [([-FAR], [0]) for _ in net.capacity]
        number = dict.fromkeys(self.groups, 0)
        late, finish, due, duration = 0, 0, net.due, net.duration
        at, count = 0, len(ranks)
        while at < count:
            g, begin = ranks[at], at
            while at < count and ranks[at] == g:
                at += 1
            first = number[g]
            number[g] = last = first + at - begin
            block = self._tasks[g][first:last]
            self._place(block, start, levels)
            for k in block:
                end = start[k] + duration[k]
                wanted = due[k]
                if wanted is not None and end > wanted:
                    late += end - wanted
                if end > finish:
                    finish = end
            if late > most:
                return None
        for a, b, m, hard in net.limits:
            over = start[b] - start[a] - m
            if over > 0:
                late += over * BROKEN if hard else over
        return Ranked((late, finish), start, ranks)

    def _place(self, block: list[int], start: list[int], levels: list[_Level]) -> None:
        """Starts each task of a block in its earliest gap; one goes later when else the next would break its limit."""
        rows = self._rows
        # how often a task may send one before it back for another try
        tries = 3 * len(block)
        floors: dict[int, int] = {}
        at, count = 0, len(block)
        while at < count:
            k = block[at]
            begin, length, before, uses, leads = rows[k]
            if floors and k in floors:
                begin = floors[k]
            for a, w in before:
                w += start[a]
                if w > begin:
                    begin = w
            if uses:
                begin = _gap(uses, length, begin, levels)
            for r, units, _ in uses:
                _hold(levels[r], begin, begin + length, units)
            start[k] = begin
            at += 1
            for a, m in leads:
                if begin - start[a] > m and tries and a in block[:at]:
                    tries -= 1
                    floors[a] = begin - m
                    back = block.index(a)
                    for j in block[back:at]:
                        for r, units, _ in rows[j][3]:
                            _hold(levels[r], start[j], start[j] + rows[j][1], -units)
                    at = back
                    break


def _gap(uses: list[_Use], length: int, begin: int, levels: list[_Level]) -> int:
    """The earliest start from `begin` on with room for the whole length."""
    settled = False
    while not settled:
        settled = True
        for r, _, room in uses:
            times, held = levels[r]
            at = bisect_right(times, begin) - 1
            over, count = begin + length, len(times)
            while at < count and times[at] < over:
                if held[at] > room:
                    # nothing is held after the last time, so there is a next one
                    begin = times[at + 1]
                    over = begin + length
                    settled = len(uses) == 1
                at += 1
    return begin


def _hold(level: _Level, begin: int, end: int, units: int) -> None:
    """Holds units from begin to end, or frees them where negative."""
    times, held = level
    low = bisect_right(times, begin) - 1
    if times[low] < begin:
        low += 1
        times.insert(low, begin)
        held.insert(low, held[low - 1])
    high, count = low, len(times)
    while high < count and times[high] < end:
        held[high] += units
        high += 1
    if high == count or times[high] > end:
        times.insert(high, end)
        held.insert(high, held[high - 1] - units)
