"""When each scope is ready: seeded runs of the bench by the order of the plan, with lengths of work drawn at random.

Each run draws every length anew: from the unit's own times of that step and family by the product-limit estimate, where
what still runs or was broken off counts as longer than seen, mixed with the shipped guess by their weight
(`protocols.durations`). What is in hand is drawn given how long it has been. Some scopes are cleaned again, some are
still wet, sometimes somebody is called away. Scopes still to come are not known: for them and for all else that no run
knows, every end is spread by as much as forecasts were off before, some by far more (`upsets` of the shipped figures).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, exp
from random import Random
from typing import NamedTuple

from protocols.dispatch import Given, Key, run
from protocols.drawing import Drawn, Room
from protocols.durations import Durations
from protocols.hands import HandsPlan, late_of, plan_chains
from protocols.pace import Pace, freely
from protocols.pieces import Chain, Part

RUNS = 100
# A scope wanted by a time is expected to make it where so many of the runs do: own figure.
SURE = 0.9


class Ready(NamedTuple):
    """When a scope is ready, in seconds from the moment of the plan: half and nine of ten runs end within the ranges.

    `slack_s` is what a wanted time leaves beyond the run that nine of ten stay below (negative: missing), None without
    a wanted time; `by_wanted` the share of runs that are in time.
    """

    scope: str
    middle_s: int
    half_s: tuple[int, int]
    most_s: tuple[int, int]
    slack_s: int | None = None
    by_wanted: float | None = None


def forecast(
    plan: HandsPlan, durations: Durations, seed: int, runs: int = RUNS, pace: Pace = freely
) -> dict[str, Ready]:
    """Promise when each scope of the plan is ready; the same plan, durations and seed give the same forecast."""
    drawn = Drawn(plan.chains, plan.room)
    usual = drawn.given()
    least_s = _least_s(plan.chains, usual)
    chance = Random(f"forecast {seed}")
    ends: dict[str, list[float]] = {chain.scope: [] for chain in plan.chains if chain.pieces}
    for _ in range(runs):
        given = _drawn(plan.chains, usual, durations, chance, pace)
        for scope, end in run(plan.chains, plan.order, given).done_s.items():
            ends[scope].append(max(least_s[scope], _unforeseen(end, durations, chance)))
    wanted = {chain.scope: chain.wanted_in_s for chain in plan.chains}
    return {scope: _ready(scope, sorted(times), wanted[scope]) for scope, times in ends.items()}


def _least_s(chains: tuple[Chain, ...], usual: Given) -> dict[str, float]:
    """What soaks and drying alone still take of each scope: no end comes sooner than that."""
    waits = {chain.scope: usual.first_s.get(chain.scope, 0.0) for chain in chains}
    for (scope, _), wait_s in usual.wait_s.items():
        waits[scope] += wait_s
    return {scope: max(1.0, least_s) for scope, least_s in waits.items()}


def _unforeseen(end_s: float, durations: Durations, chance: Random) -> float:
    """An end as it may come: the nearer it is, the less can come between."""
    upsets = durations.upsets
    spread = upsets["turned_spread" if chance.random() < upsets["turned_share"] else "unforeseen_spread"]
    return end_s * exp(chance.gauss(0, spread)) + chance.gauss(0, upsets["unforeseen_s"])


def _drawn(chains: tuple[Chain, ...], usual: Given, durations: Durations, chance: Random, pace: Pace) -> Given:
    work: dict[Key, float] = {}
    wait = dict(usual.wait_s)
    for chain in chains:
        pace()
        again_s = _cleaned_again(chain, usual, durations, chance)
        for number, piece in enumerate(chain.pieces):
            key = (chain.scope, number)
            length = sum(_part_s(chain.family, part, durations, chance) for part in piece.parts)
            if any(part.step.stage == "inspect" for part in piece.parts):
                length += again_s
                again_s = 0.0
            if chance.random() < durations.upsets["called_away_share"]:
                length += durations.upsets["called_away_s"] * chance.uniform(0.8, 2)
            work[key] = max(1.0, length)
    return usual._replace(work_s=work, wait_s=wait)


def _part_s(family: str, part: Part, durations: Durations, chance: Random) -> float:
    drawn = durations.draw_s(family, part.step, part.what, chance, part.times, part.already_s)
    length = max(part.floor_s, drawn - part.already_s, 0.0)
    if part.what == "end" and part.step.bath == "air":
        while chance.random() < durations.upsets["wet_again_share"]:
            length += durations.draw_s(family, part.step, part.what, chance)
    return length


def _cleaned_again(chain: Chain, usual: Given, durations: Durations, chance: Random) -> float:
    """What cleaning once more costs a scope that is still to be inspected, where it comes to that; in one go."""
    inspected = any(part.step.stage == "inspect" for piece in chain.pieces for part in piece.parts)
    if not inspected or chance.random() >= durations.upsets["cleaned_again_share"]:
        return 0.0
    dirty = [(number, piece) for number, piece in enumerate(chain.pieces) if not piece.clean and piece.sink]
    return sum(usual.work_s[chain.scope, n] + usual.wait_s.get((chain.scope, n), 0.0) for n, _ in dirty)


def _ready(scope: str, times: list[float], wanted_s: float | None) -> Ready:
    def at(share: float) -> int:
        return round(times[min(len(times) - 1, max(0, ceil(share * len(times)) - 1))])

    slack = by = None
    if wanted_s is not None:
        slack = round(wanted_s - at(SURE))
        by = sum(1 for t in times if t <= wanted_s) / len(times)
    return Ready(scope, at(0.5), (at(0.25), at(0.75)), (at(0.05), at(0.95)), slack, by)


class Change(NamedTuple):
    """One change to the bench and what it does: seconds less past limits, and seconds by which all is done sooner.

    `what` is hands, sink, bath, port or later; `scope` is the scope that would begin later.
    """

    what: str
    scope: str
    late_less_s: int
    sooner_s: int


def changes(plan: HandsPlan, nodes: int, pace: Pace = freely) -> list[Change]:
    """Promise what each possible change would do to the plan, the one that helps most first; those of no use left out.

    A second pair of hands (of the side with more work where the sides have their own), another sink, bath or port where
    these are scarce, or leaving a scope whose cleaning has not begun until the others are done with their limits.
    """
    room = plan.room
    found = [
        _change(plan, what, "", plan_chains(plan.chains, other, plan.at, nodes, pace), set())
        for what, other in _more(plan).items()
    ]
    if plan.late_s:
        for chain in plan.chains:
            if not chain.begun:
                rest = tuple(c for c in plan.chains if c is not chain)
                found.append(
                    _change(plan, "later", chain.scope, plan_chains(rest, room, plan.at, nodes, pace), {chain.scope})
                )
    useful = [c for c in found if c.late_less_s >= 30 or c.sooner_s >= 60]
    return sorted(useful, key=lambda c: (-c.late_less_s, -c.sooner_s, c.what, c.scope))


def _more(plan: HandsPlan) -> dict[str, Room]:
    """Rooms with one thing more: a pair of hands, of either side where these have their own, or what is scarce."""
    room = plan.room
    more = {"hands": room._replace(hands=room.hands + 1)}
    if room.clean_hands:
        more["clean hands"] = room._replace(clean_hands=room.clean_hands + 1)
    scarce = Drawn(plan.chains, room).scarce
    if "sink" in scarce:
        more["sink"] = room._replace(sinks=room.sinks + 1)
    if "bath" in scarce:
        more["bath"] = room._replace(baths=room.baths + 1)
    if "port" in scarce:
        more["port"] = room._replace(ports=room.ports + 1)
    return more


def _change(plan: HandsPlan, what: str, scope: str, other: HandsPlan, without: set[str]) -> Change:
    before, after = _late(plan, without), _late(other, without)
    if without:
        # A scope left for later is late itself: only what the others gain beyond that counts, and not the finish.
        return Change(what, scope, before - after, 0)
    sooner = max(plan.done_s.values(), default=0) - max(other.done_s.values(), default=0)
    return Change(what, scope, before - after, sooner)


def _late(plan: HandsPlan, without: set[str]) -> int:
    return sum(late for scope, late in late_of(plan).items() if scope not in without)


def missed(
    plan: HandsPlan,
    ready: Mapping[str, Ready],
    durations: Durations,
    seed: int,
    nodes: int,
    pace: Pace = freely,
) -> dict[str, Change]:
    """Promise for each wanted time that is likely missed the one change that brings the scope forward most.

    One more pair of hands, sink, bath or port where these are scarce, or leaving another scope that is not begun.

    `sooner_s` is by how much the run that nine of ten stay below comes sooner for that scope.
    """
    short = [r for r in ready.values() if r.slack_s is not None and r.slack_s < 0]
    found: dict[str, Change] = {}
    if not short:
        return found
    others = [(what, "", plan_chains(plan.chains, room, plan.at, nodes, pace)) for what, room in _more(plan).items()]
    for chain in plan.chains:
        if not chain.begun:
            rest = tuple(c for c in plan.chains if c is not chain)
            others.append(("later", chain.scope, plan_chains(rest, plan.room, plan.at, nodes, pace)))
    for what, left, other in others:
        then = forecast(other, durations, seed, pace=pace)
        for one in short:
            if one.scope not in then:
                continue
            gain = (then[one.scope].slack_s or 0) - (one.slack_s or 0)
            if gain >= 60 and (one.scope not in found or gain > found[one.scope].sooner_s):
                found[one.scope] = Change(what, left or one.scope, 0, gain)
    return found
