"""Orders of all tasks rated quickly: each task as early as the tasks before it allow, then delayed to keep limits.

An order lists all tasks so that no task comes before one it must wait for. A walk rates thousands of orders, hence the
least bookkeeping, and an end as soon as an order is known to be too late.
"""

from bisect import bisect_right, insort
from typing import NamedTuple

from ..errors import Defect
from .network import Network
from .slack import ANY, FAR, NOTHING, ONE_OF, ONLY, Row, Slack

# While walking, a second past a hard limit weighs like so many seconds of lateness: dear, yet a walk may cross it.
BROKEN = 10


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
        self._late = sum(max(0, net.release[k] - latest) for k, latest in dues)
        ways: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        for place, (k, _) in enumerate(dues):
            for a, way in net.ways_to(k).items():
                ways[a].append((place, way))
        self.rows: list[Row] = []
        # resources whose users hold nothing else, so that no other kind of holding looks at when they are free
        apart = [all(len(net.uses[k]) == 1 for k in users) for users in net.users]
        for k in range(net.n):
            uses = net.uses[k]
            r, kind = (uses[0][0], ANY) if uses else (-1, NOTHING)
            if len(uses) == 1 and uses[0][1] == 1:
                kind = ONLY if net.capacity[r] == 1 and apart[r] else ONE_OF
            self.rows.append((kind, r, net.duration[k], ways[k], net.after[k]))
        self._stocks: list[list[tuple[int, int]]] = [[(-FAR, -1)] * units for units in net.capacity]
        self._slack = Slack(net, self.rows)

    def schedule(self, order: list[int]) -> Rated:
        """The schedule of an order of all tasks, however late."""
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
            if kind == ONLY:
                begin = free[r]
                if begin > at:
                    held[k] = last[r]
                    free[r] = end = begin + length
                else:
                    begin = at
                    free[r] = end = at + length
                last[r] = k
            elif kind == NOTHING:
                begin = at
                end = at + length
            elif kind == ONE_OF:
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
        for a, b, m, _ in net.limits:
            if release[b] - release[a] > m:
                self._slack.use(order, release, handed)
                finish = max([release[k] + net.duration[k] for k in order])
                more, broken = self._past_limits(release)
                return Rated(late + more, finish, release, held, broken)
        return Rated(late, finish, release, held, False)

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

    def _past_limits(self, start: list[int]) -> tuple[int, bool]:
        """What is past limits, and whether a hard one is broken."""
        late, broken = 0, False
        for a, b, m, hard in self.net.limits:
            over = start[b] - start[a] - m
            if over > 0:
                late += over * BROKEN if hard else over
                broken = broken or hard
        return late, broken
