"""Handlers for counts: flushes, purges and rinses, each done so often, some of them each for so long."""

from __future__ import annotations

from typing import Any

from protocols.clock import proven_s
from protocols.context import Context, confirmations, event
from protocols.event import Decision
from protocols.model import Step
from protocols.refusals import Refusal
from protocols.steps import last_of_step, too_soon
from protocols.unit import Cycle, Unit


def start_count(ctx: Context) -> Decision | Refusal:
    """Begin the first rinse of a timed count (each lasts at least `each_s_min`)."""
    each_s = rinse_each_s(ctx.cycle, ctx.step)
    return event(ctx, {"running": True, "timer": {"kind": "each", "min_s": each_s}, "undo": True})


def rinse_each_s(cycle: Cycle, step: Step) -> float | None:
    """Promise the shortest time of each rinse (s): the longer of the step's and the label's; None where it has none."""
    if step.each_s_min is None:
        return None
    label = cycle.rinse_s_min if _final_rinse(step) else None
    return max(step.each_s_min.value, label or 0)


def rinse_times(unit: Unit, cycle: Cycle, step: Step) -> int:
    """Promise how often a count is done: a final rinse as often as the most of step, label and chosen limit asks."""
    times = step.times.value if step.times else 1
    if not _final_rinse(step):
        return int(times)
    chosen = unit.limits.get("rinse")
    return int(max(times, cycle.rinse_times or 0, (chosen.times if chosen else None) or 0))


def _final_rinse(step: Step) -> bool:
    # The whole scope in rinse water; flushes of channels name a volume.
    return step.stage == "final rinse" and step.volume_ml is None and "fresh" in step.needs


def count(ctx: Context) -> Decision | Refusal:
    """Record one flush, rinse or purge; the last one ends the step."""
    step, cycle = ctx.step, ctx.cycle
    each_s = rinse_each_s(cycle, step)
    if each_s is not None and cycle.timer is not None:
        early = too_soon(ctx, each_s, proven_s(cycle.timer.since, ctx.now))
        if early:
            return early
    given = confirmations(ctx, step)
    if isinstance(given, Refusal):
        return given
    times = rinse_times(ctx.unit, cycle, step)
    done = cycle.done + 1
    data: dict[str, Any] = {**given, "count": done, "of": times, "undo": True}
    if step.volume_ml is not None:
        data["volume_ml"] = step.volume_ml.value
    if done >= times:
        return event(ctx, last_of_step(ctx, data))
    if each_s is not None:
        data["timer"] = {"kind": "each", "min_s": each_s}
    return event(ctx, {**data, "done": done})
