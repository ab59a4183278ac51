"""Layer by layer through all partial plans that may still be better, the best ones only when there are too many.

Partial plans that placed the same tasks are compared: one that is nowhere later and no more late than another
makes the other pointless. When no layer was cut, every plan has been ruled out or found; when one was, the best
bound among what was dropped is still a bound for everything.
"""

from collections.abc import Callable
from operator import le
from typing import NamedTuple

from .branch import choices
from .meter import Meter
from .states import State, States

Pair = tuple[int, int]
_Entry = tuple[State, tuple[int, ...]]
_Layer = dict[tuple[object, ...], list[_Entry]]
# how many complete orders of one pass are timed exactly
_LEAVES = 12


class Pass(NamedTuple):
    """What one pass proved: every plan better than the best one known is at least `floor` (lateness, finish).

    `finished` says that no layer was cut, so that another pass proves no more.
    """

    finished: bool
    floor: Pair


class Beam:
    """One pass over the layers, `width` partial plans each."""

    def __init__(
        self,
        states: States,
        meter: Meter,
        leaf: Callable[[State], None],
        target: Callable[[], Pair | None],
        lateness_only: bool,
    ) -> None:
        """`leaf` takes complete orders; `target` gives the best plan so far, which is to be beaten.

        With `lateness_only`, what cannot be less late is dropped, however early it would finish.
        """
        self.states = states
        self.meter = meter
        self.leaf = leaf
        self.target = target
        self.lateness_only = lateness_only
        self.cost = 2 + states.net.n // 25

    def run(self, width: int) -> Pass:
        """Runs until the layers or the budget end."""
        states = self.states
        states.bounds.forget()
        root = states.rated(states.root(), states.root(), True)
        if root is None:
            return Pass(True, _BEYOND)
        layers: list[_Layer] = [{} for _ in range(states.net.n + 1)]
        layers[root.mask.bit_count()][()] = [(root, ())]
        floor = _BEYOND
        cut = False
        cost = 2 + len(states.net.capacity) // 2
        for depth in range(states.net.n):
            entries = [entry[0] for group in layers[depth].values() for entry in group]
            layers[depth] = {}
            entries.sort(key=_rank)
            if len(entries) > width:
                cut = True
                floor = min(floor, _rank(entries[width]))
                entries = entries[:width]
            for number, state in enumerate(entries):
                if self._hopeless(state):
                    continue
                if self.meter.over():
                    left = min(_rank(s) for s in entries[number:])
                    below = [_rank(e[0]) for layer in layers for g in layer.values() for e in g]
                    return Pass(False, min([floor, left, *below]))
                self.meter.spend(cost)
                for start, k, loose in choices(states, state):
                    self._grow(state, k, start, loose, layers)
        floor = min(floor, self._finish(layers[states.net.n]))
        return Pass(not cut, floor)

    def _grow(self, state: State, k: int, start: int, loose: bool, layers: list[_Layer]) -> None:
        """Adds one child unless it is hopeless or outdone."""
        self.meter.spend(self.cost * (1 + len(state.echoes)))
        child = self.states.child(state, k, start, loose)
        if child is None:
            return
        rated = self.states.rated(child, state, not self.lateness_only or child.mask == self.states.full)
        if rated is None or self._hopeless(rated):
            return
        if rated.mask == self.states.full:
            layers[-1].setdefault((), []).append((rated, ()))
            return
        key, mark = self._mark(rated)
        group = layers[rated.mask.bit_count()].setdefault(key, [])
        for _, other in group:
            if all(map(le, other, mark)):
                return
        group[:] = [entry for entry in group if not all(map(le, mark, entry[1]))]
        group.append((rated, mark))

    def _mark(self, state: State) -> tuple[tuple[object, ...], tuple[int, ...]]:
        """What makes states comparable, and what of a state later lateness depends on."""
        states = self.states
        release, free, mask = state.release, state.free, state.mask
        now = min([states.start_in(state.now, release, free, k) for k in state.open], default=state.now)
        touched = states.touched
        if states.chained:
            ahead = [k for k in state.open if touched[k]]
        else:
            ahead = [k for k in range(states.net.n) if not mask >> k & 1 and touched[k] & mask]
        # What is placed and holds nothing shows in no release: it may still be the last to end.
        mark = [state.cost] if self.lateness_only else [state.cost, state.finish]
        for times in free:
            mark += [x if x > now else now for x in times]
        for k in ahead:
            mark.append(release[k] if release[k] > now else now)
        for echo in state.echoes:
            since = echo.now
            mark.append(since)
            for times in echo.free:
                mark += [x if x > since else since for x in times]
            mark += [echo.release[k] for k in ahead]
        return (mask, *(echo.source for echo in state.echoes)), tuple(mark)

    def _finish(self, layer: _Layer) -> Pair:
        """Times the complete orders exactly, and returns the best bound that no exact timing met."""
        leaves = sorted((entry[0] for entry in layer.get((), [])), key=_rank)
        floor = _BEYOND
        for number, state in enumerate(leaves):
            if self._hopeless(state):
                break
            if number < _LEAVES:
                self.leaf(state)
            floor = min(floor, _rank(state))
        return floor

    def _hopeless(self, state: State) -> bool:
        return not self._beats(_rank(state))

    def _beats(self, rank: Pair) -> bool:
        """Whether something of this rank would be better than the best plan so far."""
        best = self.target()
        if best is None:
            return True
        return rank[0] < best[0] if self.lateness_only else rank < best


_BEYOND: Pair = (10**18, 10**18)


def _rank(state: State) -> Pair:
    return (state.late, state.finish)
