"""Later starts that keep limits: who starts a limit goes later where that makes nothing else late.

A soak is kept short by beginning it late. First each such task goes into its own slack, which nobody notices; what is
still past a limit then pushes what comes after it into theirs. With the orders of the resources as given, what remains
late after that is seldom more than the least.
"""

from .network import Network

FAR = 10**15
# kinds of holding: one unit of several, nothing, the only unit, anything else
ONE_OF, NOTHING, ONLY, ANY = 0, 1, 2, 3
# kind, resource, length, what a late start makes late, arcs to what comes after
Row = tuple[int, int, int, list[tuple[int, int]], list[tuple[int, int]]]


class Slack:
    """Delays starts of one network's orders; the orders of the resources stay."""

    def __init__(self, net: Network, rows: list[Row]) -> None:
        """`rows` are those by which the orders are rated."""
        self.net = net
        self.rows = rows
        # of each task: the limits that it starts, and those that it ends
        self._leads: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        self._ends: list[list[tuple[int, int]]] = [[] for _ in range(net.n)]
        for a, b, m, _ in net.limits:
            self._leads[a].append((b, m))
            self._ends[b].append((a, m))
        self._latest = [due - net.duration[k] if due is not None else FAR for k, due in enumerate(net.due)]

    def use(self, order: list[int], start: list[int], handed: list[tuple[int, int]]) -> None:
        """Delays `start` in place; no task is past its due time for it that was not before.

        `handed` are (holder, task that took over a unit of it), in the order of the tasks.
        """
        self._alone(order, start, handed)
        broken = {a for a, b, m, _ in self.net.limits if start[b] - start[a] > m}
        if broken:
            self._push(order, start, handed, broken)

    def _alone(self, order: list[int], start: list[int], handed: list[tuple[int, int]]) -> None:
        """Last task first: who starts a limit that is broken goes as much later as nobody else minds."""
        rows, leads, latest = self.rows, self._leads, self._latest
        # when the next task takes over the only unit of a resource, or a unit of a task
        ahead = [FAR] * len(self.net.capacity)
        taken = [FAR] * self.net.n
        at_hand = len(handed) - 1
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
                    room = (ahead[r] if kind == ONLY else taken[k]) - length
                    if latest[k] < room:
                        room = latest[k]
                    for b, w in after:
                        w = start[b] - w
                        if w < room:
                            room = w
                    if room > at:
                        start[k] = at = room if room - at < wish else at + wish
            if kind == ONLY:
                ahead[r] = at
            else:
                while at_hand >= 0 and handed[at_hand][1] == k:
                    holder = handed[at_hand][0]
                    at_hand -= 1
                    if at < taken[holder]:
                        taken[holder] = at

    def _push(self, order: list[int], start: list[int], handed: list[tuple[int, int]], broken: set[int]) -> None:
        """The tasks of `broken` go later by what all after them can be pushed without harm."""
        rows = self.rows
        # the latest start of each task from which nothing after it becomes late that is not
        last = [FAR] * self.net.n
        ahead = [FAR] * len(self.net.capacity)
        taken = [FAR] * self.net.n
        wished: dict[int, int] = {}
        at_hand, at_order = len(handed) - 1, len(order)
        while broken:
            at_order -= 1
            k = order[at_order]
            kind, r, length, _, after = rows[k]
            room = (ahead[r] if kind == ONLY else taken[k]) - length
            if self._latest[k] < room:
                room = self._latest[k]
            for b, w in after:
                w = last[b] - w
                if w < room:
                    room = w
            for a, m in self._ends[k]:
                m += start[a]
                if m < room:
                    room = m
            if room < start[k]:
                room = start[k]
            if k in broken:
                broken.discard(k)
                if room > start[k]:
                    wish = max([wished.get(b, start[b]) - m for b, m in self._leads[k]])
                    wished[k] = min(wish, room)
            last[k] = room
            if kind == ONLY:
                ahead[r] = room
            else:
                while at_hand >= 0 and handed[at_hand][1] == k:
                    holder = handed[at_hand][0]
                    at_hand -= 1
                    if room < taken[holder]:
                        taken[holder] = room
        if wished:
            for k, at in wished.items():
                start[k] = at
            self._settle(order[at_order:], start, handed[at_hand + 1 :])

    def _settle(self, order: list[int], start: list[int], handed: list[tuple[int, int]]) -> None:
        """Starts the tasks of an order no earlier than they do, and than those before them allow."""
        free = [-FAR] * len(self.net.capacity)
        at_hand, count, duration = 0, len(handed), self.net.duration
        for k in order:
            kind, r, length, _, after = self.rows[k]
            at = start[k]
            if kind == ONLY:
                if free[r] > at:
                    at = free[r]
                free[r] = at + length
            else:
                while at_hand < count and handed[at_hand][1] == k:
                    holder = handed[at_hand][0]
                    at_hand += 1
                    if start[holder] + duration[holder] > at:
                        at = start[holder] + duration[holder]
            start[k] = at
            for b, w in after:
                if at + w > start[b]:
                    start[b] = at + w
