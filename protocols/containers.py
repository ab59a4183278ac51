"""decide for containers of solution, and what a label says of one: typed, scanned, or taken over from the container.

A bath that is poured without a registered container gives the same facts by hand (`protocols.solutions`), and a bottle
of strips has such a label too (`protocols.strips`).
"""

from __future__ import annotations

from typing import Any

from protocols.claims import claim_of
from protocols.clock import local_date, parse_date, wall_text
from protocols.context import Context
from protocols.event import Decision
from protocols.labels import Label, LabelFault, read_label
from protocols.model import Claim
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.stock import Container

DETERGENT = "detergent"
NEEDED = ("kind", "lot", "expires", "opened")


def scanned(ctx: Context) -> Label | Refusal:
    """Promise what the command's scan says, an empty label without one, or why it can't be read for certain."""
    text = ctx.get("scan")
    if text is None:
        return Label()
    try:
        return read_label(text, local_date(ctx.now.wall_ms, ctx.unit.settings.zone))
    except LabelFault as fault:
        return refuse("label-unread", why=fault.args[0])


def told(ctx: Context, names: tuple[str, ...], label: Label, held: Container | None = None) -> dict[str, Any] | Refusal:
    """Promise the named values as typed, scanned or taken over from a container; a refusal where two of them differ."""
    expires = label.expires or label.best_before
    read = {"lot": label.lot or label.text, "expires": expires.isoformat() if expires else ""}
    found: dict[str, Any] = {}
    for name in names:
        typed, seen, had = ctx.get(name), read.get(name), getattr(held, name, None)
        if typed and seen and typed != seen:
            return refuse("label-contradicts", name=name, typed=typed, scanned=seen)
        # nothing is scanned where something is poured from a container
        if held is not None and typed and typed != had and name != "activated":
            return refuse("container-differs", container=held.label, name=name, held=had or aside("none"), given=typed)
        found[name] = typed or seen or had or ""
    return found


def register_container(ctx: Context) -> Decision | Refusal:
    """Register a container when it is opened: what it holds, lot, printed expiry, opened, activated or diluted."""
    present = ctx.unit.containers.get(ctx.subject)
    if present is not None and not present.closed:
        zone = ctx.unit.settings.zone
        return refuse("container-known", subject=ctx.subject, since=wall_text(present.registered.wall_ms, zone))
    label = scanned(ctx)
    if isinstance(label, Refusal):
        return label
    container = told(ctx, (*NEEDED, "claim", "title", "activated"), label)
    if isinstance(container, Refusal):
        return container
    wrong = missing(ctx, container) or wrong_dates(ctx, container)
    if wrong:
        return wrong
    if container["kind"] == DETERGENT:
        container["title"] = container["title"] or DETERGENT
        container["claim"] = ""
    else:
        claim = pourable(ctx, container["claim"])
        if isinstance(claim, Refusal):
            return claim
        container["title"] = claim.title
    data = {"container": {**container, "gtin": label.gtin}}
    return Decision("register-container", ctx.subject, {"lot": container["lot"]}, data)


def close_container(ctx: Context) -> Decision | Refusal:
    """Discard a container: nothing more is poured from it. Baths that were poured from it stay."""
    held = open_container(ctx, ctx.subject)
    if isinstance(held, Refusal):
        return held
    return Decision(
        "close-container", ctx.subject, {"container": held.uid, "lot": held.lot}, {"reason": ctx.get("reason")}
    )


def open_container(ctx: Context, label: str) -> Container | Refusal:
    """Promise the container of that label from which something can still be poured, or that there is none."""
    held = ctx.unit.containers.get(label)
    if held is None or held.closed:
        known = ", ".join(c.label for c in ctx.unit.containers.values() if not c.closed) or aside("none")
        return refuse("unknown-container", container=label, known=known)
    return held


def pourable(ctx: Context, name: str) -> Claim | Refusal:
    """Promise the claim as it holds for the unit, or why nothing may be poured under it."""
    claim = claim_of(ctx.unit, ctx.shelf, name)
    if claim is None:
        return refuse("unknown-claim", claim=name, known=", ".join(ctx.shelf.claims))
    if not claim.enabled:
        return refuse("not-enabled", claim=claim.id, title=claim.title)
    if claim.use == "unsuitable":
        return refuse("unsuitable", title=claim.title)
    return refuse("not-manual", title=claim.title, use=claim.use) if claim.use == "sterilant" else claim


def missing(ctx: Context, values: dict[str, Any]) -> Refusal | None:
    """Promise which facts of the label nobody gave; None where all that are needed are there."""
    lacking = [name for name in NEEDED if not values[name]]
    return refuse("needs-label", do=ctx.command.do, missing=", ".join(lacking)) if lacking else None


def wrong_dates(ctx: Context, values: dict[str, Any]) -> Refusal | None:
    """Promise which date of the label can't be: to come, before the opening, or past as a printed expiry."""
    today = local_date(ctx.now.wall_ms, ctx.unit.settings.zone)
    dates = {name: parse_date(values[name]) for name in ("opened", "activated", "expires") if values.get(name)}
    for name in ("opened", "activated"):
        if name in dates and dates[name] > today:
            return refuse("future", name=name, value=dates[name], now=today)
    if "activated" in dates and dates["activated"] < dates["opened"]:
        return refuse("date-order", first="opened", a=dates["opened"], second="activated", b=dates["activated"])
    if dates["expires"] < today:
        return refuse("bath-expired", bath=ctx.subject, what=kept("printed"), date=dates["expires"])
    return None
