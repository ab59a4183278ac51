"""Branching on clashes: the last resort that misses nothing, for problems the beams leave open.

Each node has some orders between tasks and the best timing that keeps them, which is a bound for everything
below. Where that timing holds more of a resource than there is, one of the clashing tasks must end before another
starts: every such pair is a child. A timing without a clash is a plan.
"""

from collections.abc import Callable
from itertools import permutations

from .meter import Meter
from .network import Network
from .timing import best_starts

Pair = tuple[int, int]
_Arc = tuple[int, int, int]


class Clashes:
    """Depth-first search over orders; `worth` rates start times, `target` gives the plan to beat."""

    def __init__(
        self,
        net: Network,
        meter: Meter,
        worth: Callable[[list[int]], Pair],
        target: Callable[[], Pair | None],
        found: Callable[[list[int], Pair], None],
    ) -> None:
        self.net = net
        self.meter = meter
        self.worth = worth
        self.target = target
        self.found = found

    def run(self, limit: int) -> bool:
        """Searches until nothing is open, `limit` nodes are spent in all or the budget is; True when nothing is."""
        stack: list[tuple[Pair, tuple[_Arc, ...], list[int]]] = []
        self._open((), stack)
        while stack:
            if self.meter.over() or self.meter.spent >= limit:
                return False
            rank, arcs, starts = stack.pop()
            if not self._beats(rank):
                continue
            clash = first_clash(self.net, starts)
            if not clash:
                self.found(starts, rank)
            children: list[tuple[Pair, tuple[_Arc, ...], list[int]]] = []
            for a, b in permutations(clash, 2):
                self._open((*arcs, (a, b, self.net.duration[a])), children)
            children.sort(key=lambda node: node[0], reverse=True)
            stack += children
        return True

    def _open(self, arcs: tuple[_Arc, ...], into: list[tuple[Pair, tuple[_Arc, ...], list[int]]]) -> None:
        """Adds the node of these orders unless they contradict the lags or cannot be better."""
        starts = best_starts(self.net, list(arcs), self.meter)
        if starts is not None:
            rank = self.worth(starts)
            if self._beats(rank):
                into.append((rank, arcs, starts))

    def _beats(self, rank: Pair) -> bool:
        best = self.target()
        return best is None or rank < best


def first_clash(net: Network, starts: list[int]) -> list[int]:
    """A smallest set of tasks that hold too much together at the earliest such time; empty when none do."""
    best: tuple[int, list[int]] | None = None
    for r, units in enumerate(net.capacity):
        users = sorted((starts[k], k) for k in net.users[r])
        running: list[tuple[int, int]] = []
        for start, k in users:
            if best is not None and start >= best[0]:
                break
            running = [(held, j) for held, j in running if starts[j] + net.duration[j] > start]
            running.append((dict(net.uses[k])[r], k))
            if sum(held for held, _ in running) > units:
                best = (start, _smallest(running, units))
    return best[1] if best is not None else []


def _smallest(running: list[tuple[int, int]], units: int) -> list[int]:
    """The fewest tasks, the greediest first, that together hold more than `units`."""
    chosen: list[int] = []
    total = 0
    for held, k in sorted(running, reverse=True):
        chosen.append(k)
        total += held
        if total > units:
            break
    return chosen
