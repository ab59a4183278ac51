"""Orders of all tasks rated quickly: each task as early as the tasks before it allow, then delayed to keep limits.

An order lists all tasks so that no task comes before one it must wait for. A walk rates thousands of orders, hence the
least bookkeeping, and an end as soon as an order is known to be too late.
"""

from bisect import bisect_right, insort
from typing import NamedTuple

from ..errors import Defect
from .network import Network

# While walking, a second past a hard limit weighs like so many seconds of lateness: dear, yet a walk may cross it.
BROKEN = 10
FAR = 10**15
# kinds of holding: one unit of several, nothing, the only unit, anything else
_ONE_OF, _NOTHING, _ONLY, _ANY = 0, 1, 2, 3
# kind, resource, length, what a late start makes late, arcs to what comes after
_Row = tuple[int, int, int, list[tuple[int, int]], list[tuple[int, int]]]


class Rated(NamedTuple):
    """One order's lateness, finish and starts; `held` is the task whose end each start waited for, or -1.

    `broken` says that a hard limit is broken: then this is no plan.
    """

    late: int
    finish: int
    start: list[int]
    held: list[int]
    broken: bool

    @property
    def worth(self) -> tuple[int, int]:
        """(lateness, finish); without a plan behind every plan, the least broken first."""
        return (self.late + FAR, self.finish) if self.broken else (self.late, self.finish)


class Timetable:
    """Rates orders of one network."""

    def __init__(self, net: Network) -> None:
        self.net = net
        dues = [(k, due - net.duration[k]) for k, due in enumerate(net.due) if due is not None]
        # (task, latest start) of what is due, how late each starts at least, and the least sum of that
        self.dues = dues
        self._starts = [max(net.release[k], latest) for k, latest in dues]
        self._late = net.constant + sum(max(0, net.release[k] - latest) for k, latest in dues)
        ways: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        for place, (k, _) in enumerate(dues):
            for a, way in net.ways_to(k).items():
                ways[a].append((place, way))
        self.rows: list[_Row] = []
        # resources whose users hold nothing else, so that no other kind of holding looks at when they are free
        apart = [all(len(net.uses[k]) == 1 for k in users) for users in net.users]
        for k in range(net.n):
            uses = net.uses[k]
            r, kind = (uses[0][0], _ANY) if uses else (-1, _NOTHING)
            if len(uses) == 1 and uses[0][1] == 1:
                kind = _ONLY if net.capacity[r] == 1 and apart[r] else _ONE_OF
            self.rows.append((kind, r, net.duration[k], ways[k], net.after[k]))
        self._stocks: list[list[tuple[int, int]]] = [[(-FAR, -1)] * units for units in net.capacity]
        self.leads: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        for a, b, m, _ in net.limits:
            self.leads[a].append((b, m))
        self._latest = [due - net.duration[k] if due is not None else FAR for k, due in enumerate(net.due)]

    def schedule(self, order: list[int]) -> Rated:
        """The order's schedule, however late; tasks left out of the order start at their release."""
        rated = self.rate(order, FAR)
        if rated is None:
            raise Defect("an order without a schedule")
        return rated

    def rate(self, order: list[int], most: float) -> Rated | None:
        """The order's schedule; None as soon as tasks past their due time alone are later than `most`."""
        net, rows = self.net, self.rows
        release = net.release[:]
        free = [-FAR] * len(net.capacity)
        last = [-1] * len(net.capacity)
        stocks = [stock[:] for stock in self._stocks]
        # (holder, task that took over a unit of it), in order of the tasks
        handed: list[tuple[int, int]] = []
        held = [-1] * net.n
        starts, late, finish = self._starts[:], self._late, 0
        for k in order:
            kind, r, length, ways, after = rows[k]
            at = release[k]
            if kind == _ONLY:
                begin = free[r]
                if begin > at:
                    held[k] = last[r]
                    free[r] = end = begin + length
                else:
                    begin = at
                    free[r] = end = at + length
                last[r] = k
            elif kind == _NOTHING:
                begin = at
                end = at + length
            elif kind == _ONE_OF:
                stock = stocks[r]
                begin, holder = stock[0]
                if begin > at:
                    held[k] = holder
                    del stock[0]
                else:
                    begin = at
                    holder = stock.pop(bisect_right(stock, (at, FAR)) - 1)[1]
                end = begin + length
                insort(stock, (end, k))
                if holder >= 0:
                    handed.append((holder, k))
            else:
                begin = self._take(k, at, stocks, handed, held)
                end = begin + length
            if begin > at:
                # what is due downstream starts later too, so that an order too late is seen early
                release[k] = at = begin
                for place, way in ways:
                    way += at
                    if way > starts[place]:
                        late += way - starts[place]
                        starts[place] = way
                if late > most:
                    return None
            if end > finish:
                finish = end
            for b, w in after:
                w += at
                if w > release[b]:
                    release[b] = w
        more, broken = self._limits(order, release, handed)
        return Rated(late + more, finish, release, held, broken)

    def _take(
        self,
        k: int,
        at: int,
        stocks: list[list[tuple[int, int]]],
        handed: list[tuple[int, int]],
        held: list[int],
    ) -> int:
        """Takes the units of a task that holds several, from those free last before it starts; returns its start."""
        for r, units in self.net.uses[k]:
            ready, holder = stocks[r][units - 1]
            if ready > at:
                at, held[k] = ready, holder
        end = at + self.net.duration[k]
        for r, units in self.net.uses[k]:
            stock = stocks[r]
            top = bisect_right(stock, (at, FAR))
            handed += [(holder, k) for _, holder in stock[top - units : top] if holder >= 0]
            del stock[top - units : top]
            for _ in range(units):
                insort(stock, (end, k))
        return at

    def _limits(self, order: list[int], start: list[int], handed: list[tuple[int, int]]) -> tuple[int, bool]:
        """Delays starts into their slack to keep limits; what remains past limits, and whether a hard one is broken."""
        net = self.net
        for a, b, m, _ in net.limits:
            if start[b] - start[a] > m:
                break
        else:
            return 0, False
        self._delay(order, start, handed)
        late, broken = 0, False
        for a, b, m, hard in net.limits:
            over = start[b] - start[a] - m
            if over > 0:
                late += over * BROKEN if hard else over
                broken = broken or hard
        return late, broken

    def _delay(self, order: list[int], start: list[int], handed: list[tuple[int, int]]) -> None:
        """Last task first: who starts a limit that is broken goes as much later as nobody else minds."""
        rows, leads, latest = self.rows, self.leads, self._latest
        # when the next task takes over the only unit of a resource, or a unit of a task
        ahead = [FAR] * len(self.net.capacity)
        taken = [FAR] * self.net.n
        for k in reversed(order):
            kind, r, length, _, after = rows[k]
            at = start[k]
            if leads[k]:
                wish = 0
                for b, m in leads[k]:
                    m = start[b] - at - m
                    if m > wish:
                        wish = m
                if wish:
                    room = (ahead[r] if kind == _ONLY else taken[k]) - length
                    if latest[k] < room:
                        room = latest[k]
                    for b, w in after:
                        w = start[b] - w
                        if w < room:
                            room = w
                    if room > at:
                        start[k] = at = room if room - at < wish else at + wish
            if kind == _ONLY:
                ahead[r] = at
            elif handed and handed[-1][1] == k:
                while handed and handed[-1][1] == k:
                    holder = handed.pop()[0]
                    if at < taken[holder]:
                        taken[holder] = at
