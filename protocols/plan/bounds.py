"""Proven lower bounds for what is left to plan: lateness by shortest remaining work, finish by remaining load."""

import heapq

from .network import Network

Releases = tuple[tuple[int, ...], ...]
# (bit of the task, task, units times seconds, least time from its end to the end that matters)
_Work = tuple[int, int, int, int]
_DueRow = tuple[int, int, int, int, list[_Work]]
# (due task, latest start) that count alone; (first users, work) with sorted due times; those without work left
_LateView = tuple[list[tuple[int, int]], list[tuple[tuple[int, ...], int]], list[int], list[tuple[int, int]]]
_LoadView = tuple[int, list[tuple[int, int, int]]]


class Bounds:
    """Bounds for a partial plan given by its mask of placed tasks, release times and resource releases."""

    def __init__(self, net: Network) -> None:
        self.net = net
        dues = [k for k in range(net.n) if net.due[k] is not None]
        last = [k for k in dues if not any(net.ancestors[m] >> k & 1 for m in dues)]
        first = [k for k in dues if k not in last]
        # within a group no due task lies upstream of another, so that their remaining works are apart in chains
        self.groups = [[self._due_row(k) for k in group] for group in (last, first) if group]
        self.apart = [_disjoint(net, group) for group in (last, first) if group]
        tails = self.tails = _tails_to_finish(net)
        self.loads: list[tuple[int, list[_Work]]] = []
        for r in range(min(3, len(net.capacity))):
            rows = [(1 << k, k, _work(net, k, r), tails[k]) for k in net.users[r]]
            rows.sort(key=lambda row: (-row[3], row[1]))
            self.loads.append((r, rows))
        self._late_views: dict[int, list[_LateView]] = {}
        self._load_views: dict[int, list[_LoadView]] = {}

    def _due_row(self, k: int) -> _DueRow:
        """Bit, task, due time, length, and the work on the most loaded resource that must come first."""
        net = self.net
        due = net.due[k]
        works: list[_Work] = []
        if net.capacity:
            far = net.ways_to(k)
            for a in net.users[0]:
                if a in far:
                    works.append((1 << a, a, _work(net, a, 0), far[a] + net.duration[k] - net.duration[a]))
        return 1 << k, k, due if due is not None else 0, net.duration[k], works

    def late(self, mask: int, release: tuple[int, ...], free: Releases, now: int) -> int:
        """Seconds of due lateness that the tasks not in `mask` cannot avoid; no unplaced user starts before now."""
        views = self._late_views.get(mask)
        if views is None:
            views = self._late_views[mask] = [
                self._late_view(mask, rows, apart) for rows, apart in zip(self.groups, self.apart, strict=True)
            ]
        total = 0
        for ends, shares, dues, idle in views:
            alone = 0
            for k, latest in ends:
                if release[k] > latest:
                    alone += release[k] - latest
            if shares:
                jobs = [(min([release[k] for k in heads]), work) for heads, work in shares]
                shared = _shared_late(jobs, dues, free[0], now)
                for k, latest in idle:
                    if release[k] > latest:
                        shared += release[k] - latest
                if shared > alone:
                    alone = shared
            total += alone
        return total

    def _late_view(self, mask: int, rows: list[_DueRow], apart: bool) -> _LateView:
        """What of a group of due tasks is left once the tasks of `mask` are placed."""
        ends, shares, dues, idle = [], [], [], []
        for bit, k, due, length, works in rows:
            if mask & bit:
                continue
            ends.append((k, due - length))
            left = [(a, amount, after) for step, a, amount, after in works if not mask & step]
            if not left:
                idle.append((k, due - length))
                continue
            # releases never fall along a chain, so only users without an open user upstream can be the first
            open_users = sum(1 << a for a, _, _ in left)
            heads = tuple(a for a, _, _ in left if not self.net.ancestors[a] & open_users & ~(1 << a))
            heads = heads or tuple(a for a, _, _ in left)
            shares.append((heads, sum(amount for _, amount, _ in left)))
            dues.append(due - min(after for _, _, after in left))
        if not apart or len(shares) < 2:
            return ends, [], [], []
        return ends, shares, sorted(dues), idle

    def finish(self, mask: int, release: tuple[int, ...], free: Releases, now: int) -> int:
        """The earliest time at which everything can be done, from the load left on the busiest resources."""
        views = self._load_views.get(mask)
        if views is None:
            views = self._load_views[mask] = [
                (r, [row[1:] for row in rows if not mask & row[0]]) for r, rows in self.loads
            ]
        best = 0
        for r, left in views:
            ready = _ready(free[r], now)
            work = 0
            head = 10**15
            for k, amount, tail in left:
                work += amount
                if release[k] < head:
                    head = release[k]
                reach = _done(ready, head, work) + tail
                if reach > best:
                    best = reach
        return best

    def forget(self) -> None:
        """Drops what was kept per set of placed tasks; called between passes so that memory stays small."""
        self._late_views.clear()
        self._load_views.clear()


def _work(net: Network, k: int, r: int) -> int:
    return net.duration[k] * sum(units for resource, units in net.uses[k] if resource == r)


def _disjoint(net: Network, group: list[int]) -> bool:
    """Whether no task lies upstream of two due tasks of the group."""
    seen = 0
    for k in group:
        mask = net.ancestors[k] | 1 << k
        if mask & seen:
            return False
        seen |= mask
    return True


def _tails_to_finish(net: Network) -> list[int]:
    """From the end of each task to the finish, at least 0."""
    tails = list(net.duration)
    stack = list(range(net.n))
    while stack:
        b = stack.pop()
        for a, w in net.before[b]:
            if tails[b] + w > tails[a]:
                tails[a] = tails[b] + w
                stack.append(a)
    return [tail - length for tail, length in zip(tails, net.duration, strict=True)]


def _ready(times: tuple[int, ...], now: int) -> list[int]:
    """When each unit can be taken from now on; releases are kept with the soonest first, and so stay these."""
    return [x if x > now else now for x in times]


def _done(ready: list[int], head: int, work: int) -> int:
    """The least time by which units that are ready at these times can have done `work` from `head` on.

    A unit that is ready late must not count before: with the first i units alone no time is less than theirs.
    """
    total, least = 0, 10**18
    for count, x in enumerate(ready, 1):
        total += x if x > head else head
        time = -(-(total + work) // count)
        if time < least:
            least = time
    return least


def _shared_late(jobs: list[tuple[int, int]], dues: list[int], free: tuple[int, ...], now: int) -> int:
    """Lateness no order avoids: the shortest remaining work first gives every rank its earliest end.

    The interruptible schedule ends each k-th job as early as any schedule can, and earliest ends against sorted
    due times sum to the least lateness. `jobs` are (head in seconds, work in units times seconds); `dues` are sorted.
    The clock counts the seconds of all units that are ready, so that a job may be done by all of them at once.
    """
    ready = _ready(free, now)
    queue = sorted((sum([head - x for x in ready if x < head]), work) for head, work in jobs)
    ends: list[int] = []
    open_works: list[int] = []
    clock, at, count = 0, 0, len(queue)
    while at < count or open_works:
        if not open_works and queue[at][0] > clock:
            clock = queue[at][0]
        while at < count and queue[at][0] <= clock:
            heapq.heappush(open_works, queue[at][1])
            at += 1
        work = open_works[0]
        if at < count and clock + work > queue[at][0]:
            heapq.heapreplace(open_works, work - (queue[at][0] - clock))
            clock = queue[at][0]
        else:
            clock += work
            heapq.heappop(open_works)
            ends.append(clock)
    late = 0
    for end, due in zip(ends, dues, strict=True):
        over = _done(ready, now, end) - due
        if over > 0:
            late += over
    return late
