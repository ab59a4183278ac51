"""Orders of all tasks rated quickly: each task as early as the tasks before it allow, then delayed to keep limits.

The same schedules as `local.Decoder` makes, with the least bookkeeping, because a walk rates thousands of orders.
"""

from bisect import bisect_right, insort
from typing import NamedTuple

from .network import Network

# While walking, a second past a hard limit weighs like so many seconds of lateness: dear, yet a walk may cross it.
_BROKEN = 10
FAR = 10**15
# kinds of holding: one unit of several, nothing, the only unit, anything else
_ONE_OF, _NOTHING, _ONLY, _ANY = 0, 1, 2, 3
_Row = tuple[int, int, int, int, list[tuple[int, int]]]


class Rated(NamedTuple):
    """One order's lateness, finish and starts; `held` is the task whose end each start waited for, or -1.

    `broken` says that a hard limit is broken: then this is no plan.
    """

    late: int
    finish: int
    start: list[int]
    held: list[int]
    broken: bool


class Timetable:
    """Rates orders of one network."""

    def __init__(self, net: Network) -> None:
        self.net = net
        self.rows: list[_Row] = []
        for k in range(net.n):
            due, uses = net.due[k], net.uses[k]
            r, kind = (uses[0][0], _ANY) if uses else (-1, _NOTHING)
            if len(uses) == 1 and uses[0][1] == 1:
                kind = _ONLY if net.capacity[r] == 1 else _ONE_OF
            latest = due - net.duration[k] if due is not None else FAR
            self.rows.append((kind, r, net.duration[k], latest, net.after[k]))
        self.leads: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        for a, b, m, _ in net.limits:
            self.leads[a].append((b, m))

    def rate(self, order: list[int], most: float) -> Rated | None:
        """The order's schedule; None as soon as tasks past their due time alone are later than `most`."""
        net, rows = self.net, self.rows
        release = net.release[:]
        free = [-FAR] * len(net.capacity)
        last = [-1] * len(net.capacity)
        stocks: list[list[tuple[int, int]]] = [[(-FAR, -1)] * units for units in net.capacity]
        followers: dict[int, list[int]] = {}
        held = [-1] * net.n
        late, finish = net.constant, 0
        for k in order:
            kind, r, length, latest, after = rows[k]
            at = release[k]
            if kind == _ONLY:
                if free[r] > at:
                    release[k] = at = free[r]
                    held[k] = last[r]
                free[r] = end = at + length
                last[r] = k
            elif kind == _NOTHING:
                end = at + length
            elif kind == _ONE_OF:
                stock = stocks[r]
                if stock[0][0] > at:
                    at, holder = held_until = stock.pop(0)
                    release[k], held[k] = held_until
                else:
                    holder = stock.pop(bisect_right(stock, (at, FAR)) - 1)[1]
                end = at + length
                insort(stock, (end, k))
                if holder >= 0:
                    followers.setdefault(holder, []).append(k)
            else:
                at = release[k] = self._take(k, at, stocks, followers, held)
                end = at + length
            if at > latest:
                late += at - latest
                if late > most:
                    return None
            if end > finish:
                finish = end
            for b, w in after:
                w += at
                if w > release[b]:
                    release[b] = w
        more, broken = self._limits(order, release, followers)
        return Rated(late + more, finish, release, held, broken)

    def _take(
        self,
        k: int,
        at: int,
        stocks: list[list[tuple[int, int]]],
        followers: dict[int, list[int]],
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
            for _, holder in stock[top - units : top]:
                if holder >= 0:
                    followers.setdefault(holder, []).append(k)
            del stock[top - units : top]
            for _ in range(units):
                insort(stock, (end, k))
        return at

    def _limits(self, order: list[int], start: list[int], followers: dict[int, list[int]]) -> tuple[int, bool]:
        """Delays starts into their slack to keep limits; what remains past limits, and whether a hard one is broken."""
        net = self.net
        for a, b, m, _ in net.limits:
            if start[b] - start[a] > m:
                break
        else:
            return 0, False
        self._delay(order, start, followers)
        late, broken = 0, False
        for a, b, m, hard in net.limits:
            over = start[b] - start[a] - m
            if over > 0:
                late += over * _BROKEN if hard else over
                broken = broken or hard
        return late, broken

    def _delay(self, order: list[int], start: list[int], followers: dict[int, list[int]]) -> None:
        """Last task first: who starts a limit that is broken goes as much later as nobody else minds."""
        rows, leads = self.rows, self.leads
        ahead = [FAR] * len(self.net.capacity)
        for k in reversed(order):
            kind, r, length, latest, after = rows[k]
            at = start[k]
            if leads[k]:
                wish = max([start[b] - at - m for b, m in leads[k]])
                if wish > 0:
                    if latest - at < wish:
                        wish = latest - at
                    for b, w in after:
                        if start[b] - w - at < wish:
                            wish = start[b] - w - at
                    if kind == _ONLY:
                        if ahead[r] - length - at < wish:
                            wish = ahead[r] - length - at
                    else:
                        for b in followers.get(k, ()):
                            if start[b] - length - at < wish:
                                wish = start[b] - length - at
                    if wish > 0:
                        start[k] = at = at + wish
            if kind == _ONLY:
                ahead[r] = at
