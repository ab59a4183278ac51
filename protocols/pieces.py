"""What is left to do on one scope, as pieces of handwork with the waits between them.

A piece is handwork that one person does in one go: steps that follow each other on one side of the bench. On the dirty
side it is cut into lengths of a few minutes, so that a person may turn to another scope in between. On the clean side
it runs from one wait to the next, because leaving it for a soiled scope costs a change of gloves and apron.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from protocols.bath import unusable
from protocols.clock import Stamp, longest_s, proven_s
from protocols.counts import rinse_each_s, rinse_times
from protocols.cycle import State
from protocols.durations import Durations
from protocols.lane import Lane
from protocols.model import Protocol, Step
from protocols.unit import Bath, Cycle, Unit

# A dirty piece is cut at the first step after so many seconds: own figure.
PIECE_S = 240
# A soak for which neither step nor bath gives a time: long enough that its lift is not put too early. Own figure.
UNKNOWN_SOAK_S = 1200
# What is in hand and longer than usual already still takes a moment: own figure.
LEAST_S = 5
_AT_SINK = ("leak test", "clean", "rinse")
_RUNNING = (State.IN, State.AIR_ON, State.RUN_ON)


class Part(NamedTuple):
    """One step of a piece: what the hands do, so many counts of it, in all `typical_s` and at least `floor_s` long.

    `already_s` is how long it has been in hand.
    """

    step: Step
    what: str
    times: int
    floor_s: float
    typical_s: float
    already_s: float = 0


class Wait(NamedTuple):
    """A soak, the air or a run: at least `min_s`, at most `max_s` (None: without limit), lying in what it `holds`.

    Of a wait that runs already they are what is left. `holds` is bath, sink, port or "".
    """

    step: Step
    min_s: float
    max_s: float | None
    holds: str


class Piece(NamedTuple):
    """Handwork in one go. `start_in_s`: seconds from now by which it must start; `within_s`: after the end of the last.

    `after` is the wait that begins with its end.
    """

    parts: tuple[Part, ...]
    clean: bool
    sink: bool
    start_in_s: float | None
    within_s: float | None
    after: Wait | None

    @property
    def length_s(self) -> float:
        return sum(part.typical_s for part in self.parts)

    @property
    def ends_disinfection(self) -> bool:
        """Whether it begins with taking the scope out of the disinfectant."""
        head = self.parts[0]
        return head.what == "end" and head.step.bath == "disinfectant"


class Chain(NamedTuple):
    """All that is left on one scope: the wait that runs now, then pieces in their order.

    `begun` says that cleaning has begun, `in_clean_hand` that the last tap of the unit was on this scope on the clean
    side; `wanted_in_s` is when it is wanted, in seconds from now. With `fixed_in_s` its first piece starts just then.
    """

    scope: str
    family: str
    first: Wait | None
    pieces: tuple[Piece, ...]
    begun: bool = True
    in_clean_hand: bool = False
    wanted_in_s: float | None = None
    fixed_in_s: int | None = None


def chain_of(unit: Unit, lane: Lane, now: Stamp, durations: Durations) -> Chain | None:
    """Promise what is left on a scope in a cycle; None while a lead must decide first."""
    if lane.state in (State.WAITING, State.OFFERED):
        return None
    cycle = lane.cycle
    steps = lane.protocol.order(cycle.flags)[lane.position :]
    last = max(c.last_seq for c in unit.cycles.values()) == cycle.last_seq
    rest = _Rest(unit, lane.protocol, cycle, now, durations)
    rest.clean = cycle.disinfected
    first = _running(lane)
    if first is not None:
        rest.clean = rest.clean or lane.step.disinfects
    elif last:
        rest.in_hand_s = longest_s(cycle.last_at, now)
    rest.start_in_s = lane.limit_in_s if lane.kind == "start" else None
    rest.delay_in_s = lane.delay_in_s
    pieces = rest.cut(rest.parts(steps, True, first is not None))
    wanted = None if cycle.wanted_wall_ms is None else (cycle.wanted_wall_ms - now.wall_ms) / 1000
    in_clean_hand = last and cycle.disinfected and first is None
    return Chain(lane.scope, lane.protocol.family, first, pieces, cycle.clean_from is not None, in_clean_hand, wanted)


def chain_of_new(
    unit: Unit,
    protocol: Protocol,
    scope: str,
    now: Stamp,
    durations: Durations,
    delay_in_s: float | None = None,
    delayed: bool = False,
) -> Chain:
    """Promise what there is to do on a scope that is not received yet.

    Cleaning must begin within `delay_in_s` (None: no limit known); `delayed` says that it goes the delayed way.
    """
    flags = frozenset({protocol.disinfect_by} | ({"delayed"} if delayed else set()))
    cycle = Cycle("", scope, "", "", now, protocol.steps[0].id, now, 0, "receive", now, flags)
    rest = _Rest(unit, protocol, cycle, now, durations)
    rest.delay_in_s = None if delayed else delay_in_s
    return Chain(scope, protocol.family, None, rest.cut(rest.parts(protocol.order(flags), False, False)), False)


def _running(lane: Lane) -> Wait | None:
    # A timed rinse is no wait: whoever rinses stays with the scope.
    if lane.state in _RUNNING:
        return Wait(lane.step, lane.left_s, lane.limit_in_s, _holds(lane.step))
    return None


def _holds(step: Step) -> str:
    return {"disinfectant": "bath", "detergent": "sink", "air": "port"}.get(step.bath, "")


class _Rest:
    """Walks the steps ahead of one cycle once."""

    def __init__(self, unit: Unit, protocol: Protocol, cycle: Cycle, now: Stamp, durations: Durations) -> None:
        self.unit, self.protocol, self.cycle, self.now, self.durations = unit, protocol, cycle, now, durations
        self.clean = False
        self.in_hand_s = 0.0
        self.start_in_s: float | None = None
        self.delay_in_s: float | None = None

    def parts(self, steps: tuple[Step, ...], present_first: bool, runs: bool) -> Iterator[Part | Wait]:
        """Each step's handwork and wait in order; of the present step only what is left."""
        for number, step in enumerate(steps):
            present = present_first and number == 0
            in_wait = present and runs
            if step.kind in ("soak", "machine run"):
                if not in_wait:
                    yield self._part(step, f"start {step.bath or 'machine run'}", present)
                    yield self._wait(step)
                yield self._part(step, "end", False)
            else:
                yield self._part(step, step.kind, present)

    def _part(self, step: Step, what: str, present: bool) -> Part:
        times, floor_s = 1, 0.0
        if what == "count":
            done = self.cycle.done if present else 0
            times = max(1, rinse_times(self.unit, self.cycle, step) - done)
            floor_s = times * (rinse_each_s(self.cycle, step) or 0.0)
            timer = self.cycle.timer
            if present and timer is not None and timer.kind == "each":
                floor_s = max(1.0, floor_s - proven_s(timer.since, self.now))
        usual = self.durations.typical_s(self.protocol.family, step, what, times)
        already_s = self.in_hand_s if present else 0.0
        typical = max(LEAST_S, usual - already_s, floor_s)
        return Part(step, what, times, floor_s, typical, already_s)

    def _wait(self, step: Step) -> Wait:
        if step.kind == "machine run":
            least = step.run_s_min.value if step.run_s_min else UNKNOWN_SOAK_S
            return Wait(step, least, step.run_s_max.value if step.run_s_max else None, "")
        times = [step.soak_s_min.value] if step.soak_s_min else []
        if step.bath == "disinfectant":
            times += contacts_s(self.unit, self.now)
        least = max(times) if times else UNKNOWN_SOAK_S
        most = step.soak_s_max.value if step.soak_s_max else None
        if most is None and step.over_s_max is not None:
            most = least + step.over_s_max.value
        if most is None and step.when == "delayed":
            most = self.cycle.extended_s_max
        return Wait(step, least, most, _holds(step))

    def cut(self, parts: Iterator[Part | Wait]) -> tuple[Piece, ...]:
        """Promise the pieces: cut at waits, after lifts out of the disinfectant, and on the dirty side.

        There it is where cleaning begins, before disinfection, and when long enough.
        """
        pieces: list[Piece] = []
        held: list[Part] = []
        for part in parts:
            if isinstance(part, Wait):
                pieces.append(self._piece(held, part, not pieces))
                held = []
                self.clean = self.clean or part.step.disinfects
                continue
            if held and (_just_lifted(held) or (not self.clean and _cut_before(part, held))):
                pieces.append(self._piece(held, None, not pieces))
                held = []
            held.append(part)
        if held:
            pieces.append(self._piece(held, None, not pieces))
        return tuple(pieces)

    def _piece(self, parts: list[Part], after: Wait | None, first: bool) -> Piece:
        head = parts[0]
        # What is counted as begun at its end must be begun so much sooner; a timed rinse begins with its start.
        told_late_s = 0.0 if head.floor_s else head.typical_s
        start_in_s = self.start_in_s - told_late_s if first and self.start_in_s is not None else None
        if head.step.begins_cleaning and self.delay_in_s is not None and self.cycle.clean_from is None:
            by_s = self.delay_in_s - told_late_s
            start_in_s = by_s if start_in_s is None else min(start_in_s, by_s)
        limit = head.step.start_within_s_max if not first and head.what != "end" else None
        within_s = max(0.0, limit.value - told_late_s) if limit is not None else None
        sink = any(part.step.stage in _AT_SINK for part in parts)
        return Piece(tuple(parts), self.clean, sink, start_in_s, within_s, after)


def _just_lifted(held: list[Part]) -> bool:
    return held[-1].what == "end" and held[-1].step.bath == "disinfectant"


def _cut_before(part: Part, held: list[Part]) -> bool:
    if part.step.begins_cleaning or part.step.start_within_s_max is not None or part.what.startswith("start disinf"):
        return True
    return sum(x.typical_s for x in held) + part.typical_s > PIECE_S


def contacts_s(unit: Unit, now: Stamp) -> list[float]:
    """Promise the contact times of the disinfectant baths that may be used now, in seconds."""
    return [bath.contact_s_min or 0.0 for bath in soaking_baths(unit, now)]


def soaking_baths(unit: Unit, now: Stamp) -> list[Bath]:
    """Promise the disinfectant baths in which a scope may be soaked by hand now."""
    found = [bath for bath in unit.baths.values() if bath.kind == "disinfectant" and bath.use == "manual"]
    return [bath for bath in found if unusable(bath, unit, now) is None]
