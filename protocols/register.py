"""decide for the unit's lists: people, scopes, protocols, baths and strip tests."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from protocols import bath as baths
from protocols.clock import local_date, longest_s, parse_date, proven_s, wall_text
from protocols.context import Context
from protocols.cycle import DOUBLE_S
from protocols.errors import ProtocolFault
from protocols.event import Decision
from protocols.model import Claim, Figure
from protocols.refusals import Refusal, refuse
from protocols.rules import claim_findings
from protocols.unit import Bath

DETERGENT = "detergent"


def set_unit(ctx: Context) -> Decision | Refusal:
    """Change the unit's own settings; those not given stay."""
    settings = {**ctx.unit.settings._asdict(), **ctx.command.values}
    if settings == ctx.unit.settings._asdict():
        return refuse("no-change")
    return Decision("set-unit", ctx.subject, {}, {"settings": settings})


def add_person(ctx: Context) -> Decision | Refusal:
    """Put a person on the list."""
    if ctx.subject in ctx.unit.people:
        return refuse("person-known", subject=ctx.subject)
    return Decision("add-person", ctx.subject, {"person": ctx.subject}, dict(ctx.command.values))


def add_scope(ctx: Context) -> Decision | Refusal:
    """Put a scope on the list, with an adopted protocol."""
    if ctx.subject in ctx.unit.scopes:
        return refuse("scope-known", subject=ctx.subject)
    if ctx.get("protocol") not in ctx.unit.protocols:
        known = ", ".join(ctx.unit.protocols) or "none adopted yet"
        return refuse("unknown-protocol", protocol=ctx.get("protocol"), known=known)
    return Decision("add-scope", ctx.subject, {"scope": ctx.subject}, {"scope": dict(ctx.command.values)})


def adopt_protocol(ctx: Context) -> Decision | Refusal:
    """Take a protocol text into use; one with faults is never run. Cycles under way keep the text they began with."""
    text = ctx.get("toml")
    if text is None:
        sha = ctx.shelf.shipped.get(ctx.subject)
        if sha is None:
            return refuse("unknown-protocol", protocol=ctx.subject, known=", ".join(ctx.shelf.shipped))
        protocol = ctx.shelf.protocol(sha)
    else:
        try:
            protocol = ctx.shelf.read(text, f"{ctx.subject}.toml")
        except ProtocolFault as fault:
            return refuse("protocol-fault", faults="; ".join(str(f) for f in fault.findings[:5]))
    if protocol.id != ctx.subject:
        return refuse("protocol-id", found=protocol.id, subject=ctx.subject)
    findings = claim_findings(protocol, dict(ctx.shelf.claims), f"{ctx.subject}.toml")
    if findings:
        return refuse("protocol-fault", faults="; ".join(str(f) for f in findings[:5]))
    if ctx.unit.protocols.get(ctx.subject) == protocol.text_sha256:
        return refuse("no-change")
    data = {"text_sha256": protocol.text_sha256, "title": protocol.title, "version": protocol.version}
    return Decision("adopt-protocol", ctx.subject, {}, data)


def pour_bath(ctx: Context) -> Decision | Refusal:
    """Pour a bath. For a disinfectant the claim's figures are resolved here, once, and kept in the record."""
    present = ctx.unit.baths.get(ctx.subject)
    zone = ctx.unit.settings.zone
    if present is not None and not present.closed:
        return refuse("bath-known", subject=ctx.subject, poured=wall_text(present.poured.wall_ms, zone))
    wrong = _label_dates(ctx)
    if wrong:
        return wrong
    bath: dict[str, Any] = {
        "kind": ctx.get("kind"), "lot": ctx.get("lot"), "expires": ctx.get("expires"), "opened": ctx.get("opened"),
        "activated": ctx.get("activated") or "",
    }  # fmt: skip
    if ctx.get("kind") == DETERGENT:
        return Decision("pour-bath", ctx.subject, {"lot": ctx.get("lot")},
                        {"bath": {**bath, "title": ctx.get("title") or DETERGENT}})  # fmt: skip
    claim = ctx.shelf.claims.get(ctx.get("claim") or "")
    if claim is None:
        return refuse("unknown-claim", claim=ctx.get("claim") or "", known=", ".join(ctx.shelf.claims))
    if not claim.enabled:
        return refuse("not-enabled", claim=claim.id)
    if claim.use == "sterilant":
        return refuse("not-manual", title=claim.title, use=claim.use)
    if claim.needs_activation and not bath["activated"]:
        return refuse("bath-not-activated", bath=ctx.subject, title=claim.title)
    figures, sources = _resolved(claim)
    return Decision(
        "pour-bath", ctx.subject, {"lot": ctx.get("lot")}, {"bath": {**bath, **figures}, "sources": sources}
    )


def _resolved(claim: Claim) -> tuple[dict[str, Any], dict[str, dict[str, str]]]:
    names = ("contact_s_min", "temp_c_min", "temp_c_max", "reuse_d_max", "opened_d_max")
    values: dict[str, Any] = {"claim": claim.id, "title": claim.title, "use": claim.use,
                              "needs_activation": claim.needs_activation, "single_use": claim.single_use}  # fmt: skip
    sources = {}
    for name in names:
        figure: Figure | None = getattr(claim, name)
        if figure is not None:
            values[name] = figure.value
            sources[name] = {"source": figure.source, "how": figure.how}
    return values, sources


def _label_dates(ctx: Context) -> Refusal | None:
    today = local_date(ctx.now.wall_ms, ctx.unit.settings.zone)
    dates = {name: parse_date(ctx.get(name)) for name in ("opened", "activated", "expires") if ctx.get(name)}
    for name in ("opened", "activated"):
        if name in dates and dates[name] > today:
            return refuse("future", name=name, value=dates[name], now=today)
    if "activated" in dates and dates["activated"] < dates["opened"]:
        return refuse("date-order", first="opened", a=dates["opened"], second="activated", b=dates["activated"])
    if dates["expires"] < today:
        return refuse("bath-expired", bath=ctx.subject, what="the printed expiry", date=dates["expires"])
    return None


def close_bath(ctx: Context) -> Decision | Refusal:
    """Discard a bath. A scope that lies in it is lifted all the same; nothing new goes in."""
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        return refuse("unknown-bath", bath=ctx.subject, known=", ".join(ctx.unit.baths) or "none")
    if bath.closed:
        return refuse("bath-closed", bath=ctx.subject, why=bath.closed)
    doubt = _doubt(ctx, bath, f"{bath.label} was discarded before contact was complete", complete=False)
    return Decision("close-bath", ctx.subject, {"bath": bath.uid}, {"reason": ctx.get("reason"), **doubt})


def _doubt(ctx: Context, bath: Bath, why: str, complete: bool = True) -> dict[str, Any]:
    """Promise the scopes that lie in the bath and whose contact is now in doubt; `complete`: even a finished one."""
    lying = [
        cycle.scope
        for cycle in ctx.unit.cycles.values()
        if cycle.soak is not None and cycle.timer is not None and cycle.soak.bath == bath.uid
        and (complete or proven_s(cycle.timer.since, ctx.now) < cycle.soak.required_s)
    ]  # fmt: skip
    return {"doubt": {"scopes": sorted(lying), "why": why}} if lying else {}


def strip_test(ctx: Context) -> Decision | Refusal:
    """Record a strip, read by eye, for one scope in one bath. A failure blocks the bath at once and can't be undone."""
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        known = ", ".join(b.label for b in ctx.unit.baths.values() if b.kind == "disinfectant")
        return refuse("unknown-bath", bath=ctx.subject, known=known or "none")
    if bath.kind != "disinfectant":
        return refuse("not-hld", bath=bath.label, kind=bath.kind)
    # A failing strip is always taken: what it says about the bath is true whatever else is wrong.
    if ctx.get("result") == "pass":
        wrong = baths.unusable(bath, ctx.unit, ctx.now)
        if wrong:
            return wrong
    scope = ctx.get("scope")
    cycle = ctx.unit.cycles.get(scope)
    if cycle is None and ctx.get("result") == "pass":
        return refuse("no-cycle", subject=scope)
    name = ctx.get("test") or f"strip-{ctx.unit.seq + 1}"
    if name in bath.tests:
        return refuse("strip-known", test=name)
    same = [t.at for t in bath.tests.values() if (t.scope, t.result) == (scope, ctx.get("result"))]
    if any(longest_s(at, ctx.now) < DOUBLE_S for at in same):
        return refuse("doubled", do="strip-test", subject=ctx.subject, within=DOUBLE_S)
    data: dict[str, Any] = {
        "scope": scope, "result": ctx.get("result"), "strip_lot": ctx.get("strip_lot"), "test": name,
        "bath_lot": bath.lot, "claim": bath.claim, "bath_age_s": proven_s(bath.poured, ctx.now),
    }  # fmt: skip
    if ctx.get("result") == "fail":
        data.update(_doubt(ctx, bath, f"{bath.label} failed a strip test while the scope lay in it"))
    refs = {"bath": bath.uid, "scope": scope, "test": name}
    if cycle is not None:
        refs.update(cycle=cycle.id, case=cycle.case)
    return Decision("strip-test", ctx.subject, refs, data)


HANDLERS: dict[str, Callable[[Context], Decision | Refusal]] = {
    "set-unit": set_unit, "add-person": add_person, "add-scope": add_scope, "adopt-protocol": adopt_protocol,
    "pour-bath": pour_bath, "close-bath": close_bath, "strip-test": strip_test,
}  # fmt: skip
