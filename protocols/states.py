"""Where a scope stands, as far as commands are concerned: the rows of the table in `protocols/cycle.py`."""

from __future__ import annotations

from enum import Enum

from protocols.model import Step
from protocols.unit import Cycle


class State(Enum):
    """Where a scope stands, as far as commands are concerned."""

    NONE = "not in a cycle"
    LOOK = "at a look"
    PASS = "at a brush pass"
    COUNT = "at a count"
    RINSE = "at a timed count, not begun"
    READING = "at a reading"
    OUT = "at a soak, not in it"
    IN = "in a soak"
    AIR_OFF = "at drying, air off"
    AIR_ON = "at drying, air on"
    RUN_OFF = "at a machine run, not begun"
    RUN_ON = "in a machine run"
    WAITING = "waiting for a lead"
    OFFERED = "offered to another handheld"


_RINSING = ("rinse", "final rinse")
_RESTING = {
    "look": State.LOOK, "pass": State.PASS, "count": State.COUNT, "reading": State.READING,
    "soak": State.OUT, "machine run": State.RUN_OFF,
}  # fmt: skip


def state_of(cycle: Cycle | None, step: Step | None) -> State:
    """Promise the row of the table for a scope: its cycle and the step that it is at."""
    if cycle is None or step is None:
        return State.NONE
    if cycle.offer is not None:
        return State.OFFERED
    # A scope that waits for a lead may still be rinsed: chemicals must not dry on it.
    if cycle.hold is not None and step.stage not in _RINSING:
        return State.WAITING
    if step.kind == "count" and step.each_s_min is not None and not cycle.running:
        return State.RINSE
    if step.bath == "air":
        return State.AIR_ON if cycle.running else State.AIR_OFF
    if cycle.running and step.kind == "soak":
        return State.IN
    if cycle.running and step.kind == "machine run":
        return State.RUN_ON
    return _RESTING[step.kind]
