"""The problem as numbered tasks, arcs and resources, with every release time pushed through the lags."""

from dataclasses import dataclass

from .model import Problem, Task

# a limit: from task, to task, longest seconds from start to start, and whether it may never be broken
Limit = tuple[int, int, int, bool]


class Unmeetable(Exception):
    """The lags alone contradict each other; `tasks` are the numbers of tasks whose lags already do."""

    def __init__(self, tasks: list[int]) -> None:
        super().__init__("the lags contradict each other")
        self.tasks = tasks


@dataclass(slots=True)
class Network:
    """Tasks 0 to n - 1. `arcs` are (a, b, w): b starts at least w after a starts, w of any sign.

    `after` holds the arcs with w >= 0 by their first task, `before` by their second; `wait` is the bit mask of
    tasks that must be placed first, `ancestors` everything upstream. `soft` are (a, b, m): what b starts later
    than m after a is lateness; `limits` adds the hard ones. Resources that never bind are left out; `uses` is
    (resource, units) pairs.
    """

    n: int
    duration: list[int]
    due: list[int | None]
    release: list[int]
    arcs: list[tuple[int, int, int]]
    after: list[list[tuple[int, int]]]
    before: list[list[tuple[int, int]]]
    wait: list[int]
    ancestors: list[int]
    soft: list[tuple[int, int, int]]
    limits: list[Limit]
    capacity: list[int]
    uses: list[tuple[tuple[int, int], ...]]
    users: list[list[int]]

    def ways_to(self, target: int) -> dict[int, int]:
        """At least so long from the start of each task upstream, and of `target` itself, to the start of `target`."""
        far = {target: 0}
        stack = [target]
        while stack:
            b = stack.pop()
            for a, w in self.before[b]:
                if far[b] + w > far.get(a, -1):
                    far[a] = far[b] + w
                    stack.append(a)
        return far


def build(problem: Problem, only: list[int] | None = None) -> Network:
    """The network of all tasks, or of those whose positions are in `only`. Raises Unmeetable."""
    tasks = [problem.tasks[k] for k in only] if only is not None else list(problem.tasks)
    number = {task.id: k for k, task in enumerate(tasks)}
    n = len(tasks)
    arcs, soft = [], []
    for lag in problem.lags:
        if lag.from_id not in number or lag.to_id not in number:
            continue
        a, b = number[lag.from_id], number[lag.to_id]
        arcs.append((a, b, lag.min_s))
        if lag.max_s is not None and lag.hard:
            arcs.append((b, a, -lag.max_s))
        elif lag.max_s is not None:
            soft.append((a, b, lag.max_s))
    for a, b, w in arcs:
        if a == b and w > 0:
            raise Unmeetable([a])
    # in whatever order they were given, the same lags make the same network
    arcs, soft = sorted({arc for arc in arcs if arc[0] != arc[1]}), sorted(soft)
    release = longest_paths(n, [task.earliest_s for task in tasks], arcs)
    after: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    before: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    for a, b, w in arcs:
        if w >= 0:
            after[a].append((b, w))
            before[b].append((a, w))
    wait, ancestors = _order(n, before)
    capacity, uses, users = _resources(problem, [task.duration_s for task in tasks], tasks)
    limits: list[Limit] = [(a, b, m, False) for a, b, m in soft if m >= 0]
    limits += [(b, a, -w, True) for a, b, w in arcs if w < 0]
    return Network(
        n,
        [task.duration_s for task in tasks],
        [task.due_s for task in tasks],
        release,
        arcs,
        after,
        before,
        wait,
        ancestors,
        soft,
        limits,
        capacity,
        uses,
        users,
    )


def longest_paths(n: int, earliest: list[int], arcs: list[tuple[int, int, int]]) -> list[int]:
    """The earliest start of each task under the arcs. Raises Unmeetable with tasks some of which form a circle."""
    start = list(earliest)
    out: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    for a, b, w in arcs:
        out[a].append((b, w))
    cause = [-1] * n
    depth = [0] * n
    queue = list(range(n))
    waiting = [True] * n
    for a in queue:
        waiting[a] = False
        at = start[a]
        for b, w in out[a]:
            if at + w > start[b]:
                start[b] = at + w
                cause[b] = a
                depth[b] = depth[a] + 1
                if depth[b] >= n:
                    raise Unmeetable(_circle(cause, b))
                if not waiting[b]:
                    waiting[b] = True
                    queue.append(b)
    return start


def _circle(cause: list[int], at: int) -> list[int]:
    """The tasks met by following causes back until one repeats; all tasks where that ends before."""
    seen: list[int] = []
    while at >= 0 and at not in seen:
        seen.append(at)
        at = cause[at]
    return sorted(seen) if at >= 0 else list(range(len(cause)))


def _order(n: int, before: list[list[tuple[int, int]]]) -> tuple[list[int], list[int]]:
    """Bit masks of direct and of all predecessors; tasks that must start together wait for neither."""
    reach = [0] * n
    changed = True
    while changed:
        changed = False
        for b in range(n):
            mask = reach[b]
            for a, _ in before[b]:
                mask |= reach[a] | 1 << a
            if mask != reach[b]:
                reach[b] = mask
                changed = True
    wait = [0] * n
    for b in range(n):
        for a, _ in before[b]:
            if not reach[a] >> b & 1:
                wait[b] |= 1 << a
    return wait, reach


def _resources(
    problem: Problem, duration: list[int], tasks: list[Task]
) -> tuple[list[int], list[tuple[tuple[int, int], ...]], list[list[int]]]:
    """Capacities and uses of the resources that can bind, the most loaded first."""
    rows = []
    for name, units in problem.capacity.items():
        used = [task.uses.get(name, 0) if task.duration_s else 0 for task in tasks]
        if sum(used) > units:
            load = sum(u * d for u, d in zip(used, duration, strict=True)) / units
            rows.append((-load, name, units, used))
    rows = _binding(sorted(rows))
    uses = [tuple((r, row[3][k]) for r, row in enumerate(rows) if row[3][k]) for k in range(len(tasks))]
    users = [[k for k in range(len(tasks)) if row[3][k]] for row in rows]
    return [row[2] for row in rows], uses, users


def _binding(rows: list[tuple[float, str, int, list[int]]]) -> list[tuple[float, str, int, list[int]]]:
    """Leaves out resources that another one keeps: all who use them hold at least as great a share of that other."""
    kept = list(rows)
    for row in reversed(rows):
        for other in kept:
            if other is not row and all(u * other[2] <= v * row[2] for u, v in zip(row[3], other[3], strict=True)):
                kept.remove(row)
                break
    return kept
