"""Handlers for the handover of a shift: who goes, who comes, and each running soak acknowledged one by one.

Nothing stops meanwhile: prompts go on, and whoever is signed in may act.
"""

from __future__ import annotations

from protocols.context import Context
from protocols.event import Decision
from protocols.refusals import Refusal, refuse
from protocols.unit import Cycle, Unit


def hand_shift(ctx: Context) -> Decision | Refusal:
    """The person signed in hands the shift to another: all cycles under way are named, what runs is to be seen."""
    if ctx.subject not in ctx.unit.people:
        return refuse("no-person", subject=ctx.subject)
    if ctx.subject == ctx.command.by:
        return refuse("own-shift", subject=ctx.subject)
    cycles = ctx.unit.cycles.values()
    data = {
        "outgoing": ctx.command.by, "incoming": ctx.subject,
        "under_way": {c.scope: c.step for c in cycles}, "running": [_mark(c) for c in cycles if c.running],
    }  # fmt: skip
    return Decision("hand-shift", ctx.subject, {"person": ctx.subject}, data)


def acknowledge(ctx: Context) -> Decision | Refusal:
    """The incoming person says that they have looked at one scope that runs."""
    shift, cycle = ctx.unit.shift, ctx.unit.cycles.get(ctx.subject)
    if shift is None or shift.incoming != ctx.command.by:
        return refuse("no-shift", by=ctx.command.by)
    if cycle is None or cycle.scope not in unacknowledged(ctx.unit):
        return refuse("nothing-runs", subject=ctx.subject, by=ctx.command.by)
    timer = cycle.timer
    data = {"seen": _mark(cycle), "step": cycle.step, "bath": cycle.soak.label if cycle.soak else "",
            "min_s": timer.min_s if timer else None, "max_s": timer.max_s if timer else None,
            "outgoing": shift.outgoing}  # fmt: skip
    refs = {"scope": ctx.subject, "cycle": cycle.id, "case": cycle.case, "person": ctx.command.by}
    return Decision("acknowledge", ctx.subject, refs, data)


def unacknowledged(unit: Unit) -> list[str]:
    """Promise the scopes that ran when the shift was handed over, still do so, and nobody coming in has looked at."""
    shift = unit.shift
    if shift is None:
        return []
    left = set(shift.running) - set(shift.seen)
    return sorted(c.scope for c in unit.cycles.values() if c.running and _mark(c) in left)


def _mark(cycle: Cycle) -> str:
    return f"{cycle.id}/{cycle.step}"
