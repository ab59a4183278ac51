"""Handlers for looks, brush passes, readings, skips and the choice of method."""

from __future__ import annotations

from typing import Any

from protocols import bath as baths
from protocols.clock import clock_text, longest_s, proven_s
from protocols.context import Context, advance, arrive, confirmations, event, go_back
from protocols.event import Decision
from protocols.model import Limit, Move, Step
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.unit import Bath


def look(ctx: Context) -> Decision | Refusal:
    """End a look with an outcome; the first look of cleaning settles whether the delayed branch is taken."""
    step, word = ctx.step, ctx.get("outcome")
    outcome = step.outcome(word)
    if outcome is None:
        return refuse("unknown-outcome", word=word, step=step.id, words=", ".join(o.word for o in step.outcomes))
    data: dict[str, Any] = {"outcome": word}
    # A leak or damage is taken as it is told; in the leak branch the tag and the owner are what the step is for.
    if outcome.move not in (Move.OUT, Move.LEAK) or step.when == "leak":
        given = confirmations(ctx, step)
        if isinstance(given, Refusal):
            return given
        data.update(given)
    elif ctx.get("owner"):
        data["owner"] = ctx.get("owner")
    refs: dict[str, str] = {}
    if step.bath:
        lying = _bath_for_look(ctx, step)
        if isinstance(lying, Refusal):
            return lying
        data.update(lying)
        refs["bath"] = data["bath_uid"]
    return event(ctx, {**data, **_moved(ctx, step, outcome.move, outcome.back_to)}, **refs)


def _moved(ctx: Context, step: Step, move: Move, back_to: str) -> dict[str, Any]:
    if move is Move.AGAIN:
        return {"undo": True}
    if move is Move.BACK:
        return {**go_back(ctx.protocol, ctx.cycle.flags, back_to), "undo": True}
    if move is Move.OUT:
        return {"to": "", "timer": None, "ends": "out of service"}
    if move is Move.LEAK:
        flags = ctx.cycle.flags | {"leak"}
        # A leak is never undone by a tap: it takes a lead's correction.
        return {**advance(ctx, flags), "flags": sorted(flags)}
    flags = ctx.cycle.flags
    data: dict[str, Any] = {"undo": True}
    if step.begins_cleaning:
        cleaning, flags = _begin_cleaning(ctx)
        data.update(cleaning)
    data.update(advance(ctx, flags))
    if step.ends_cleaning:
        data.update(short_clean(ctx))
    if step.begins_cleaning and "delayed" in flags:
        data.update(no_maximum(ctx, data["to"]))
    if step.stage == "store" and "place" in step.records:
        data["marks"] = {"place": ctx.get("place")}
    if data.get("ends"):
        data["undo"] = False
    return data


def _begin_cleaning(ctx: Context) -> tuple[dict[str, Any], frozenset[str]]:
    cycle = ctx.cycle
    if cycle.clean_from is not None:  # cleaned again after debris was seen: the delay was settled the first time
        return {"moments": ["clean_from"]}, cycle.flags
    data: dict[str, Any] = {"moments": ["clean_from"], "delay": None, "delayed": cycle.delayed}
    flags = cycle.flags
    if cycle.delay is not None and cycle.delay.max_s is not None:
        delay_s = cycle.delay.already_s + longest_s(cycle.delay.since, ctx.now)
        data.update(delay_s=delay_s, delay_s_max=cycle.delay.max_s, delayed=delay_s > cycle.delay.max_s)
        if data["delayed"]:
            flags = flags | {"delayed"}
    data["marks"] = {"delayed": data["delayed"]}
    data["flags"] = sorted(flags)
    return data, flags


def no_maximum(ctx: Context, to: str) -> dict[str, Any]:
    """Promise a hold when a delayed scope has no extended soak, or one without a maximum: a lead must say how to go on.

    Once a lead has set the maximum for the cycle, or the step has one of its own, there is nothing to wait for.
    """
    if not any(s.when == "delayed" for s in ctx.protocol.steps):
        return {"hold": {"kind": "no branch", "why": kept("no-branch")}, "undo": False}
    step = ctx.protocol.step(to)
    if step.when != "delayed" or step.kind != "soak" or ctx.cycle.extended_s_max is not None:
        return {}
    if step.soak_s_max is not None or step.over_s_max is not None:
        return {}
    return {"hold": {"kind": "no maximum", "why": kept("no-maximum", step=step.id)}, "undo": False}


def short_clean(ctx: Context) -> dict[str, Any]:
    """Promise the length of the manual clean, and a notice when it was as short as the protocol names.

    7 min or less was linked to higher odds of contamination of duodenoscopes (a study; see the protocol's source).
    """
    cycle, limit = ctx.cycle, ctx.protocol.short_clean_s
    if cycle.clean_from is None:
        return {}
    clean_s = proven_s(cycle.clean_from, ctx.now)
    data: dict[str, Any] = {"clean_s": clean_s}
    if limit is not None and clean_s <= limit.value:
        data["notices"] = [kept("short-clean", time=clock_text(clean_s), limit=clock_text(limit.value))]
    return data


def _bath_for_look(ctx: Context, step: Step) -> Refusal | dict[str, Any]:
    found = named_bath(ctx, step)
    if isinstance(found, Refusal):
        return found
    temp = ctx.get("temp_c")
    wrong = baths.temperature(found, step, temp)
    if wrong:
        return wrong
    return {
        "bath": found.label, "bath_uid": found.uid, "bath_temp_c": temp, "bath_lot": found.lot,
        "uses": {"bath": found.label},
    }  # fmt: skip


def named_bath(ctx: Context, step: Step) -> Bath | Refusal:
    """Promise the bath the command names, usable now for this cycle at this step, or why it is not."""
    label = ctx.get("bath")
    if label is None:
        return refuse("no-bath-named", step=step.id, kind=step.bath)
    found = ctx.unit.baths.get(label)
    if found is None:
        known = ", ".join(b.label for b in ctx.unit.baths.values() if b.kind == step.bath and not b.closed)
        return refuse("unknown-bath", bath=label, known=known or aside("none-pour"))
    wrong = baths.unusable(found, ctx.unit, ctx.now) or baths.unsuitable(
        found, ctx.unit, ctx.cycle, step, ctx.protocol, ctx.shelf.claims
    )
    return wrong or found


def brush_pass(ctx: Context) -> Decision | Refusal:
    """Record one brush pass. It ends with the first pass that brings no debris; there is no fixed count.

    Source: HICPAC sample audit tool ("until no debris appears on the brush").
    """
    passes = ctx.cycle.passes + 1
    data: dict[str, Any] = {"debris": ctx.get("debris"), "passes": passes, "undo": True}
    if ctx.get("debris") == "seen":
        return event(ctx, data)
    given = confirmations(ctx, ctx.step)
    if isinstance(given, Refusal):
        return given
    data.update(given)
    return event(ctx, last_of_step(ctx, data))


def last_of_step(ctx: Context, data: dict[str, Any]) -> dict[str, Any]:
    """Promise the data of ending the present step and going on."""
    counted = {"pass_count": data.pop("passes")} if "passes" in data else {}
    if ctx.step.ends_cleaning:
        data.update(short_clean(ctx))
    data.update(advance(ctx))
    if data.get("ends"):
        data["undo"] = False
    return {**data, **counted}


def too_soon(ctx: Context, needed_s: float, passed_s: float) -> Refusal | None:
    """Promise the refusal of ending a minimum time early; None when it has been proven."""
    if passed_s >= needed_s:
        return None
    return refuse(
        "too-soon",
        subject=ctx.subject,
        done=clock_text(passed_s),
        needed=clock_text(needed_s),
        left=left(needed_s, passed_s),
    )


def left(needed_s: float, passed_s: float) -> str:
    """Promise the time still missing, rounded up to a whole second so that nobody comes a moment early."""
    return clock_text(-((passed_s - needed_s) // 1))


def read(ctx: Context) -> Decision | Refusal:
    """Record a verification reading and what it means by the limit of that method on that meter."""
    step, method, meter = ctx.step, ctx.get("method"), ctx.get("meter")
    limit = next((x for x in step.limits if x.method == method and x.meter in (meter, "any")), None)
    if limit is None:
        known = "; ".join(f"{x.method} on {x.meter}" for x in step.limits) or aside("none")
        return refuse("unknown-method", step=step.id, method=method, meter=meter, known=known)
    verdict = judge(limit, ctx.get("value"))
    data: dict[str, Any] = {
        "method": method, "meter": meter, "value": ctx.get("value"), "unit": limit.unit, "verdict": verdict,
        "limit": {name: getattr(limit, name).value for name in ("alert_from", "action_from", "pass_below", "pass_to")
                  if getattr(limit, name) is not None},
        "undo": True,
    }  # fmt: skip
    if verdict == "fail":
        return event(ctx, {**data, **go_back(ctx.protocol, ctx.cycle.flags, step.fail_back_to)})
    return event(ctx, last_of_step(ctx, data))


def judge(limit: Limit, value: float) -> str:
    """Promise "pass", "alert" (still acceptable) or "fail" for a reading under one limit."""
    if limit.action_from is not None and value >= limit.action_from.value:
        return "fail"
    if limit.pass_below is not None and value >= limit.pass_below.value:
        return "fail"
    if limit.pass_to is not None and value > limit.pass_to.value:
        return "fail"
    if limit.alert_from is not None and value >= limit.alert_from.value:
        return "alert"
    return "pass"


def skip(ctx: Context) -> Decision | Refusal:
    """Leave out an optional step, with its reason."""
    if not ctx.step.optional:
        return refuse("not-optional", step=ctx.step.id)
    alcohol = ctx.unit.limits.get("alcohol")
    if alcohol is not None and alcohol.always and "alcohol_pct" in ctx.step.records:
        return refuse("alcohol-always", step=ctx.step.id, limit=alcohol.id)
    return event(ctx, last_of_step(ctx, {"reason": ctx.get("reason"), "undo": True}))


def choose(ctx: Context) -> Decision | Refusal:
    """Choose soak or machine for this cycle, as long as neither has begun."""
    way, cycle, protocol = ctx.get("by"), ctx.cycle, ctx.protocol
    other = "machine" if way == "soak" else "soak"
    if way in cycle.flags:
        return refuse("no-choice", subject=ctx.subject, way=way, expects=aside("chosen"))
    if not any(s.when == way for s in protocol.steps):
        return refuse("no-choice", subject=ctx.subject, way=way, expects=aside("no-such-way"))
    if "leak" in cycle.flags:
        return refuse("no-choice", subject=ctx.subject, way=way, expects=aside("leaks"))
    if cycle.disinfected or ctx.step.stage in ("final rinse", "dry", "store"):
        return refuse("no-choice", subject=ctx.subject, way=way, expects=aside("begun"))
    flags = cycle.flags - {other} | {way}
    data: dict[str, Any] = {"by": way, "flags": sorted(flags), "undo": True}
    first = next(s for s in protocol.steps if s.when == way)
    if protocol.positions[first.id] < protocol.positions[ctx.step.id]:
        to = first.id
    elif ctx.step.when == other:
        to = protocol.following(ctx.step.id, flags)
    else:
        return event(ctx, data)
    data.update(arrive(protocol, to))
    if data["timer"] and cycle.timer is not None and cycle.timer.kind == "start":
        # Changing the way gives no new time in which to begin.
        data["timer"]["already_s"] = cycle.timer.already_s + longest_s(cycle.timer.since, ctx.now)
    return event(ctx, data)
