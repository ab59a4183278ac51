"""The open cycles drawn as a planning problem: pieces as tasks, waits as lags, what is scarce as resources.

Where the sides share people, every piece on the clean side is lengthened at its head by the change of gloves and apron
with hand hygiene, as if the person came from the dirty side each time; only the scope in clean hands right now needs
none. So no plan counts on a change that is left out. While a soak ends the change may be made already. A sink is
counted as taken during handwork and detergent soaks, a bath and a drying port during the shortest time of their waits,
not while a scope lies in them longer.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor
from typing import NamedTuple

from protocols.dispatch import Given
from protocols.errors import Defect
from protocols.pace import Pace, freely
from protocols.pieces import Chain, Piece
from protocols.plan import Infeasible, Lag, Plan, Problem, Task

_NOW = "now"


class Room(NamedTuple):
    """What there is to work with. `clean_hands` 0: the same people do both sides."""

    hands: int
    clean_hands: int
    change_s: float
    sinks: int
    ports: int
    baths: int


class Drawn:
    """Chains in a room drawn as a problem. With `wishes` the wanted times are due times as well."""

    def __init__(self, chains: Sequence[Chain], room: Room, wishes: bool = False, bare: bool = False) -> None:
        """`bare` leaves baths, ports and sinks out: then there is always a plan."""
        self.chains, self.room, self.wishes = tuple(chains), room, wishes
        self.tasks: list[Task] = []
        self.lags: list[Lag] = []
        self.capacity = {"dirty hands": room.hands, "clean hands": room.clean_hands} if room.clean_hands else {}
        self.capacity = self.capacity or {"hands": room.hands}
        self.scarce = set() if bare else self._scarce()
        for name in self.scarce:
            self.capacity[name] = {"bath": room.baths, "port": room.ports, "sink": room.sinks}[name]
        if self.scarce or any(chain.fixed_in_s is not None for chain in self.chains):
            self.tasks.append(Task(_NOW, 0))
        for chain in self.chains:
            self._add(chain)
        self.problem = Problem(tuple(self.tasks), tuple(self.lags), self.capacity)

    def _scarce(self) -> set[str]:
        """What more scopes will lie in than there is room for."""
        most = {"bath": self.room.baths, "port": self.room.ports, "sink": self.room.sinks}
        wanting = dict.fromkeys(most, 0)
        for chain in self.chains:
            held = {p.after.holds for p in chain.pieces if p.after} | ({chain.first.holds} if chain.first else set())
            held |= {"sink"} if any(p.sink for p in chain.pieces) else set()
            for name in held & set(most):
                wanting[name] += 1
        return {name for name, count in wanting.items() if count > most[name]}

    def change_s(self, chain: Chain, number: int) -> int:
        """Promise how long the change before a piece takes, by the rule at the head of this file."""
        piece = chain.pieces[number]
        if self.room.clean_hands or not piece.clean or (number == 0 and chain.in_clean_hand):
            return 0
        return ceil(self.room.change_s)

    def _add(self, chain: Chain) -> None:
        for number, piece in enumerate(chain.pieces):
            name, change_s = f"{chain.scope}/{number}", self.change_s(chain, number)
            length_s = max(1, round(piece.length_s)) + change_s
            earliest_s = 0
            latest = None if piece.start_in_s is None else floor(piece.start_in_s) - change_s
            if number == 0 and chain.first is not None:
                wait = chain.first
                earliest_s = max(0, ceil(wait.min_s) - change_s)
                if wait.max_s is not None:
                    limit = floor(wait.max_s) - change_s
                    latest = limit if latest is None else min(latest, limit)
                self._hold(f"{chain.scope}/wait", wait.min_s, wait.holds, _NOW, 0)
            due_s = None if latest is None else latest + length_s
            last = number == len(chain.pieces) - 1
            if self.wishes and last and chain.wanted_in_s is not None:
                wanted = floor(chain.wanted_in_s)
                due_s = wanted if due_s is None else min(due_s, wanted)
            uses = {self._hands(piece): 1, **({"sink": 1} if piece.sink and "sink" in self.scarce else {})}
            self.tasks.append(Task(name, length_s, chain.scope, uses, earliest_s, due_s))
            if not number and chain.fixed_in_s is not None:
                self.lags.append(Lag(_NOW, name, chain.fixed_in_s, chain.fixed_in_s, hard=True))
            if number:
                self._join(chain, number, change_s)

    def _hands(self, piece: Piece) -> str:
        if not self.room.clean_hands:
            return "hands"
        return "clean hands" if piece.clean else "dirty hands"

    def _join(self, chain: Chain, number: int, change_s: int) -> None:
        """The way from the piece before to this one, over the wait between them."""
        before, piece = chain.pieces[number - 1], chain.pieces[number]
        source, target = f"{chain.scope}/{number - 1}", f"{chain.scope}/{number}"
        length_s = max(1, round(before.length_s)) + self.change_s(chain, number - 1)
        if before.after is None:
            # The change lies within the time that a limit leaves.
            most = None if piece.within_s is None else length_s + max(0, floor(piece.within_s) - change_s)
            self.lags.append(Lag(source, target, length_s, most))
            return
        wait = before.after
        least = length_s + max(0, ceil(wait.min_s) - change_s)
        most = None if wait.max_s is None else max(least, length_s + floor(wait.max_s) - change_s)
        self.lags.append(Lag(source, target, least, most))
        self._hold(f"{source}+", wait.min_s, wait.holds, source, length_s)

    def _hold(self, name: str, min_s: float, holds: str, source: str, after_s: int) -> None:
        if holds not in self.scarce:
            return
        self.tasks.append(Task(name, max(1, ceil(min_s)), "", {holds: 1}))
        # Into the bath with the end of the piece, never to lie and wait for it.
        self.lags.append(Lag(source, name, after_s, after_s, hard=True))

    def solved(self, nodes: int, pace: Pace = freely) -> Plan:
        """Promise a plan; where none was found within the budget, one that leaves baths, ports and sinks out."""
        # Here, because the solver is a third of the engine's modules, and the first plan is made beside the first page.
        from protocols.plan import solve

        found = solve(self.problem, nodes, pace)
        if isinstance(found, Infeasible):
            bare = Drawn(self.chains, self.room, self.wishes, bare=True)
            found = solve(bare.problem, nodes, pace)
        if isinstance(found, Infeasible):
            raise Defect(f"a bench without hard limits has no plan: {found.why}")
        return found

    def given(self) -> Given:
        """Promise what a run of these chains in their usual lengths is given."""
        pieces = [(c, number, piece) for c in self.chains for number, piece in enumerate(c.pieces)]
        return Given(
            self.room.hands, self.room.clean_hands, self.room.change_s,
            {name: self.capacity[name] for name in sorted(self.scarce)},
            {(c.scope, n): max(1.0, piece.length_s) for c, n, piece in pieces},
            {(c.scope, n): piece.after.min_s for c, n, piece in pieces if piece.after},
            {c.scope: c.first.min_s for c in self.chains if c.first},
        )  # fmt: skip
