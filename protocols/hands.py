"""Who is to be served when: the plan for the open cycles, as slots of handwork.

Two parts: the planner (`protocols.plan`, over the problem of `protocols.drawing`) finds an order, and a run of the
bench by that order (`protocols.dispatch`) gives the times, with the changes of gloves and apron that are really made.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor
from typing import NamedTuple

from protocols.clock import Stamp
from protocols.dispatch import Key, Ran, run, run_within
from protocols.drawing import Drawn, Room
from protocols.durations import Durations
from protocols.lane import lanes
from protocols.pace import Pace, freely
from protocols.pieces import Chain, chain_of, soaking_baths
from protocols.plan import Plan
from protocols.shelf import Shelf
from protocols.unit import Unit

# With the tries below about 25 ms for half of all plans, on one core of the class that `tests/bench` was run on. The
# same everywhere, so that a plan is the same too.
NODES = 2400
# Orders tried besides the planner's.
TRIES = 30


class Slot(NamedTuple):
    """One piece of handwork in the plan, times in whole seconds from the moment it was made.

    `start_s` includes the change (`change_s`) at its head. `latest_s` is by when it must start so that nothing is
    past its limit (None: no limit), `late_s` how far it is past that, `after_s` how long the scope then waits alone.
    """

    scope: str
    step: str
    number: int
    start_s: int
    length_s: int
    change_s: int
    clean: bool
    latest_s: int | None
    late_s: int
    after_s: int


class HandsPlan(NamedTuple):
    """The plan of one moment: slots in order of their start, total lateness, when each scope is done, who is left out.

    `left_out` are scopes that wait for a lead. `proven` says that no plan is less late; `stopped` that the safety stop
    in wall time struck, so that the same bench might have got another plan. `order` is that of the pieces.
    """

    at: Stamp
    slots: tuple[Slot, ...] = ()
    late_s: int = 0
    done_s: dict[str, int] = {}  # noqa: RUF012 (never changed)
    left_out: tuple[str, ...] = ()
    proven: bool = True
    stopped: bool = False
    nodes: int = 0
    chains: tuple[Chain, ...] = ()
    room: Room = Room(1, 0, 0, 1, 1, 1)
    order: tuple[Key, ...] = ()


def room_of(unit: Unit, now: Stamp) -> Room:
    """Promise what the unit has to work with: its settings, and its open disinfectant baths (at least one)."""
    has = unit.settings
    soaking = {bath.uid for bath in unit.baths.values() if bath.kind == "disinfectant"}
    lying = sum(1 for cycle in unit.cycles.values() if cycle.soak is not None and cycle.soak.bath in soaking)
    baths = max(1, len(soaking_baths(unit, now)) * int(has.bath_holds), lying)
    return Room(int(has.hands), int(has.clean_hands), has.change_s, int(has.sinks), int(has.ports), baths)


def chains_of(unit: Unit, shelf: Shelf, now: Stamp, durations: Durations) -> tuple[tuple[Chain, ...], tuple[str, ...]]:
    """Promise what is left on every open cycle, and the scopes that wait for a lead."""
    found, left_out = [], []
    for lane in sorted(lanes(unit, shelf, now), key=lambda lane: lane.scope):
        chain = chain_of(unit, lane, now, durations)
        if chain is None:
            left_out.append(lane.scope)
        else:
            found.append(chain)
    return tuple(found), tuple(left_out)


def plan_hands(
    unit: Unit, shelf: Shelf, now: Stamp, durations: Durations, nodes: int = NODES,
    pace: Pace = freely, before: HandsPlan | None = None,
) -> HandsPlan:  # fmt: skip
    """Promise the plan for the unit as of now: least time past limits first, then wanted times, then the finish.

    What the plan made `before` said stays, unless another order is better.
    """
    chains, left_out = chains_of(unit, shelf, now, durations)
    return plan_chains(chains, room_of(unit, now), now, nodes, pace, before)._replace(left_out=left_out)


def plan_chains(
    chains: Sequence[Chain], room: Room, now: Stamp, nodes: int = NODES,
    pace: Pace = freely, before: HandsPlan | None = None,
) -> HandsPlan:  # fmt: skip
    """Promise the plan of these chains in this room; by the order of the plan `before` where none better is found.

    Wanted times are wishes: they are planned for only where that makes nothing later past its limit.
    """
    drawn = Drawn(chains, room)
    plan = drawn.solved(nodes, pace)
    order, ran = _ordered(drawn, plan, pace, before)
    if any(c.wanted_in_s is not None and ran.done_s.get(c.scope, 0.0) > c.wanted_in_s for c in chains):
        wished = Drawn(chains, room, wishes=True)
        other = _ordered(wished, wished.solved(nodes, pace), pace, before)
        if _worth(chains, other[1]) < _worth(chains, ran):
            order, ran = other
    slots = sorted(_slots(chains, ran), key=lambda slot: (slot.start_s, slot.scope))
    late_s = round(ran.total_late_s)
    proven = late_s == 0 or (plan.late_proven and late_s <= plan.late_total_s)
    done_s = {scope: round(at) for scope, at in ran.done_s.items()}
    return HandsPlan(now, tuple(slots), late_s, done_s, (), proven, plan.stopped, plan.nodes, tuple(chains), room,
                     tuple(order))  # fmt: skip


def _ordered(drawn: Drawn, plan: Plan, pace: Pace, before: HandsPlan | None) -> tuple[list[Key], Ran]:
    """The order of the plan or of the one before, then what can be ready sooner moved to the front, and its run.

    The planner leaves open who is ready first as long as all is done as soon. Here the run that keeps most of the
    reserve before limits wins, then the least sum of ready times, never at the price of more lateness. Moved are the
    first pieces of each scope.
    """
    given = drawn.given()
    keys = [(c.scope, n) for c in drawn.chains for n in range(len(c.pieces))]
    fixed = [(c.scope, 0) for c in drawn.chains if c.fixed_in_s is not None]
    order = sorted(keys, key=lambda key: (key not in fixed, plan.starts_s[f"{key[0]}/{key[1]}"], key))
    ran = run(drawn.chains, order, given)
    worth, tries = _worth(drawn.chains, ran), 0
    kept = _kept(drawn.chains, order, before) if before is not None and not fixed else order
    if kept != order:
        as_before = run(drawn.chains, kept, given)
        worth_before = _worth(drawn.chains, as_before)
        if worth_before <= worth:
            order, ran, worth = kept, as_before, worth_before
    for chain, count in _fronts(drawn.chains):
        first = [*fixed, *((chain.scope, n) for n in range(count) if (chain.scope, n) not in fixed)]
        moved = set(first)
        other = first + [key for key in order if key not in moved]
        if other == order:
            continue
        if tries >= TRIES:
            break
        tries += 1
        pace()
        # a second more than the best is worse however it is rounded
        tried = run_within(drawn.chains, other, given, round(ran.total_late_s) + 1)
        if tried is not None and _worth(drawn.chains, tried) < worth:
            order, ran, worth = other, tried, _worth(drawn.chains, tried)
    return order, ran


def _kept(chains: Sequence[Chain], order: list[Key], before: HandsPlan) -> list[Key]:
    """The order with the pieces that the plan before knew in the order it had them; other scopes keep their places."""
    was = {key: at for at, key in enumerate(before.order)}
    pieces = {chain.scope: chain.pieces for chain in before.chains}
    place: dict[Key, int] = {}
    for chain in chains:
        # what has been done since is gone from the front
        done = len(pieces.get(chain.scope, ())) - len(chain.pieces)
        if done >= 0 and all(
            piece.parts[0].step.id in {part.step.id for part in old.parts}
            for piece, old in zip(chain.pieces, pieces.get(chain.scope, ())[done:], strict=True)
        ):
            place |= {(chain.scope, number): was[chain.scope, done + number] for number in range(len(chain.pieces))}
    known = iter(sorted((key for key in order if key in place), key=place.__getitem__))
    return [next(known) if key in place else key for key in order]


def _fronts(chains: Sequence[Chain]) -> Iterator[tuple[Chain, int]]:
    """Scopes with how many of their first pieces to move to the front: all of one, then the first of each, then two.

    On rehearsed benches with as many tries this left half the lateness that one scope after the other left.
    """
    ranked = sorted(chains, key=lambda c: (sum(p.length_s for p in c.pieces), c.scope))
    yield from ((chain, len(chain.pieces)) for chain in ranked)
    for count in range(1, max((len(chain.pieces) for chain in ranked), default=0)):
        yield from ((chain, count) for chain in ranked if count < len(chain.pieces))


def _worth(chains: Sequence[Chain], ran: Ran) -> tuple[float, float, float, float]:
    missed = [max(0.0, ran.done_s[c.scope] - c.wanted_in_s) for c in chains if c.wanted_in_s is not None and c.pieces]
    return round(ran.total_late_s), sum(missed), round(ran.reserve_used_s), sum(ran.done_s.values())


def _slots(chains: Sequence[Chain], ran: Ran) -> Iterator[Slot]:
    for chain in chains:
        for number, piece in enumerate(chain.pieces):
            key = (chain.scope, number)
            change_s, latest = ran.change_s[key], ran.latest_s.get(key)
            yield Slot(
                chain.scope, piece.parts[0].step.id, number, round(ran.start_s[key]),
                round(max(1.0, piece.length_s) + change_s), round(change_s), piece.clean,
                None if latest is None else floor(latest), round(ran.late_s.get(key, 0.0)),
                ceil(piece.after.min_s) if piece.after else 0,
            )  # fmt: skip


def late_of(plan: HandsPlan) -> dict[str, int]:
    """Promise how far each scope is past its limits in the plan, in seconds, those without lateness left out."""
    found: dict[str, int] = {}
    for slot in plan.slots:
        if slot.late_s:
            found[slot.scope] = found.get(slot.scope, 0) + slot.late_s
    return found
