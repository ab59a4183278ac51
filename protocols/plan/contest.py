"""A contest of orders: several are made, each is improved by ranks and by walks, and the better half goes on."""

from collections.abc import Callable

from .local import Pair, first_orders
from .meter import Meter
from .moves import components
from .network import Network
from .ranks import Ranks
from .timetable import Timetable
from .walk import QUICK, THOROUGH, Shares, Walk

Entry = tuple[Pair, list[int]]
# The loss a walk accepts at its start, in mean lengths of a task that holds something, round by round.
_FIRST_HEATS = (1.0,)
HEATS = (4.0, 4.0, 3.0)
# Of the first contest: how many ranks are climbed, and for how many nodes each order takes part, up to so many.
_FIRST_RANKS = 2
_FIRST_SHARE = 1_500
_FIRST_STARTERS = 2
# Of a thorough one: the same without a share.
_RANKS = 8
_STARTERS = 8
# shares of the nodes for climbing: of the first contest, and of a thorough one
_CLIMBS = (0.4, 0.2)


class Contest:
    """Makes and improves orders of one network."""

    def __init__(
        self,
        net: Network,
        meter: Meter,
        keep: Callable[[Pair, list[int]], None],
        over: Callable[[], bool],
        good_enough: Callable[[Pair], bool],
    ) -> None:
        """`keep` is told the best of every walk; `over` and `good_enough`, asked of a worth, end all early."""
        self.net = net
        self.meter = meter
        self.keep = keep
        self.over = over
        self.good_enough = good_enough
        self.timetable = Timetable(net)
        self.group = components(net)
        self.walk = Walk(net, self.timetable, meter, self.group, seed=1)
        self.ranks = Ranks(net, meter, self.group, self.walk.rng)

    def first(self, end: int) -> list[Entry]:
        """A short contest from plain rules and from ranks climbed. Returns all it started from, the best first."""
        found = _best_first([self._rated(order) for order in first_orders(self.net, self.group)])
        starters = min(_FIRST_STARTERS, (end - self.meter.spent) // _FIRST_SHARE)
        if starters > 0 and not self.good_enough(found[0][0]):
            found = self._climbed(found, _FIRST_RANKS, end, _CLIMBS[0])
        self._hold(_apart(found, max(1, starters)), end, _FIRST_HEATS, QUICK)
        return found

    def thorough(self, known: list[Entry], end: int) -> None:
        """A contest from the best of known orders and of ranks climbed from random ones."""
        field = self._climbed(known, _RANKS, end, _CLIMBS[1])
        self._hold(_apart(field, _STARTERS), end, HEATS, THOROUGH)

    def walked(self, order: list[int], until: int, heat: float, shares: Shares = THOROUGH) -> Entry:
        """The best order of one walk and its worth; kept in any case."""
        entry = self.walk.run(order, until, (heat, shares), self.good_enough)
        self.keep(*entry)
        return entry

    def _climbed(self, known: list[Entry], count: int, end: int, part: float) -> list[Entry]:
        """The known orders and so many more, each from ranks of groups that were then climbed; the best first."""
        meter, ranks, rng = self.meter, self.ranks, self.walk.rng
        until = meter.spent + int((end - meter.spent) * part)
        found = list(known)
        for number in range(count):
            if self.over():
                break
            queue = ranks.groups[:]
            rng.shuffle(queue)
            begun = ranks.first(queue)
            share = max(0, until - meter.spent) // (count - number)
            best = ranks.climb(begun, meter.spent + share, self.good_enough)
            found.append(self._rated(ranks.order(best.start)))
        return _best_first(found)

    def _rated(self, order: list[int]) -> Entry:
        self.meter.spend(self.net.n // 3 + 1)
        return self.timetable.schedule(order).worth, order

    def _hold(self, field: list[list[int]], end: int, heats: tuple[float, ...], shares: Shares) -> None:
        """Walks from several orders, since one walk seldom moves whole scopes; then from the better half it reached."""
        rounds = max(1, len(field).bit_length())
        for number in range(rounds):
            reached: dict[Pair, list[int]] = {}
            for place, order in enumerate(field):
                if self.over():
                    return
                # Not the same for all: each gets more than the one before, so that a round has short walks and long
                # ones. Even shares reached less on the benches.
                share = max(0, end - self.meter.spent) // (rounds - number) // (len(field) - place)
                heat = heats[min(number, len(heats) - 1)]
                pair, order = self.walked(order, self.meter.spent + share, heat, shares)
                reached.setdefault(pair, order)
            field = [order for _, order in sorted(reached.items())][: max(1, len(field) // 2)]


def _best_first(found: list[Entry]) -> list[Entry]:
    return sorted(found, key=lambda entry: entry[0])


def _apart(found: list[Entry], most: int) -> list[list[int]]:
    """The best orders, one of each worth."""
    apart = dict(reversed(found))
    return [apart[worth] for worth in sorted(apart)[:most]]
