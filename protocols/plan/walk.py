"""The walk over orders: worse ones are accepted less and less, and the best one met is what counts."""

from collections.abc import Callable
from random import Random

from .local import Pair
from .meter import Meter
from .moves import blockers, changed, passed, retimed
from .network import Network
from .timetable import Rated, Timetable

# A later finish weighs little beside lateness, so that ties in lateness still tend to an early finish.
_FINISH_WEIGHT = 0.02
# Shares of steps: up to the first past a blocker, up to the second small changes and changes of turns, the rest moves
# the times of a group. Moving times gains most at first; chosen on benches by what was reached within the same nodes.
Shares = tuple[float, float]
QUICK: Shares = (0.3, 0.4)
THOROUGH: Shares = (0.5, 0.8)


class Walk:
    """Changes one order step by step; each walk ends by handing over the best order it met."""

    def __init__(self, net: Network, timetable: Timetable, meter: Meter, group: list[int], seed: int) -> None:
        self.net = net
        self.timetable = timetable
        self.meter = meter
        self.group = group
        self.rng = Random(seed)
        holding = [net.duration[k] for k in range(net.n) if net.uses[k]]
        self.length = sum(holding) / len(holding) if holding else 1.0
        # placing takes longer the more resources a task holds
        self.cost = (net.n + sum(len(uses) for uses in net.uses)) // 22 + 1

    def run(
        self, order: list[int], until: int, kind: tuple[float, Shares], good_enough: Callable[[Pair], bool]
    ) -> tuple[Pair, list[int]]:
        """The best order met from `order` and its worth, until about `until` nodes are spent in all.

        `kind` is the loss accepted at the start, in mean lengths of a task, which falls to nothing, and the shares of
        steps. `good_enough` ends the walk early.
        """
        heat, shares = kind[0] * self.length, kind[1]
        rate, meter, rng = self.timetable.rate, self.meter, self.rng
        present = self.timetable.schedule(order)
        best, top = present.worth, order
        begun = meter.spent
        until = min(until, meter.budget)
        span = max(1, until - begun)
        lates = self._lates(present)
        while meter.spent < until and not meter.over() and not good_enough(best):
            new = self._neighbour(order, present, lates, shares)
            if new is None or new == order:
                meter.spend(1)
                continue
            meter.spend(self.cost)
            loss = rng.random() * (heat * (1.0 - (meter.spent - begun) / span) + 1)
            rated = rate(new, present.late + loss + present.finish * _FINISH_WEIGHT)
            if rated is None:
                continue
            worse = rated.late - present.late + (rated.finish - present.finish) * _FINISH_WEIGHT
            if worse <= 0 or worse < loss:
                order, present = new, rated
                lates = self._lates(rated)
                if rated.worth < best:
                    best, top = rated.worth, new
        return best, top

    def _lates(self, rated: Rated) -> list[int]:
        """The tasks that end a lateness term, or the last to finish."""
        net, start = self.net, rated.start
        found = [k for k, latest in self.timetable.dues if start[k] > latest]
        found += [b for a, b, m, _ in net.limits if start[b] - start[a] > m]
        return found or [max(range(net.n), key=lambda k: start[k] + net.duration[k])]

    def _neighbour(self, order: list[int], present: Rated, lates: list[int], shares: Shares) -> list[int] | None:
        """Another order; None when the draw changes nothing."""
        net, rng = self.net, self.rng
        kind = rng.random()
        if shares[0] <= kind < shares[1]:
            return changed(net, order, self.group, rng)
        pairs = blockers(net, present.start, present.held, lates[int(rng.random() * len(lates))])
        if kind < shares[0]:
            return passed(net, order, pairs[int(rng.random() * len(pairs))], rng) if pairs else None
        group = self.group
        pairs = [(h, k) for h, k in pairs if group[h] != group[k]]
        if not pairs:
            return None
        return retimed(net, order, present.start, group, pairs[int(rng.random() * len(pairs))], self.length, rng)
