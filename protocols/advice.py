"""Whether a scope that comes in may be started now without making others late, and from when it may be."""

from __future__ import annotations

from typing import NamedTuple

from protocols.clock import Stamp
from protocols.drawing import Room
from protocols.hands import late_of, plan_chains
from protocols.pace import Pace, freely
from protocols.pieces import Chain, Piece

# Less than this is no reason to let a scope wait: own figure.
WORTH_S = 30
# The earliest safe start is looked for in steps of a minute, so far ahead.
STEP_S, AHEAD_S = 60, 3600


class Advice(NamedTuple):
    """What starting a scope at once does: how much later others are past their limits, in seconds, most first.

    `safe_in_s` is the earliest start that makes nobody later (0: at once; None: none within an hour), `must_in_s` by
    when its own cleaning must begin (None: without limit).
    """

    scope: str
    hurts: tuple[tuple[str, int], ...]
    safe_in_s: int | None
    must_in_s: float | None = None


def starting(chains: tuple[Chain, ...], new: Chain, room: Room, now: Stamp, nodes: int, pace: Pace = freely) -> Advice:
    """Promise the advice on starting `new` beside the open cycles.

    To start a scope means its handwork up to its first wait in one go: nobody leaves a scope half brushed.
    """
    bound = _in_one_go(new)
    without = late_of(plan_chains(chains, room, now, nodes, pace))
    must = next((p.start_in_s for p in new.pieces if p.start_in_s is not None), None)
    hurts = _hurts(chains, bound, room, now, nodes, pace, without, 0)
    if not hurts:
        return Advice(new.scope, (), 0, must)
    low, high = 0, AHEAD_S // STEP_S
    if _hurts(chains, bound, room, now, nodes, pace, without, high * STEP_S):
        return Advice(new.scope, hurts, None, must)
    # Later starts leave more time to the others: the first safe one is found by halving.
    while high - low > 1:
        middle = (low + high) // 2
        if _hurts(chains, bound, room, now, nodes, pace, without, middle * STEP_S):
            low = middle
        else:
            high = middle
    return Advice(new.scope, hurts, high * STEP_S, must)


def _in_one_go(chain: Chain) -> Chain:
    """The chain with its pieces up to the first wait as one."""
    first: list[Piece] = []
    for piece in chain.pieces:
        first.append(piece)
        if piece.after is not None:
            break
    parts = tuple(part for piece in first for part in piece.parts)
    whole = first[0]._replace(parts=parts, sink=any(p.sink for p in first), after=first[-1].after, start_in_s=None)
    return chain._replace(pieces=(whole, *chain.pieces[len(first) :]))


def _hurts(
    chains: tuple[Chain, ...],
    new: Chain,
    room: Room,
    now: Stamp,
    nodes: int,
    pace: Pace,
    without: dict[str, int],
    start_s: int,
) -> tuple[tuple[str, int], ...]:
    """Who is later past a limit when the new scope's first work begins just then, and by how much."""
    plan = plan_chains((*chains, new._replace(fixed_in_s=start_s)), room, now, nodes, pace)
    late = late_of(plan)
    found = [(scope, after - without.get(scope, 0)) for scope, after in late.items() if scope != new.scope]
    return tuple(sorted(((s, more) for s, more in found if more >= WORTH_S), key=lambda row: (-row[1], row[0])))
