"""What the trainer says: for the page and the step that are there now, what to do next and why. Needs no window.

Everything is told from the practice record as it stands, never from counted taps, so the trainer is right after an
undo, a mistake or a detour.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from protocols.cycle import State
from protocols.lane import Lane
from screens.words import has

# Steps that have a lesson of their own; every other step is told by the state the scope is in.
_STATES = {
    State.LOOK: "look",
    State.PASS: "pass",
    State.COUNT: "count",
    State.RINSE: "rinse",
    State.READING: "reading",
    State.OUT: "temperature",
    State.AIR_OFF: "air",
    State.RUN_OFF: "run",
    State.WAITING: "lead",
}


@dataclass(frozen=True, slots=True)
class Lesson:
    """One thing to do next: its words are `practice.<key>` and `practice.<key>.why`; `tag` is the scope it is about."""

    key: str
    tag: str = ""


def lesson(page: str, over: bool, lanes: list[Lane], unit: Any, tag_shown: str) -> Lesson:
    """Promise the lesson of this moment: of the page shown, the scope in hand, and what this practice has done."""
    done = [scope for scope in unit.scopes.values() if scope.last is not None]
    if over:
        return Lesson("over")
    if page == "receive":
        return Lesson("receipt")
    if not lanes:
        if not done:
            return Lesson("receive")
        released = any(scope.last.released_by for scope in done)
        if released:
            return Lesson("free")
        return Lesson("release" if page in ("ledger", "cycle") else "done", done[0].tag)
    lane = lanes[0]
    if len(lanes) > 1 or any(scope.last.released_by for scope in done):
        return Lesson("several", lane.scope)
    if page != "steps" or tag_shown != lane.scope:
        return Lesson("open", lane.scope)
    return Lesson(_of_step(lane, unit), lane.scope)


def _of_step(lane: Lane, unit: Any) -> str:
    if lane.over_s > 0 and lane.state is not State.WAITING:
        return "late"
    if lane.left_s > 0:
        return "waits"
    if lane.state in (State.IN, State.AIR_ON, State.RUN_ON):
        return "lift" if lane.state is State.IN else "ended"
    if lane.state is State.OUT and lane.step.bath == "disinfectant" and not _tested(lane, unit.baths):
        return "strip"
    own = f"step.{lane.step.id}"
    return own if has(f"practice.{own}") else _STATES[lane.state]


def _tested(lane: Lane, baths: Mapping[str, Any]) -> bool:
    tests = [test for bath in baths.values() for test in bath.tests.values()]
    return any(t.cycle == lane.cycle.id and not t.used and t.result == "pass" for t in tests)


def waits_s(lanes: list[Lane]) -> float:
    """Promise how long nothing can be done but wait, 0 where hands are wanted now."""
    left = [lane.left_s for lane in lanes]
    return min(left) if left and all(seconds > 0 for seconds in left) else 0.0
