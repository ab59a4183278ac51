"""What a handler of the table is given, and the few things that all handlers do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from functools import lru_cache
from typing import Any

from protocols.clock import Stamp
from protocols.errors import Defect
from protocols.event import Command, Decision
from protocols.limits import hang_of
from protocols.model import NEEDS, WATER_GRADES, Figure, Protocol, Step
from protocols.refusals import Refusal, refuse
from protocols.shelf import Shelf
from protocols.unit import Cycle, Unit


class Context:
    """One command on one scope: the unit before it, the moment, the texts, and where its cycle stands.

    The table calls no handler that needs a cycle without one: `cycle`, `protocol` and `step` then raise Defect.
    """

    __slots__ = ("_cycle", "_protocol", "_step", "command", "get", "now", "shelf", "subject", "unit")

    def __init__(self, unit: Unit, command: Command, now: Stamp, shelf: Shelf) -> None:
        self.unit = unit
        self.command = command
        self.now = now
        self.shelf = shelf
        self.subject = command.subject
        # Looked up once: every handler asks for them several times.
        self.get: Callable[[str], Any] = command.values.get
        self._cycle = unit.cycles.get(command.subject)
        self._protocol = shelf.protocol(self._cycle.text_sha256) if self._cycle else None
        self._step = self._protocol.step(self._cycle.step) if self._cycle and self._protocol else None

    @property
    def cycle(self) -> Cycle:
        """The scope's open cycle."""
        return self._cycle or self._none()

    @property
    def protocol(self) -> Protocol:
        """The protocol that the cycle began with."""
        return self._protocol or self._none()

    @property
    def step(self) -> Step:
        """The step that the cycle is at."""
        return self._step or self._none()

    def _none(self) -> Any:
        raise Defect(f"{self.command.do} reached a handler without a cycle of {self.subject}")


@lru_cache(maxsize=1024)
def figures(step: Step) -> dict[str, float]:
    """Promise the step's figures as resolved now, by name; their sources stand in the protocol's text."""
    return {f.name: getattr(step, f.name).value for f in fields(step) if isinstance(getattr(step, f.name), Figure)}


def event(ctx: Context, data: dict[str, Any], **refs: str) -> Decision:
    """Promise the decision for a step event: step, stage and figures are always in its data."""
    step = ctx.step
    base = {"step": step.id, "stage": step.stage, "figures": figures(step)}
    cycle = ctx.cycle
    named = {"cycle": cycle.id, "scope": cycle.scope, "case": cycle.case, **refs}
    return Decision(ctx.command.do, ctx.subject, named, {**base, **data})


def arrive(protocol: Protocol, to: str) -> dict[str, Any]:
    """Promise the data of arriving at a step: where, and the timer that runs until it is begun."""
    if not to:
        return {"to": "", "timer": None, "ends": "completed"}
    step = protocol.step(to)
    limit = step.start_within_s_max
    return {"to": to, "timer": {"kind": "start", "max_s": limit.value} if limit else None}


def advance(ctx: Context, flags: frozenset[str] | None = None) -> dict[str, Any]:
    """Promise the data of going on to the next step of the path."""
    cycle = ctx.cycle
    to = ctx.protocol.following(cycle.step, cycle.flags if flags is None else flags)
    data = arrive(ctx.protocol, to)
    if not to and "leak" in (flags if flags is not None else cycle.flags):
        data["ends"] = "out of service"
    if not to and data["ends"] == "completed":
        data.update(hang_of(ctx.unit, ctx.protocol))
        scope = ctx.unit.scopes.get(cycle.scope)
        if scope is not None and scope.hold is not None:
            data["resolves_hold"] = scope.hold.why
        if scope is not None and scope.fault is not None and scope.fault.returned is not None:
            data["resolves_fault"] = scope.fault.why
    return data


def go_back(protocol: Protocol, flags: frozenset[str], to: str) -> dict[str, Any]:
    """Promise the data of going back to a step: disinfection and drying that come after it count no more."""
    ahead = [s for s in protocol.order(flags) if protocol.positions[s.id] >= protocol.positions[to]]
    marks: dict[str, Any] = {}
    if any(s.disinfects for s in ahead):
        marks["disinfected"] = False
    if any(s.bath == "air" for s in ahead):
        marks["dried"] = None
    return {**arrive(protocol, to), "marks": marks}


def confirmations(ctx: Context, step: Step) -> Refusal | dict[str, Any]:
    """Promise the step's confirmed needs and recorded values, or which of them are missing."""
    missing = [NEEDS[name] for name in step.needs if ctx.get(name) is not True]
    if missing:
        return refuse("needs", missing="; ".join(missing))
    given = dict.fromkeys(step.needs, True)
    recorded: dict[str, Any] = {}
    for name in step.records:
        value = ctx.get(name)
        if value is None:
            return refuse("needs-record", step=step.id, missing=name)
        recorded[name] = value
    low, high = step.alcohol_pct_min, step.alcohol_pct_max
    strength = recorded.get("alcohol_pct")
    if strength is not None and low is not None and high is not None and not low.value <= strength <= high.value:
        return refuse("alcohol", value=f"{strength:g}", low=f"{low.value:g}", high=f"{high.value:g}")
    if "water" in recorded and recorded["water"] not in WATER_GRADES:
        return refuse("water-grade", value=recorded["water"], grades=", ".join(WATER_GRADES))
    return {"confirmed": sorted(given), **recorded}
