"""The best start times once every resource has its order: a linear programme solved exactly through its dual.

Minimising a sum of lateness terms under start-to-start differences is the dual of a circulation of greatest
profit. Each lateness term is an arc that may be crossed backwards at most as often as it weighs, so the optimum is
reached by pushing flow, one lateness arc after the other, along longest residual paths. Potentials are kept from one
path to the next, so that each is found by settling only the nodes nearer than the lateness it would save.
"""

from collections import deque
from heapq import heappop, heappush

from .meter import Meter
from .network import Network

# Lateness outweighs any difference in finish: above every horizon a plan can have.
WEIGHT = 10**11
_NONE = -(10**15)
_FAR = WEIGHT * WEIGHT


class Chart:
    """A residual graph: node n is the time origin, node n + 1 the finish."""

    def __init__(self, net: Network, orders: list[tuple[int, int, int]]) -> None:
        """`orders` are further arcs (a, b, w): b starts at least w after a."""
        n = net.n
        self.n = n
        self.tail: list[int] = []
        self.head: list[int] = []
        self.length: list[int] = []
        self.room: list[int] = []
        self.out: list[list[int]] = [[] for _ in range(n + 2)]
        for k in range(n):
            self.arc(n, k, net.release[k], WEIGHT * WEIGHT)
            self.arc(k, n + 1, net.duration[k], WEIGHT * WEIGHT)
        for a, b, w in net.arcs:
            self.arc(a, b, w, WEIGHT * WEIGHT)
        for a, b, w in orders:
            self.arc(a, b, w, WEIGHT * WEIGHT)
        self.terms = [(n, n + 1, 0, 1)]
        self.terms += [(n, k, due - net.duration[k], WEIGHT) for k, due in enumerate(net.due) if due is not None]
        self.terms += [(a, b, m, WEIGHT) for a, b, m in net.soft]

    def arc(self, tail: int, head: int, length: int, room: int) -> int:
        """Adds an arc and its backward twin (number + 1)."""
        number = len(self.tail)
        self.tail += (tail, head)
        self.head += (head, tail)
        self.length += (length, -length)
        self.room += (room, 0)
        self.out[tail].append(number)
        self.out[head].append(number + 1)
        return number

    def longest(self, source: int, meter: Meter) -> tuple[list[int], list[int]] | None:
        """Longest residual distances from `source` and the arc each is reached by; None on a circle of gain."""
        size = self.n + 2
        far = [_NONE] * size
        via = [-1] * size
        far[source] = 0
        queue = deque((source,))
        waiting = [False] * size
        head, length, room, out = self.head, self.length, self.room, self.out
        work = 0
        while queue:
            a = queue.popleft()
            waiting[a] = False
            at = far[a]
            work += 1
            if not work % size and (work > size * size or self._circular(via)):
                meter.spend(work // 8 + 1)
                return None
            for arc in out[a]:
                if room[arc]:
                    b = head[arc]
                    reach = at + length[arc]
                    if reach > far[b]:
                        far[b] = reach
                        via[b] = arc
                        if not waiting[b]:
                            waiting[b] = True
                            queue.append(b)
        meter.spend(work // 8 + 1)
        return far, via

    def _circular(self, via: list[int]) -> bool:
        """Whether arcs by which nodes are reached form a circle: then it gains, and distances have no end."""
        seen = [-1] * len(via)
        for first in range(len(via)):
            at = first
            while seen[at] < 0:
                seen[at] = first
                if via[at] < 0:
                    break
                at = self.tail[via[at]]
            else:
                if seen[at] == first:
                    return True
        return False

    def reach(self, source: int, target: int, limit: int, times: list[int], meter: Meter) -> list[int]:
        """Lowers `times` to the longest residual distances from `source`, up to a loss of `limit`; the arcs taken.

        `times` are potentials: no arc with room is longer than the time between its ends, and that stays so. Ends once
        `target` is settled; then its time less that of `source` is the longest distance, if the loss is below `limit`.
        """
        head, length, room, out = self.head, self.length, self.room, self.out
        loss = [limit] * (self.n + 2)
        via = [-1] * (self.n + 2)
        loss[source] = 0
        queue = [(0, source)]
        work = 0
        while queue:
            lost, a = heappop(queue)
            if lost > loss[a]:
                continue
            if a == target:
                limit = lost
                break
            work += 1
            base = lost - times[a]
            for arc in out[a]:
                if room[arc]:
                    b = head[arc]
                    more = base + times[b] - length[arc]
                    if more < loss[b]:
                        loss[b] = more
                        via[b] = arc
                        heappush(queue, (more, b))
        for a, lost in enumerate(loss):
            times[a] -= lost if lost < limit else limit
        meter.spend(work // 5 + 1)
        return via


def best_starts(net: Network, orders: list[tuple[int, int, int]], meter: Meter) -> list[int] | None:
    """Start times of least lateness, then least finish, then earliest; None when the orders contradict a lag.

    Exact for the given orders, whatever the resources say.
    """
    chart = Chart(net, orders)
    found = chart.longest(net.n, meter)
    if found is None:
        return None
    times = found[0]
    # earliest starts are best for every due time and for the finish; only broken soft lags can ask for later ones
    if all(times[b] - times[a] <= m for a, b, m in net.soft):
        return times[: net.n]
    for a, b, m, weight in chart.terms:
        crossing = chart.arc(b, a, -m, weight)
        _push(chart, crossing, (a, b, m), times, meter)
    chart.reach(net.n, -1, _FAR, times, meter)
    return [times[k] - times[net.n] for k in range(net.n)]


def _push(chart: Chart, crossing: int, term: tuple[int, int, int], times: list[int], meter: Meter) -> None:
    """Sends flow over the lateness arc of a term (a, b, m) and back while that gains and the arc has room."""
    a, b, m = term
    while chart.room[crossing] and times[b] - times[a] > m:
        room, chart.room[crossing] = chart.room[crossing], 0
        back, chart.room[crossing + 1] = chart.room[crossing + 1], 0
        via = chart.reach(a, b, times[b] - times[a] - m, times, meter)
        chart.room[crossing], chart.room[crossing + 1] = room, back
        if times[b] - times[a] <= m:
            return
        amount, at = room, b
        while at != a:
            amount = min(amount, chart.room[via[at]])
            at = chart.tail[via[at]]
        at = b
        while at != a:
            arc = via[at]
            chart.room[arc] -= amount
            chart.room[arc ^ 1] += amount
            at = chart.tail[arc]
        chart.room[crossing] -= amount
        chart.room[crossing + 1] += amount
