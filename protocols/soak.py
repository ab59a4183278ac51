"""Handlers for what runs: soaks, drying air and machine runs.

Required time is measured on proven time, limits on the longest possible time. An early lift is refused; with a stated
reason it is accepted and contact starts again from zero, with a new strip test and temperature. An interrupted soak
never resumes. A late lift is never refused: the scope is out and rinsed, and a lead decides what follows.
"""

from __future__ import annotations

from typing import Any

from protocols import bath as baths
from protocols.clock import clock_text, longest_s, proven_s
from protocols.context import Context, advance, confirmations, event
from protocols.errors import Defect
from protocols.event import Decision
from protocols.model import Step
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.steps import left, named_bath, short_clean, too_soon
from protocols.unit import Bath, Soak


def start_soak(ctx: Context) -> Decision | Refusal:
    """Start contact: bath, temperature, confirmations and (disinfectant) strip test in one command."""
    step = ctx.step
    found = named_bath(ctx, step)
    if isinstance(found, Refusal):
        return found
    given = confirmations(ctx, step)
    if isinstance(given, Refusal):
        return given
    temp = ctx.get("temp_c")
    wrong = baths.temperature(found, step, temp)
    if wrong:
        return wrong
    maximum = _maximum_s(ctx, step, found)
    if isinstance(maximum, Refusal):
        return maximum
    required = _required_s(step, found)
    if maximum is not None and maximum < required:
        return refuse("soak-limits", step=step.id, needed=clock_text(required), most=clock_text(maximum))
    soak: dict[str, Any] = {
        "bath": found.uid, "label": found.label, "temp_c": temp, "required_s": required, "max_s": maximum,
    }  # fmt: skip
    uses = {"bath": found.label}
    rinses: dict[str, Any] = {}
    refs = {"bath": found.uid}
    if found.kind == "disinfectant":
        test = baths.strip_for(found, ctx.cycle, ctx.get("test"))
        if isinstance(test, Refusal):
            return test
        soak.update(test=test.id, temp_c_min=found.temp_c_min, recheck=_recheck(step, required))
        uses["test"] = refs["test"] = test.id
        rinses = {name: getattr(found, name) for name in ("rinse_times", "rinse_s_min")}
    data = {
        **given, "bath": found.label, "bath_uid": found.uid, "bath_lot": found.lot, "claim": found.claim,
        "title": found.title, "bath_temp_c": temp, "soak": soak, "running": True, "uses": uses, "undo": True,
        "timer": {"kind": "soak", "min_s": required, "max_s": maximum},
        **({"marks": rinses} if rinses else {}),
    }  # fmt: skip
    return event(ctx, data, **refs)


def _required_s(step: Step, bath: Bath) -> float:
    times = [x for x in (bath.contact_s_min, step.soak_s_min.value if step.soak_s_min else None) if x is not None]
    if not times:
        raise Defect(f"step {step.id} and bath {bath.label} give no contact time")
    return max(times)


def _maximum_s(ctx: Context, step: Step, bath: Bath) -> float | Refusal | None:
    if step.soak_s_max is not None:
        return step.soak_s_max.value
    if step.over_s_max is not None:
        return _required_s(step, bath) + step.over_s_max.value
    if step.when == "delayed":
        return ctx.cycle.extended_s_max or refuse("no-maximum")
    return None


def _recheck(step: Step, required_s: float) -> bool:
    return step.recheck_from_s is not None and required_s >= step.recheck_from_s.value


def lift(ctx: Context) -> Decision | Refusal:
    """End a soak. Early: refused, or with a reason from zero again. Late: accepted, and a lead decides."""
    soak = ctx.cycle.soak
    timer = ctx.cycle.timer
    if soak is None or timer is None:
        raise Defect(f"{ctx.subject} is in a soak without its figures")
    passed, longest, temp = proven_s(timer.since, ctx.now), longest_s(timer.since, ctx.now), ctx.get("temp_c")
    data: dict[str, Any] = {
        "contact_s": passed, "required_s": soak.required_s, "bath": soak.label, "bath_uid": soak.bath,
    }  # fmt: skip
    if temp is not None:
        data["lift_temp_c"] = temp
    refs = {"bath": soak.bath, **({"test": soak.test} if soak.test else {})}
    late = _late(soak, longest)
    if passed < soak.required_s:
        if late:
            return event(ctx, {**data, **advance(ctx), **late, **_unproven(soak, passed)}, **refs)
        if ctx.get("reason") is None:
            return refuse("early-lift", subject=ctx.subject, done=clock_text(passed),
                          needed=clock_text(soak.required_s), left=left(soak.required_s, passed))  # fmt: skip
        return event(ctx, {**data, **_from_zero(), "result": "early", "reason": ctx.get("reason")}, **refs)
    if soak.recheck and not late and temp is None:
        return refuse("no-temperature", bath=soak.label)
    if temp is not None and soak.temp_c_min is not None and temp < soak.temp_c_min:
        # Once measured, a bath below its minimum has proven nothing, whether or not the recheck was asked for.
        notice = kept("too-cold", temp=f"{temp:g}", least=f"{soak.temp_c_min:g}")
        if late:
            return event(ctx, {**data, **advance(ctx), **late, **_unproven(soak, 0), "notices": [notice]}, **refs)
        return event(ctx, {**data, **_from_zero(), "result": "too cold", "notices": [notice]}, **refs)
    return event(ctx, {**data, **_out(ctx, late, soak)}, **refs)


def _out(ctx: Context, late: dict[str, Any], soak: Soak) -> dict[str, Any]:
    """Promise the data of a lift after full contact: on to the next step, perhaps waiting for a lead."""
    flags = ctx.cycle.flags - {"delayed"} if ctx.step.when == "delayed" else ctx.cycle.flags
    data = {**advance(ctx, flags), "result": "late" if late else "full", "flags": sorted(flags)}
    if ctx.step.stage == "disinfect":
        data["marks"] = {"disinfected": True}
    if ctx.step.ends_cleaning:
        data.update(short_clean(ctx))
    data.update(late)
    if soak.doubt:
        why = "; ".join([soak.doubt, *([late["hold"]["why"]] if late else [])])
        data["hold"] = {"kind": "doubtful bath", "why": why}
    return data


def _from_zero() -> dict[str, Any]:
    return {"running": False, "soak": None, "timer": None}


def _late(soak: Soak, longest: float) -> dict[str, Any]:
    if soak.max_s is None or longest <= soak.max_s:
        return {}
    over = clock_text(longest - soak.max_s)
    return {
        "late_s": longest - soak.max_s,
        "hold": {
            "kind": "late lift",
            "why": kept("late-lift", bath=soak.label, over=over, limit=clock_text(soak.max_s)),
        },
    }


def _unproven(soak: Soak, passed: float) -> dict[str, Any]:
    # After a reboot both can be true: too little proven, and perhaps far too long. Nobody may simply go on from there.
    why = kept("unproven-lift", bath=soak.label, done=clock_text(passed), needed=clock_text(soak.required_s))
    return {"result": "unproven", "hold": {"kind": "unproven lift", "why": why}}


def start_air(ctx: Context) -> Decision | Refusal:
    """Turn the drying air on. Its pressure is recorded where given, and held to the chosen limit where there is one."""
    given = confirmations(ctx, ctx.step)
    if isinstance(given, Refusal):
        return given
    limit, pressure = ctx.unit.limits.get("air"), ctx.get("air_psi")
    below = limit.air_psi_below if limit else None
    if below is not None:
        if pressure is None:
            return refuse("needs-record", step=ctx.step.id, missing="air_psi")
        # The source says "less than" (PAHO-2009), so the figure itself is too much.
        if pressure >= below:
            return refuse("air-pressure", value=f"{pressure:g}", below=f"{below:g}", limit=limit.id if limit else "")
    if pressure is not None:
        given["air_psi"] = pressure
    minimum = ctx.step.soak_s_min
    timer = {"kind": "air", "min_s": minimum.value if minimum else 0}
    return event(ctx, {**given, "running": True, "timer": timer, "undo": True})


def check_dry(ctx: Context) -> Decision | Refusal:
    """Look for moisture: not before the minimum; while wet the air goes on, without an upper limit.

    Source: ANSI/AAMI ST91:2021 as summarised (at least 10 min, extended until no moisture).
    """
    timer = ctx.cycle.timer
    if timer is None or timer.min_s is None:
        raise Defect(f"{ctx.subject} is in air without a timer")
    passed = proven_s(timer.since, ctx.now)
    early = too_soon(ctx, timer.min_s, passed)
    if early:
        return early
    data: dict[str, Any] = {"dry": ctx.get("dry"), "air_s": passed}
    if not ctx.get("dry"):
        return event(ctx, {**data, "done": ctx.cycle.done + 1, "undo": True})
    return event(ctx, {**data, **advance(ctx), "moments": ["dried"], "undo": True})


def start_run(ctx: Context) -> Decision | Refusal:
    """Start a machine cycle, naming the machine and its cycle number."""
    step = ctx.step
    if ctx.get("machine") is None or ctx.get("run") is None:
        return refuse("needs-record", step=step.id, missing=aside("machine-and-run"))
    given = confirmations(ctx, step)
    if isinstance(given, Refusal):
        return given
    minimum, maximum = step.run_s_min, step.run_s_max
    timer = {"kind": "run", "min_s": minimum.value if minimum else 0, "max_s": maximum.value if maximum else None}
    data = {
        **given,
        "machine": ctx.get("machine"),
        "run": ctx.get("run"),
        "running": True,
        "timer": timer,
        "undo": True,
    }
    return event(ctx, data, machine=ctx.get("machine"))


def end_run(ctx: Context) -> Decision | Refusal:
    """End a machine cycle; anything but a complete one is repeated whole.

    Source: Multisociety 2021 as summarised ("the entire cycle should be repeated").
    """
    timer = ctx.cycle.timer
    if timer is None:
        raise Defect(f"{ctx.subject} is in a machine run without a timer")
    passed = proven_s(timer.since, ctx.now)
    if ctx.get("result") != "complete":
        return event(ctx, {"result": ctx.get("result"), "run_s": passed, **_from_zero()})
    early = too_soon(ctx, timer.min_s or 0, passed)
    if early:
        return early
    return event(ctx, {"result": "complete", "run_s": passed, **advance(ctx), "marks": {"disinfected": True}})


def interrupt(ctx: Context) -> Decision | Refusal:
    """A soak, the air or a run was interrupted: it counts for nothing and never resumes.

    By analogy with the whole-cycle-repeat rule for machines (Multisociety 2021 as summarised).
    """
    timer = ctx.cycle.timer
    passed = proven_s(timer.since, ctx.now) if timer is not None else 0
    soak = ctx.cycle.soak
    late = _late(soak, longest_s(timer.since, ctx.now)) if soak is not None and timer is not None else {}
    if late and soak is not None:
        # Else a soak past its limit would begin anew without a lead.
        return refuse("past-limit", subject=ctx.subject, bath=soak.label, over=clock_text(late["late_s"]))
    refs = {"bath": soak.bath} if soak else {}
    return event(ctx, {"reason": ctx.get("reason"), "contact_s": passed, **_from_zero()}, **refs)
