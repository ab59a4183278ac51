"""How many pairs of hands the coming hours ask for: a naive estimate, to see a crowd coming, never a plan.

It takes every scope on its own, as if somebody were there each time it is ready, and adds up. So it shows too much
where scopes would really wait for each other, and it knows nothing of scopes still to come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from protocols.lane import Lane
from protocols.model import Step
from protocols.states import State
from protocols.unit import Bath

SPAN_S = 7200.0
BIN_S = 300.0
# Seconds of hands at one step of a kind. Own figures in the order of a manual cleaning of a quarter of an hour: common
# practice, no source.
HANDS_S: Mapping[str, float] = {"look": 40, "reading": 60}
PASS_S, PASSES = 30, 3
ONE_COUNT_S = 20
BEGIN_S, END_S = 45, 30
# A soak for which neither step nor bath gives a time: long enough that its lift is not put too early. Own figure.
UNKNOWN_SOAK_S = 1200


@dataclass(frozen=True, slots=True)
class Load:
    """Pairs of hands needed in each bin of `BIN_S` seconds from now on; `left_out` are scopes that wait for a lead."""

    bars: tuple[float, ...]
    left_out: tuple[str, ...] = ()

    def crowded(self) -> list[tuple[float, float]]:
        """Promise each stretch, in seconds from now, in which one pair of hands is not enough."""
        found: list[tuple[float, float]] = []
        for at, need in enumerate(self.bars):
            if need <= 1.0:
                continue
            start = at * BIN_S
            if found and found[-1][1] == start:
                found[-1] = (found[-1][0], start + BIN_S)
            else:
                found.append((start, start + BIN_S))
        return found


def load_of(lanes: Iterable[Lane], baths: Iterable[Bath]) -> Load:
    """Promise the load of these scopes over the next `SPAN_S` seconds."""
    contact_s = max((b.contact_s_min or 0 for b in baths if not b.closed and b.kind == "disinfectant"), default=0)
    bins = [0.0] * round(SPAN_S / BIN_S)
    left_out = []
    for lane in lanes:
        if lane.cycle.hold is not None:
            left_out.append(lane.scope)
            continue
        for start_s, length_s in _hands(lane, contact_s):
            _add(bins, start_s, length_s)
    return Load(tuple(b / BIN_S for b in bins), tuple(sorted(left_out)))


def _add(bins: list[float], start_s: float, length_s: float) -> None:
    end_s = start_s + length_s
    for at in range(max(0, int(start_s // BIN_S)), len(bins)):
        low = at * BIN_S
        if low >= end_s:
            return
        bins[at] += max(0.0, min(end_s, low + BIN_S) - max(start_s, low))


def _hands(lane: Lane, contact_s: float) -> Iterator[tuple[float, float]]:
    """Each time that the scope needs hands, as start and length in seconds from now."""
    at_s = 0.0
    steps = lane.protocol.order(lane.cycle.flags)[lane.position :]
    if lane.state in (State.IN, State.AIR_ON, State.RUN_ON):
        at_s = lane.left_s
        yield at_s, END_S
        at_s += END_S
        steps = steps[1:]
    for step in steps:
        if at_s >= SPAN_S:
            return
        # What was done counts for the step at hand alone, not for the one after a soak that still runs.
        here = step.id == lane.step.id
        left = lane.times - lane.cycle.done if here else int(step.times.value) if step.times else 1
        wait_s = _wait_s(step, contact_s)
        if wait_s is None:
            length_s = _length_s(step, left)
            yield at_s, length_s
            at_s += length_s
            continue
        yield at_s, BEGIN_S
        at_s += BEGIN_S + wait_s
        yield at_s, END_S
        at_s += END_S


def _wait_s(step: Step, contact_s: float) -> float | None:
    """How long the step runs without hands; None for one that is hands all through."""
    if step.kind == "machine run":
        return step.run_s_min.value if step.run_s_min else UNKNOWN_SOAK_S
    if step.kind != "soak":
        return None
    own_s = step.soak_s_min.value if step.soak_s_min else 0.0
    if step.bath == "disinfectant":
        own_s = max(own_s, contact_s)
    return own_s or UNKNOWN_SOAK_S


def _length_s(step: Step, times: int) -> float:
    if step.optional and step.kind == "reading":
        return 0.0
    if step.kind == "pass":
        return float(PASS_S * PASSES)
    if step.kind == "count":
        each_s = max(ONE_COUNT_S, step.each_s_min.value if step.each_s_min else 0)
        return max(1, times) * each_s
    return HANDS_S[step.kind]
