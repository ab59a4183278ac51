"""One run of the bench by an order of pieces: who starts what when, with given lengths of work and waits.

The order is a wish: hands that are free take the first piece in it that is ready. They take a later one instead of
waiting only when they are back for every earlier one that has a limit, with a reserve before that limit. The change of
gloves and apron is counted when it is really made: by a person who comes from the dirty side to a clean piece.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from operator import attrgetter
from typing import NamedTuple

from protocols.errors import Defect
from protocols.pieces import Chain

Key = tuple[str, int]
_FAR = float("inf")
# Kept free before a limit where that makes nobody late: work may take longer, people are called away. Own figure, the
# best of 0, 180 and 300 s over rehearsals 5000 to 5039.
RESERVE_S = 180


class Given(NamedTuple):
    """What a run is given: people, the change, resources by name, and for each piece its work and the wait after it.

    `first_s` is what is left of the waits that run now. All in seconds.
    """

    hands: int
    clean_hands: int
    change_s: float
    holds: Mapping[str, int]
    work_s: Mapping[Key, float]
    wait_s: Mapping[Key, float]
    first_s: Mapping[str, float]


class Ran(NamedTuple):
    """Start (the change included), change and lateness of each piece, and when each scope is done, in seconds."""

    start_s: dict[Key, float]
    change_s: dict[Key, float]
    latest_s: dict[Key, float]
    late_s: dict[Key, float]
    done_s: dict[str, float]

    @property
    def total_late_s(self) -> float:
        return sum(self.late_s.values())

    @property
    def reserve_used_s(self) -> float:
        """How much of the reserve before limits is used up, in seconds over all pieces."""
        used = (self.start_s[key] - latest + RESERVE_S for key, latest in self.latest_s.items())
        return sum(min(RESERVE_S, max(0.0, second)) for second in used)


class _Hand:
    """One person: free from `at`, and on which side."""

    __slots__ = ("at", "clean", "sides")

    def __init__(self, sides: tuple[bool, ...], clean: bool) -> None:
        self.at, self.sides, self.clean = 0.0, sides, clean


class _Head:
    """The next piece of one chain: ready from `ready`, to begin by `latest`, `place` in the order."""

    __slots__ = ("chain", "key", "latest", "number", "piece", "place", "ready", "work")

    def __init__(self, chain: Chain, first_s: float, rank: Mapping[Key, int], given: Given) -> None:
        self.chain, self.ready = chain, first_s
        limit = chain.first.max_s if chain.first else None
        start = chain.pieces[0].start_in_s
        self.latest = min(_FAR if limit is None else limit, _FAR if start is None else start)
        if chain.fixed_in_s is not None:
            self.ready = self.latest = float(chain.fixed_in_s)
        self.turn_to(0, rank, given)

    def turn_to(self, number: int, rank: Mapping[Key, int], given: Given) -> None:
        """Make a piece the next one."""
        self.number, self.piece = number, self.chain.pieces[number]
        self.key = (self.chain.scope, number)
        self.place, self.work = rank.get(self.key, len(rank)), given.work_s[self.key]


_PLACE = attrgetter("place")


class _Bench:
    """The state of a run."""

    def __init__(self, chains: Sequence[Chain], rank: Mapping[Key, int], given: Given) -> None:
        self.rank, self.given, self.late_s = rank, given, 0.0
        in_clean = any(chain.in_clean_hand for chain in chains)
        both = (False, True)
        if given.clean_hands:
            self.people = [_Hand((False,), False) for _ in range(given.hands)]
            self.people += [_Hand((True,), True) for _ in range(given.clean_hands)]
        else:
            self.people = [_Hand(both, in_clean and number == 0) for number in range(given.hands)]
        self.heads = [_Head(c, given.first_s.get(c.scope, 0.0), rank, given) for c in chains if c.pieces]
        self.heads.sort(key=_PLACE)
        # Until when each unit of a resource is taken.
        self.stocks = {name: [0.0] * units for name, units in given.holds.items()}
        for chain in chains:
            if chain.first is not None and chain.first.holds in self.stocks:
                self._take(chain.first.holds, 0.0, given.first_s.get(chain.scope, 0.0))
        self.ran = Ran({}, {}, {}, {}, {})

    def _take(self, name: str, start: float, end: float) -> None:
        stock = self.stocks[name]
        stock.sort()
        stock[0] = max(end, start)

    def go(self, most_late_s: float) -> Ran | None:
        people, alone = self.people, len(self.people) == 1
        while self.heads:
            if self.late_s > most_late_s:
                return None
            hand = people[0] if alone else min((h for h in people if self._wanted(h)), key=lambda h: h.at)
            chosen, start, change = self._choose(hand)
            if start > hand.at:
                # Nobody is ready: look again then, for another may be first by that time.
                hand.at = start
                chosen, start, change = self._choose(hand)
            self._begin(hand, chosen, start, change)
        return self.ran

    def _wanted(self, hand: _Hand) -> bool:
        return any(head.piece.clean in hand.sides for head in self.heads)

    def _choose(self, hand: _Hand) -> tuple[_Head, float, float]:
        """The piece to start next, when this person can start it, and how long the change before it takes."""
        given, stocks, now = self.given, self.stocks, hand.at
        change_s = 0.0 if hand.clean or given.clean_hands else given.change_s
        best: tuple[_Head, float, float] | None = None
        soonest = back = _FAR
        for head in self.heads:
            piece = head.piece
            if piece.clean not in hand.sides:
                continue
            change = change_s if piece.clean else 0.0
            start = head.ready - change
            if stocks:
                start = max(start, self._room(head, change))
            start = max(start, now)
            # One that would come in the way of an earlier one's limit is not taken before it.
            fits = start + change + head.work <= back
            if fits and start <= now:
                return head, start, change
            if best is None or (fits and start < soonest):
                best, soonest = (head, start, change), start
            back = min(back, max(start, head.latest - change - RESERVE_S))
        if best is None:
            raise Defect("there is work for nobody of this side")
        return best

    def _room(self, head: _Head, change: float) -> float:
        """From when there is room for the piece and for the wait after it."""
        piece, stocks, ready = head.piece, self.stocks, 0.0
        if piece.sink and "sink" in stocks:
            ready = min(stocks["sink"])
        after = piece.after
        if after is not None and after.holds in stocks and after.holds != "sink":
            ready = max(ready, min(stocks[after.holds]) - head.work - change)
        return ready

    def _begin(self, hand: _Hand, head: _Head, start: float, change: float) -> None:
        piece, key, ran = head.piece, head.key, self.ran
        end = start + change + head.work
        ran.start_s[key], ran.change_s[key] = start, change
        if head.latest < _FAR:
            ran.latest_s[key] = head.latest - change
            ran.late_s[key] = late_s = max(0.0, start + change - head.latest)
            self.late_s += late_s
        hand.at, hand.clean = end, piece.clean
        after, sink = piece.after, piece.sink and "sink" in self.stocks
        wait = self.given.wait_s.get(key, 0.0)
        if sink:
            self._take("sink", start, end + (wait if after is not None and after.holds == "sink" else 0.0))
        if after is not None and after.holds in self.stocks and after.holds != "sink":
            self._take(after.holds, end, end + wait)
        if head.number + 1 == len(head.chain.pieces):
            ran.done_s[head.chain.scope] = end
            self.heads.remove(head)
            return
        head.turn_to(head.number + 1, self.rank, self.given)
        self.heads.sort(key=_PLACE)
        head.ready = end + wait
        within, most = head.piece.within_s, after.max_s if after else None
        fixed = head.piece.start_in_s
        limits = [x for x in (None if within is None else end + within, None if most is None else end + most, fixed)
                  if x is not None]  # fmt: skip
        head.latest = min(limits, default=_FAR)


def run(chains: Sequence[Chain], order: Sequence[Key], given: Given) -> Ran:
    """Promise the run of these chains by that order of pieces; pieces not in it come last."""
    ran = run_within(chains, order, given, _FAR)
    if ran is None:
        raise Defect("a run without a limit was cut off")
    return ran


def run_within(chains: Sequence[Chain], order: Sequence[Key], given: Given, most_late_s: float) -> Ran | None:
    """Promise the same run, or None once it is later than that, in seconds over all pieces, with pieces left."""
    return _Bench(chains, {key: place for place, key in enumerate(order)}, given).go(most_late_s)
