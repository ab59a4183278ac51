"""decide for baths of solution: poured, topped up and discarded.

Everything that limits a solution is a date or an age, and the earliest wins (`protocols.bath`): the printed expiry, the
life of the open container, the reuse life from pouring or from activation if that came first. Topping up changes none
of them for the better.
"""

from __future__ import annotations

from typing import Any

from protocols import bath as baths
from protocols.clock import proven_s, wall_text
from protocols.containers import DETERGENT, NEEDED, missing, open_container, pourable, told, wrong_dates
from protocols.context import Context
from protocols.event import Decision
from protocols.labels import Label
from protocols.model import Claim, Figure
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.stock import Bath, Container

# Figures of a claim that a bath takes over when it is poured.
_RESOLVED = (
    "contact_s_min", "temp_c_min", "temp_c_max", "reuse_d_max", "opened_d_max", "strip_dip_s", "strip_read_s_min",
    "strip_read_s_max", "rinse_times", "rinse_s_min",
)  # fmt: skip


def pour_bath(ctx: Context) -> Decision | Refusal:
    """Pour a bath from a container, or with the dates given. The claim's figures are resolved here, once, and kept."""
    present = ctx.unit.baths.get(ctx.subject)
    if present is not None and not present.closed:
        zone = ctx.unit.settings.zone
        return refuse("bath-known", subject=ctx.subject, poured=wall_text(present.poured.wall_ms, zone))
    poured = _poured(ctx)
    if isinstance(poured, Refusal):
        return poured
    values, refs = poured
    wrong = missing(ctx, values) or wrong_dates(ctx, values)
    if wrong:
        return wrong
    title, name = values.pop("title"), values.pop("claim")
    if values["kind"] == DETERGENT:
        return Decision("pour-bath", ctx.subject, refs, {"bath": {**values, "title": title or DETERGENT}})
    claim = pourable(ctx, name)
    if isinstance(claim, Refusal):
        return claim
    figures, sources = _resolved(claim)
    bath = {**values, **figures}
    # A bath that is past its life or not activated as it is poured would only be found out at its first strip.
    trial = Bath("", ctx.subject, poured=ctx.now, poured_by=ctx.command.by, **bath)
    over = baths.unusable(trial, ctx.unit, ctx.now)
    return over or Decision("pour-bath", ctx.subject, refs, {"bath": bath, "sources": sources})


def _poured(ctx: Context) -> tuple[dict[str, Any], dict[str, str]] | Refusal:
    """Promise what is poured, and the refs of its event."""
    held: Container | None = None
    if ctx.get("container") is not None:
        found = open_container(ctx, ctx.get("container"))
        if isinstance(found, Refusal):
            return found
        held = found
    values = told(ctx, (*NEEDED, "claim", "title", "activated"), Label(), held)
    if isinstance(values, Refusal):
        return values
    if held is None:
        return values, {"lot": values["lot"]}
    if held.activated:
        # Activated in the container: its life began there, whatever was written down at the pouring.
        values["activated"] = min(held.activated, values["activated"])
    values["container"] = held.uid
    return values, {"lot": held.lot, "container": held.uid}


def _resolved(claim: Claim) -> tuple[dict[str, Any], dict[str, dict[str, str]]]:
    values: dict[str, Any] = {"claim": claim.id, "title": claim.title, "use": claim.use,
                              "needs_activation": claim.needs_activation, "single_use": claim.single_use}  # fmt: skip
    if claim.strip_type:
        values["strip_type"] = claim.strip_type
    sources = {}
    for name in _RESOLVED:
        figure: Figure | None = getattr(claim, name)
        if figure is not None:
            values[name] = figure.value
            sources[name] = {"source": figure.source, "how": figure.how}
    return values, sources


def top_up(ctx: Context) -> Decision | Refusal:
    """Add solution to a bath. Its life stays what it was or becomes shorter, and strips dipped before cover nothing.

    Source: guideline summary (GIE-HLD), topping off "does not extend its reuse life".
    """
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        return refuse("unknown-bath", bath=ctx.subject, known=", ".join(ctx.unit.baths) or aside("none"))
    wrong = baths.unusable(bath, ctx.unit, ctx.now)
    if wrong:
        return wrong
    poured = _poured(ctx)
    if isinstance(poured, Refusal):
        return poured
    values, refs = poured
    added = values["claim"] or values["kind"]
    values["kind"], values["claim"] = values["kind"] or bath.kind, values["claim"] or bath.claim
    wrong = missing(ctx, values) or wrong_dates(ctx, values)
    if wrong:
        return wrong
    if (values["kind"], values["claim"]) != (bath.kind, bath.claim):
        return refuse("top-up-differs", bath=bath.label, held=bath.title, added=added)
    if bath.needs_activation and not values["activated"]:
        return refuse("bath-not-activated", bath=bath.label, title=bath.title)
    earliest = {}
    for name in ("expires", "opened", "activated"):
        earliest[name] = min([day for day in (getattr(bath, name), values[name]) if day], default="")
    data: dict[str, Any] = {"added": values, "now": earliest, "bath_lot": bath.lot}
    if any(not t.used and t.result == "pass" for t in bath.tests.values()):
        data["notices"] = [kept("topped-up")]
    return Decision("top-up", ctx.subject, {"bath": bath.uid, **refs}, data)


def close_bath(ctx: Context) -> Decision | Refusal:
    """Discard a bath. A scope that lies in it is lifted all the same; nothing new goes in.

    Anybody at the bench may take any bath out of use at once: that is a safety act, it must not wait for a lead, and it
    can only forbid. Closing for good a disinfectant that could still be used does more: its strips are read no more, so
    no failing one can look back any more at the scopes that lay in it. That is a lead's; from a technician the bath
    is withdrawn instead, and stays for a strip and for the lead. Detergent is poured fresh for every scope, and what
    can't be used any more (failed, past its life) has nothing left to show: those anybody closes.
    """
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        return refuse("unknown-bath", bath=ctx.subject, known=", ".join(ctx.unit.baths) or aside("none"))
    if bath.closed:
        return refuse("bath-closed", bath=ctx.subject, why=bath.closed)
    doubt = doubtful(ctx, bath, kept("discarded", bath=bath.label), complete=False)
    if not ctx.unit.lead(ctx.command.by) and bath.kind == "disinfectant":
        wrong = baths.unusable(bath, ctx.unit, ctx.now)
        if wrong is not None and wrong.key == "bath-withdrawn":
            return wrong
        if wrong is None and not (bath.single_use and bath.uses):
            data = {"reason": ctx.get("reason"), "notices": [kept("withdrawn", bath=bath.label)], **doubt}
            return Decision("withdraw-bath", ctx.subject, {"bath": bath.uid}, data)
    return Decision("close-bath", ctx.subject, {"bath": bath.uid}, {"reason": ctx.get("reason"), **doubt})


def doubtful(ctx: Context, bath: Bath, why: str, complete: bool = True) -> dict[str, Any]:
    """Promise the scopes that lie in the bath and whose contact is now in doubt; `complete`: even a finished one."""
    lying = [
        cycle.scope
        for cycle in ctx.unit.cycles.values()
        if cycle.soak is not None and cycle.timer is not None and cycle.soak.bath == bath.uid
        and (complete or proven_s(cycle.timer.since, ctx.now) < cycle.soak.required_s)
    ]  # fmt: skip
    return {"doubt": {"scopes": sorted(lying), "why": why}} if lying else {}
