"""Handlers for a scope whose cycle has ended: its release by a named person, and a lead's decision when it is held."""

from __future__ import annotations

from typing import Any

from protocols.clock import clock_text, longest_s
from protocols.context import Context
from protocols.event import Decision
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.unconfirmed import acts_on
from protocols.whereabouts import Place, hang_of_stored, place_of, why_there

# What a lead may decide about a held scope after its cycle, and how that cycle stands afterwards ("" as before).
DECISIONS = {"keep": "", "reprocess": "to be reprocessed", "out-of-service": "out of service"}


def release(ctx: Context) -> Decision | Refusal:
    """A named person releases a completed scope for use. The app never does."""
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    last = scope.last
    if scope.hold is not None:
        return refuse("held", subject=ctx.subject, why=scope.hold.why)
    acts = acts_on(ctx.unit, ctx.subject)
    if acts:
        return refuse("acts-unconfirmed", subject=ctx.subject, count=len(acts))
    if last is None:
        return refuse("not-releasable", subject=ctx.subject, why=aside("no-completed"))
    if last.outcome != "completed":
        return refuse("not-releasable", subject=ctx.subject, why=aside("last-cycle", outcome=last.outcome))
    if last.released_by:
        return refuse("released", subject=ctx.subject, by=last.released_by)
    place = place_of(ctx.unit, ctx.subject)
    if place is not Place.STORED:
        why = aside("place", place=place.value, why=why_there(ctx.unit, ctx.subject))
        return refuse("not-releasable", subject=ctx.subject, why=why)
    stored_s = longest_s(last.dried, ctx.now) if last.dried else None
    hang = hang_of_stored(ctx.unit, scope, ctx.now)
    if hang.state == "due" and stored_s is not None:
        why = aside("hung", time=clock_text(stored_s), limit=clock_text(hang.limit_s or 0))
        return refuse("not-releasable", subject=ctx.subject, why=why)
    data = {"hung_s": stored_s, **({"place": ctx.get("place")} if ctx.get("place") else {})}
    return Decision("release", ctx.subject, {"scope": ctx.subject, "cycle": last.cycle}, data)


def decide_stored(ctx: Context) -> Decision | Refusal:
    """A lead decides about a scope that a failed strip test holds after its cycle ended.

    Keep it by the IFU and the unit's policy; have it reprocessed, which only a whole new cycle does; or take it out of
    service.
    """
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    if scope.hold is None:
        return refuse("no-cycle", subject=ctx.subject)
    decision = ctx.get("decision")
    if decision not in DECISIONS:
        return refuse("stored-decision", subject=ctx.subject, decision=decision)
    data: dict[str, Any] = {"decision": decision, "reason": ctx.get("reason"), "held": scope.hold.why,
                            "stored_outcome": DECISIONS[decision]}  # fmt: skip
    refs = {"scope": ctx.subject, "cycle": scope.hold.cycle, "bath": scope.hold.bath}
    return Decision("decide", ctx.subject, refs, data)
