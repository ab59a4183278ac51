"""The ordinary next command of a scope: what a technician who makes no mistake would tap now."""

from __future__ import annotations

from typing import Any

from protocols.cycle import State
from protocols.event import Command
from protocols.lane import Lane
from protocols.model import Move, Step

# Values that a demonstration gives where a step records something; every one is invented.
RECORDED: dict[str, Any] = {
    "water": "sterile",
    "alcohol_pct": 70,
    "temp_c": 31.5,
    "owner": "mira",
    "place": "cabinet 2",
}


def good_word(step: Step) -> str:
    """Promise the outcome word with which a look goes on; at the end of the leak branch, the one that ends it."""
    found = sorted(step.outcomes, key=lambda o: (o.move is not Move.NEXT, o.move is not Move.OUT))
    return found[0].word


def given(step: Step) -> dict[str, Any]:
    """Promise the confirmations and recorded values that the step asks for."""
    return {**dict.fromkeys(step.needs, True), **{name: RECORDED[name] for name in step.records}}


def ordinary(lane: Lane, by: str, bath: str = "", temp_c: float = 21.5) -> Command | None:
    """Promise the command, or None where only waiting or a lead helps. `bath` is named where the step lies in one."""
    step, state = lane.step, lane.state
    values = given(step)
    if step.bath in ("detergent", "disinfectant") and state in (State.LOOK, State.OUT):
        values.update(bath=bath, temp_c=temp_c)
    match state:
        case State.LOOK:
            return Command("look", lane.scope, {"outcome": good_word(step), **values}, by)
        case State.PASS:
            return Command("pass", lane.scope, {"debris": "none", **values}, by)
        case State.COUNT:
            return Command("count", lane.scope, values, by)
        case State.RINSE:
            return Command("start", lane.scope, {}, by)
        case State.OUT | State.AIR_OFF:
            return Command("start", lane.scope, values, by)
        case State.RUN_OFF:
            return Command("start", lane.scope, {**values, "machine": "M1", "run": "1"}, by)
        case State.IN:
            return Command("lift", lane.scope, {"temp_c": temp_c}, by)
        case State.AIR_ON:
            return Command("check", lane.scope, {"dry": True}, by)
        case State.RUN_ON:
            return Command("run-end", lane.scope, {"result": "complete"}, by)
        case State.READING:
            return Command("skip", lane.scope, {"reason": "not due for this scope today"}, by)
    return None
