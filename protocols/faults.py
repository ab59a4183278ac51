"""Handlers for a scope's faults: quarantine, decontamination before repair, away, and the checks on return.

A fault ends in one way only: leak test and inspection pass on return, a lead answers for it, and a whole cycle follows.
"""

from __future__ import annotations

from typing import Any

from protocols.context import Context
from protocols.event import Decision
from protocols.model import Move
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.unit import Cycle, Fault

KINDS = ("leak", "damage", "contamination", "other")
RETURNED = "returned from repair"


def report_fault(ctx: Context) -> Decision | Refusal:
    """Put a scope into quarantine, whatever it is doing: a cycle under way goes on, and ends with the scope held."""
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    if scope.fault is not None and scope.fault.away is not None:
        return refuse(
            "away", subject=ctx.subject, why=aside("with", repairer=scope.fault.repairer, why=scope.fault.why)
        )
    cycle = ctx.unit.cycles.get(ctx.subject)
    refs = {"scope": ctx.subject, **({"cycle": cycle.id, "case": cycle.case} if cycle else {})}
    fault = besides(scope.fault, ctx.get("kind"), ctx.get("text"), ctx.get("owner") or "")
    return Decision("report-fault", ctx.subject, refs, {"fault": fault})


# A contaminated scope needs a culture besides the checks that every other kind needs.
_STRICTER = ("contamination", "leak", "damage", "other")


def besides(before: Fault | None, kind: str, why: str, owner: str) -> dict[str, str]:
    """Promise the fault as an event holds it, with what was known of the scope before.

    One quarantine at a time: what is found besides is added, and the kind that needs more stays.
    """
    if before is not None:
        kind, why = min(kind, before.kind, key=_STRICTER.index), f"{before.why}; {why}"
    return {"kind": kind, "why": why, "owner": owner or (before.owner if before else "")}


def _open_fault(ctx: Context) -> Fault | Refusal:
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    if scope.fault is None or scope.fault.returned is not None:
        return refuse("no-fault", subject=ctx.subject)
    return scope.fault


def decontaminate(ctx: Context) -> Decision | Refusal:
    """Record how a scope in quarantine was decontaminated, so that it may be handed to a repairer."""
    fault = _open_fault(ctx)
    if isinstance(fault, Refusal):
        return fault
    if fault.away is not None:
        return refuse("away", subject=ctx.subject, why=aside("with", repairer=fault.repairer, why=fault.why))
    return Decision("decontaminate", ctx.subject, {"scope": ctx.subject}, {"how": ctx.get("how")})


def send_for_repair(ctx: Context) -> Decision | Refusal:
    """Send a scope away: never one that nobody has decontaminated."""
    fault = _open_fault(ctx)
    if isinstance(fault, Refusal):
        return fault
    if fault.away is not None:
        return refuse("away", subject=ctx.subject, why=aside("with", repairer=fault.repairer, why=fault.why))
    if not fault.decontaminated:
        return refuse("not-decontaminated", subject=ctx.subject)
    data = {"repairer": ctx.get("to"), "decontaminated": fault.decontaminated}
    if ctx.get("reference"):
        data["reference"] = ctx.get("reference")
    return Decision("send-for-repair", ctx.subject, {"scope": ctx.subject}, data)


def return_checked(ctx: Context) -> Decision | Refusal:
    """Take a scope back: in quarantine still unless leak test and inspection pass, else on to a whole cycle."""
    fault = _open_fault(ctx)
    if isinstance(fault, Refusal):
        return fault
    leak, looked = ctx.get("leak_test"), ctx.get("inspection")
    if leak == "none" and _has_leak_test(ctx):
        return refuse("needs-leak-test", subject=ctx.subject)
    passed = leak != "fail" and looked == "pass"
    if passed and fault.kind == "contamination" and not ctx.get("culture"):
        return refuse("needs-culture", subject=ctx.subject)
    data: dict[str, Any] = {
        **ctx.command.values, "fault": fault.kind, "why": fault.why, "from": fault.repairer, "passed": passed,
    }  # fmt: skip
    if passed:
        data["outcome"] = RETURNED
        data["notices"] = [kept("whole-cycle", scope=ctx.subject)]
    else:
        data["why"] = kept("return-failed", why=fault.why, leak=leak, looked=looked)
        data["notices"] = [kept("stays", scope=ctx.subject)]
    last = ctx.unit.scopes[ctx.subject].last
    refs = {"scope": ctx.subject, **({"cycle": last.cycle} if last is not None else {})}
    return Decision("return-checked", ctx.subject, refs, data)


def _has_leak_test(ctx: Context) -> bool:
    sha = ctx.unit.protocols.get(ctx.unit.scopes[ctx.subject].protocol)
    protocol = ctx.shelf.protocol(sha) if sha is not None else None
    return protocol is None or any(o.move is Move.LEAK for s in protocol.steps for o in s.outcomes)


def with_fault(ctx: Context, decision: Decision, cycle: Cycle) -> Decision:
    """Promise the decision; one that takes the scope out of service also names the fault that puts it in quarantine."""
    if decision.data.get("ends") != "out of service":
        return decision
    data = decision.data
    outcome = ctx.step.outcome(data["outcome"]) if decision.kind == "look" else None
    kind = (
        "leak" if "leak" in cycle.flags else "damage" if outcome is not None and outcome.move is Move.OUT else "other"
    )
    found = kept("leak-failed") if kind == "leak" else data.get("outcome")
    why = str(data.get("reason") or found or kind)
    scope = ctx.unit.scopes.get(cycle.scope)
    fault = besides(scope.fault if scope else None, kind, why, data.get("owner") or "")
    return decision._replace(data={**data, "fault": fault})
