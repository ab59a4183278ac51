"""The course of one search: quick orders first, then ever wider beams and longer walks, until all is proven."""

from math import prod

from .beam import Beam, Pair
from .bounds import Bounds
from .coarse import coarsened
from .contest import HEATS, Contest, Entry
from .exact import Clashes, first_clash
from .meter import Meter
from .network import Network
from .orders import resource_orders
from .states import State, States
from .timing import best_starts

# partial plans kept a layer, pass by pass: few chains are soon seen whole, many only ever in part
_WIDTHS = (20, 200, 2_000, 20_000, 200_000, 10**9)
_WIDE = (20, 5_000, 100_000, 10**9)
_FEW_STATES = 45_000
_NEAR_HEAT = 3.0
# nodes of the first contest; the second figure with few states
_FIRST_CONTEST = (7_500, 4_000)
# nodes of a thorough contest; the second figure where wider beams may still prove the best plan
_THOROUGH = (200_000, 60_000)
# ... which is where the least lateness proven is so much of the least known
_NEAR = 0.9
_FAR = 10**18


def worth_of(net: Network, starts: list[int]) -> Pair:
    """(total lateness, finish) of start times."""
    late = 0
    for k, due in enumerate(net.due):
        if due is not None and starts[k] + net.duration[k] > due:
            late += starts[k] + net.duration[k] - due
    for a, b, m in net.soft:
        if starts[b] - starts[a] > m:
            late += starts[b] - starts[a] - m
    return late, max((s + d for s, d in zip(starts, net.duration, strict=True)), default=0)


class Run:
    """One search: the best plan so far, and what is proven about all plans."""

    def __init__(self, net: Network, meter: Meter, any_plan: bool = False) -> None:
        """With `any_plan` the search ends at the first plan, however late."""
        self.net = net
        self.meter = meter
        self.any_plan = any_plan
        self.best: Pair | None = None
        self.starts: list[int] = []
        self.late_bound = 0
        self.finish_bound = 0
        # (lateness, finish) if nothing were scarce: no plan is better
        self.free: Pair = (0, 0)
        loose = coarsened(net)
        bounds = Bounds(loose)
        self.plain = States(loose, bounds, limits=False)
        self.echoing = States(loose, bounds, limits=True)
        self.tight = coarsened(net, up=True)
        self.contest = Contest(self.tight, meter, self._met, self._over, self._reaches)
        self.empty = False

    def go(self) -> bool:
        """Searches until all is proven or the budget is spent. True when it is proven that there is no plan."""
        net, meter = self.net, self.meter
        if not net.n:
            self.best = (0, 0)
            return False
        meter.spend(15 * net.n)
        starts = best_starts(net, [], meter)
        if starts is None:
            return True
        self.free = worth_of(net, starts)
        self.late_bound = self.free[0]
        if not first_clash(net, starts):
            self._better(starts, self.free)
            return False
        root = self.plain.root()
        rated = self.plain.rated(root, root, True)
        if rated is not None:
            self.late_bound, self.finish_bound = max(self.late_bound, rated.late), rated.finish
        # the fewer states there are, the sooner a pass over all of them settles more than a contest
        most = min(self._states(), _FIRST_CONTEST[self._few_states()])
        firsts = self.contest.first(min(meter.budget, meter.spent + most))
        for _, order in firsts:
            if self.best is None:
                self.timed(order)
        return self._rounds(firsts)

    def _rounds(self, firsts: list[Entry]) -> bool:
        """Walks, beams and branching in turn, each round wider; once more from narrow when lateness is settled."""
        meter = self.meter
        few = self._few_states()
        widths = _WIDE if few else _WIDTHS
        number, settled = 0, False
        kinds = self._kinds()
        while not self._over():
            if not settled and self._settled():
                number, settled, kinds = 0, True, self._kinds()
            if not few:
                end = min(meter.budget, meter.spent + _THOROUGH[self._near_proof()])
                self.contest.thorough(firsts if not number else [], end)
            before = meter.spent
            for states in list(kinds) if few or not number or self._near_proof() else ():
                # echoes cost much more, so they are for guidance once and for proof when all else is ruled out
                if states is self.echoing and self.plain in kinds and number:
                    continue
                if self._settled() == settled and self._pass(states, widths[min(number, len(widths) - 1)]):
                    kinds.remove(states)
                if self.empty:
                    return True
            spent = meter.spent - before
            if self._clashes(meter.budget if not kinds else meter.spent + spent // 3 + (0 if number else 1000)):
                return True
            if few:
                walked = self.contest.walked
                walked(firsts[number % len(firsts)][1], meter.spent + spent, HEATS[0])
                walked(self._present(firsts[0][1]), meter.spent + spent // 2, _NEAR_HEAT)
            number += 1
        return False

    def _kinds(self) -> list[States]:
        return [self.plain, self.echoing] if self.echoing.limits else [self.plain]

    def _settled(self) -> bool:
        """Whether no plan can be less late than the best one."""
        return self.best is not None and self.late_bound >= self.best[0]

    def _near_proof(self) -> bool:
        """Whether wider beams may close the gap: the bound is near the least lateness known."""
        return self.best is None or self.late_bound >= _NEAR * self.best[0]

    def _states(self) -> int:
        """How many sets of placed tasks there are at most, one task of a group after the other."""
        sizes: dict[int, int] = {}
        for k, group in enumerate(self.contest.group):
            sizes[group] = sizes.get(group, 1) + bool(self.net.uses[k])
        return prod(sizes.values())

    def _few_states(self) -> bool:
        """Whether the chains are few and short enough for a pass over all sets of placed tasks."""
        return self._states() <= _FEW_STATES

    def _over(self) -> bool:
        return self.done() or self.meter.over() or (self.any_plan and self.best is not None)

    def _present(self, first: list[int]) -> list[int]:
        """The best plan as an order, or the given one when there is no plan yet."""
        if not self.starts:
            return first
        starts, ancestors = self.starts, self.net.ancestors
        return sorted(range(self.net.n), key=lambda k: (starts[k], ancestors[k].bit_count(), k))

    def _pass(self, states: States, width: int) -> bool:
        """One beam; True when a further one with these states could prove nothing more."""
        sure = self._settled()
        outcome = Beam(states, self.meter, self.leaf, lambda: self.best, not sure).run(width)
        if self.best is None:
            self.empty = outcome.finished and outcome.floor[0] >= _FAR
            return outcome.finished
        late, finish = outcome.floor
        self.late_bound = max(self.late_bound, min(late, self.best[0]))
        if sure:
            self.finish_bound = max(self.finish_bound, min(finish if late <= self.best[0] else _FAR, self.best[1]))
        return outcome.finished

    def _clashes(self, limit: int) -> bool:
        """Branches on clashes; True when it is proven that there is no plan."""
        if self._over():
            return False
        search = Clashes(self.net, self.meter, lambda s: worth_of(self.net, s), lambda: self.best, self._better)
        if search.run(limit):
            if self.best is None:
                return True
            self.late_bound, self.finish_bound = self.best
        return False

    def _better(self, starts: list[int], worth: Pair) -> None:
        self.best, self.starts = worth, starts

    def _met(self, pair: Pair, order: list[int]) -> None:
        """Times an order that a walk reached, unless it is far behind the best plan: there is to be one in any case."""
        if self.best is None or pair[0] < self.best[0] + self.best[0] // 10 + self.contest.walk.length:
            self.timed(order)

    def _reaches(self, pair: Pair) -> bool:
        """Whether a plan of this worth would be proven at once."""
        return pair <= max(self.free, (self.late_bound, self.finish_bound))

    def done(self) -> bool:
        """Whether the best plan is proven."""
        return self.best is not None and self._reaches(self.best)

    def timed(self, order: list[int]) -> None:
        """Times an order of all tasks exactly and keeps the plan if it is the best."""
        start = self.contest.timetable.schedule(order).start
        self._keep(sorted(((start[k], place, k) for place, k in enumerate(order))))

    def leaf(self, state: State) -> None:
        """Times a complete partial plan exactly and keeps it if it is the best."""
        trail = state.trail
        sequence: list[tuple[int, int]] = []
        while trail is not None:
            sequence.append((trail.start, trail.task))
            trail = trail.before
        sequence.reverse()
        self._keep(sorted((start, place, k) for place, (start, k) in enumerate(sequence)))

    def _keep(self, sequence: list[tuple[int, int, int]]) -> None:
        orders = resource_orders(self.net, [(start, k) for start, _, k in sequence])
        starts = best_starts(self.net, orders, self.meter)
        if starts is None:
            return
        worth = worth_of(self.net, starts)
        if self.best is None or worth < self.best:
            self.best, self.starts = worth, starts
