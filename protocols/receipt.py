"""Handlers for the two ends of a cycle's life that are not steps: receipt, and what a lead or a release adds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from protocols.case_reference import fits
from protocols.clock import clock_text, local_date, longest_s, parse_date, parse_wall, wall_text
from protocols.context import Context, arrive, event, go_back
from protocols.errors import Defect
from protocols.event import Decision
from protocols.issue import TIMES, WARN_BEFORE_S, already_s, correct_use, taken_over
from protocols.limits import delay_of
from protocols.model import Move
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.steps import no_maximum
from protocols.unit import Cycle, Last, Scope

UNDO_S = 10
# Without a case: what a scope may be reprocessed for that nobody has used.
AGAIN = ("storage", "repair", "hold", "new", "other")


def receive(ctx: Context) -> Decision | Refusal:
    """Start a cycle. An unknown end time or a missing pre-clean takes the delayed branch, never "on time".

    A scope that was not used since its last cycle may be taken in without a case, with the reason in `again`.
    """
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    sha = ctx.unit.protocols.get(scope.protocol)
    wrong = _kept_out(ctx, scope)
    if wrong:
        return wrong
    if sha is None:
        return refuse("unknown-protocol", protocol=scope.protocol, known=", ".join(ctx.unit.protocols) or aside("none"))
    wrong = _case(ctx, scope) or _times_in_order(ctx)
    if wrong:
        return wrong
    protocol = ctx.shelf.protocol(sha)
    origin, limit, warn, chosen = delay_of(ctx.unit, protocol)
    flags = {protocol.disinfect_by}
    data: dict[str, Any] = {
        **ctx.command.values, "case": ctx.get("case") or "", "protocol": protocol.id, "text_sha256": sha,
        "family": protocol.family, "model": scope.model, "serial": scope.serial, "loaner": scope.loaner,
        "origin": origin, "undo": True,
    }  # fmt: skip
    if chosen:
        data["delay_limit"] = chosen
    notices = [kept("was-held", why=scope.hold.why)] if scope.hold is not None else []
    if scope.fault is not None and scope.fault.returned is None:
        notices.append(kept("in-quarantine", why=scope.fault.why))
    if scope.last is not None and scope.last.outcome == "handed over":
        notices.append(kept("went-elsewhere"))
    times, said = taken_over(ctx, scope.used)
    notices += said
    data.update({name: value for name, value in times.items() if value is not None})
    why = "" if ctx.get("again") else _delayed_at_once(ctx, times, TIMES[origin])
    if why:
        flags.add("delayed")
        notices.append(kept("delayed", why=why))
    elif not ctx.get("again"):
        data["delay"] = {"kind": "delay", "max_s": limit,
                         "already_s": already_s(ctx, scope.used, origin, times[TIMES[origin]]),
                         "warn_s": warn if warn is not None else max(0, limit - WARN_BEFORE_S)}  # fmt: skip
    if notices:
        data["notices"] = notices
    data.update(arrive(protocol, protocol.following("", frozenset(flags))), flags=sorted(flags))
    data["marks"] = {"delayed": bool(why)}
    return Decision("receive", ctx.subject, {"scope": ctx.subject, "case": data["case"]}, data)


def _kept_out(ctx: Context, scope: Scope) -> Refusal | None:
    if scope.last is not None and scope.last.outcome == "out of service":
        return refuse("out-of-service", subject=ctx.subject, why=aside("outcome", outcome=scope.last.outcome))
    fault = scope.fault
    if fault is not None and fault.away is not None:
        return refuse("away", subject=ctx.subject, why=aside("with", repairer=fault.repairer, why=fault.why))
    if fault is not None and fault.kind == "leak" and fault.returned is None:
        # Liquid would get into it.
        return refuse("fault-open", subject=ctx.subject, why=fault.why)
    return None


def _case(ctx: Context, scope: Scope) -> Refusal | None:
    """Promise why the case of a receipt can't be taken: missing, of the wrong form, or not the one it was issued to."""
    form, case, used = ctx.unit.settings.case_pattern, ctx.get("case"), scope.used
    if ctx.get("again"):
        if used is not None:
            return refuse("again-used", subject=ctx.subject)
        return None if case is None else refuse("again-case", subject=ctx.subject)
    missing = [n for n in ("case", "procedure_date", "procedure_type", "precleaned") if ctx.get(n) is None]
    if missing:
        return refuse("needs-receipt", subject=ctx.subject, missing=", ".join(missing))
    if not fits(form, case):
        return refuse("case-form", form=form)  # the reference itself may be a name: it is not said again
    return refuse("case-differs", subject=ctx.subject) if used is not None and case != used.case else None


def _times_in_order(ctx: Context) -> Refusal | None:
    zone = ctx.unit.settings.zone
    day, today = ctx.get("procedure_date"), local_date(ctx.now.wall_ms, zone)
    if day is not None and parse_date(day) > today:
        return refuse("future", name="procedure_date", value=day, now=today)
    for name in ("preclean_start", "procedure_end", "preclean_end"):
        value = ctx.get(name)
        if value is not None and parse_wall(value) > ctx.now.wall_ms:
            return refuse("future", name=name, value=value, now=wall_text(ctx.now.wall_ms, zone))
    first, second = ctx.get("preclean_start"), ctx.get("preclean_end")
    if first is not None and second is not None and parse_wall(first) > parse_wall(second):
        return refuse("order", first="preclean_start", a=first, second="preclean_end", b=second)
    return None


def _delayed_at_once(ctx: Context, times: Mapping[str, Any], origin: str) -> str:
    if ctx.get("precleaned") != "yes":
        return kept("preclean", done=ctx.get("precleaned"))
    if times["procedure_end"] is None:
        return kept("end-unknown")
    if times[origin] is None:
        return kept("origin-unknown", origin=origin.replace("_", " "))
    return ""


def undo(ctx: Context) -> Decision | Refusal:
    """Take back the last tap, for 10 s and where that is safe. The record keeps both."""
    cycle = ctx.cycle
    back = cycle.undo
    if back is None:
        if cycle.last_do == "undo":
            return refuse("undo-none", subject=ctx.subject)
        return refuse("undo-unsafe", what=aside("act", do=cycle.last_do, scope=ctx.subject))
    ago = longest_s(back.at, ctx.now)
    if ago > UNDO_S:
        return refuse("undo-late", ago=f"{ago:.0f}", within=UNDO_S)
    data = {"undoes": back.seq, "what": cycle.last_do, "step": back.cycle.step if back.cycle else ""}
    if back.cycle is None:
        data["ends"] = "undone"
    return Decision("undo", ctx.subject, _refs(cycle), data)


def _refs(cycle: Cycle) -> dict[str, str]:
    return {"cycle": cycle.id, "scope": cycle.scope, "case": cycle.case}


def note(ctx: Context) -> Decision | Refusal:
    """Keep a note; nothing else changes: no prompt is silenced, and the last tap can still be undone."""
    return event(ctx, {"what": ctx.get("what"), "text": ctx.get("text")})


def out_of_service(ctx: Context) -> Decision | Refusal:
    """End the cycle with the scope out of service and a named owner."""
    return event(ctx, {"reason": ctx.get("reason"), "owner": ctx.get("owner"), "to": "", "timer": None,
                       "hold": None, "ends": "out of service"})  # fmt: skip


def decide_hold(ctx: Context) -> Decision | Refusal:
    """A lead decides how a waiting scope goes on. Contact that was not proven can't simply be continued."""
    cycle, decision = ctx.cycle, ctx.get("decision")
    limitless = ctx.step.when == "delayed" and bool(no_maximum(ctx, ctx.step.id))
    if cycle.hold is None and not limitless:
        return refuse("not-waiting", subject=ctx.subject)
    if decision in ("keep", "reprocess"):
        return refuse("open-decision", subject=ctx.subject, decision=decision)
    held = cycle.hold.kind if cycle.hold else "no maximum"
    data: dict[str, Any] = {"decision": decision, "reason": ctx.get("reason"), "hold": None, "held": held,
                            "held_why": cycle.hold.why if cycle.hold else ""}  # fmt: skip
    if decision == "continue":
        return _continue(ctx, held, data)
    if decision == "out-of-service":
        return event(ctx, {**data, "to": "", "timer": None, "ends": "out of service"})
    protocol, again = ctx.protocol, decision == "clean-again"
    order = protocol.order(cycle.flags)
    target = next((s for s in order if (s.begins_cleaning if again else s.stage == "disinfect")), None)
    if target is None:
        raise Defect(f"protocol {protocol.id} has no step for {decision}")
    if protocol.positions[target.id] > protocol.positions[ctx.step.id]:
        return refuse("not-reached", subject=ctx.subject, step=ctx.step.id, decision=decision, target=target.id)
    return event(ctx, {**data, **go_back(protocol, cycle.flags, target.id)})


def _continue(ctx: Context, held: str, data: dict[str, Any]) -> Decision | Refusal:
    if held == "unproven lift":
        return refuse("unproven", subject=ctx.subject, why=ctx.cycle.hold.why if ctx.cycle.hold else held)
    if held != "no maximum":
        return event(ctx, data)
    maximum, minimum = ctx.get("soak_s_max"), ctx.step.soak_s_min
    if maximum is None:
        return refuse("no-maximum")
    if minimum is not None and maximum < minimum.value:
        return refuse("soak-limits", step=ctx.step.id, needed=clock_text(minimum.value), most=clock_text(maximum))
    return event(ctx, {**data, "marks": {"extended_s_max": maximum}})


def correct(ctx: Context) -> Decision | Refusal:
    """A lead corrects a leak result in the leak branch: the scope goes back to its leak test."""
    cycle = ctx.unit.cycles.get(ctx.subject)
    if ctx.get("what") == "leak" and cycle is not None and "leak" in cycle.flags:
        protocol = ctx.protocol
        test = next(s for s in protocol.steps if any(o.move is Move.LEAK for o in s.outcomes))
        flags = sorted(cycle.flags - {"leak"})
        back = go_back(protocol, frozenset(flags), test.id)
        return event(ctx, {"what": "leak", "reason": ctx.get("reason"), "flags": flags, **back})
    scope = ctx.unit.scopes.get(ctx.subject)
    last = scope.last if scope is not None else None
    if (
        ctx.get("what") == "service"
        and cycle is None
        and scope is not None
        and last is not None
        and last.outcome == "out of service"
    ):
        return _to_service(ctx, scope, last)
    if ctx.get("what") == "issue" and cycle is None and scope is not None and scope.used is not None:
        return correct_use(ctx, scope)
    bath = ctx.unit.baths.get(ctx.subject)
    if ctx.get("what") == "strip" and bath is not None and bath.failed and not bath.closed:
        return Decision("correct", ctx.subject, {"bath": bath.uid}, {"what": "strip", "reason": ctx.get("reason")})
    return refuse("nothing-to-correct", what=ctx.get("what"), subject=ctx.subject)


def _to_service(ctx: Context, scope: Scope, last: Last) -> Decision | Refusal:
    data = {"what": "service", "reason": ctx.get("reason")}
    if scope.fault is not None:
        if scope.fault.kind != "other" or scope.fault.away is not None:
            return refuse("fault-open", subject=ctx.subject, why=scope.fault.why)
        data["clears_fault"] = True
    return Decision("correct", ctx.subject, {"scope": ctx.subject, "cycle": last.cycle}, data)


def void(ctx: Context) -> Decision | Refusal:
    """A lead voids a cycle with a reason: an open one ends, an ended one is amended."""
    if ctx.subject in ctx.unit.cycles:
        # Voiding would let the scope be received again as if it had never leaked.
        if "leak" in ctx.cycle.flags:
            return refuse("leaking", subject=ctx.subject)
        return event(ctx, {"reason": ctx.get("reason"), "to": "", "timer": None, "hold": None, "ends": "voided"})
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None or scope.last is None or scope.last.outcome == "voided":
        return refuse("no-cycle", subject=ctx.subject)
    return Decision(
        "void", ctx.subject, {"scope": ctx.subject, "cycle": scope.last.cycle}, {"reason": ctx.get("reason")}
    )
