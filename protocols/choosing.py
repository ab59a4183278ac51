"""decide for what a lead settles for the unit: limit sets, and chemistry claims confirmed against the label in hand."""

from __future__ import annotations

from typing import Any

from protocols.claims import RETYPED
from protocols.clock import local_date
from protocols.context import Context
from protocols.event import Decision
from protocols.model import Claim
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.stock import Chosen, Confirmed

_DAY_S = 86_400
# What the command calls each figure of a claim.
_TYPED = {name: value for value, name in RETYPED.items()}
# For these a larger figure asks less of the user; for all others a smaller one does.
_LAXER_WHEN_LARGER = ("temp_c_max", "reuse_d_max", "opened_d_max", "strip_read_s_max")


def choose_limits(ctx: Context) -> Decision | Refusal:
    """Choose a limit set for the unit. The choosing lead must have seen how the sources disagree (`seen`)."""
    limits = ctx.shelf.limits
    chosen = limits.sets.get(ctx.subject)
    if chosen is None:
        return refuse("unknown-limits", subject=ctx.subject, known=", ".join(limits.sets) or aside("none"))
    present = ctx.unit.limits.get(chosen.kind)
    if ctx.get("drop"):
        if present is None or present.id != chosen.id:
            return refuse("no-change")
        return Decision("choose-limits", chosen.id, {}, {"limit": chosen.kind, "chosen": None, "instead_of": chosen.id})
    rivals = [{"id": r.id, "title": r.title, "known": r.known} for r in limits.rivals(chosen)]
    disagree = limits.disagree[chosen.kind]
    if ctx.get("seen") is not True:
        others = "; ".join(f"{r['id']} ({r['title']}: {r['known']})" for r in rivals)
        return refuse("not-seen", kind=chosen.kind, disagree=disagree, subject=chosen.id, title=chosen.title,
                      known=chosen.known, says=chosen.says or aside("nothing-more"), others=others)  # fmt: skip
    figures: dict[str, Any] = {name: figure.value for name, figure in chosen.figures.items()}
    sources = {name: {"source": f.source, "how": f.how} for name, f in chosen.figures.items()}
    days = ctx.get("storage_d")
    if chosen.assessed:
        if days is None:
            return refuse("needs-assessment", subject=chosen.id)
        figures["hang_s_max"] = days * _DAY_S
        sources["hang_s_max"] = {"source": f"risk assessment entered by {ctx.command.by}", "how": "facility"}
    elif days is not None:
        return refuse("no-assessment", subject=chosen.id)
    named = {"id": chosen.id, "origin": chosen.origin, "always": chosen.always, **figures}
    if present is not None and present._replace(by="", day="") == Chosen(**named):
        return refuse("no-change")
    data = {
        "limit": chosen.kind, "chosen": named, "title": chosen.title, "sources": sources, "disagree": disagree,
        "rivals": rivals, "instead_of": present.id if present else "",
    }  # fmt: skip
    return Decision("choose-limits", chosen.id, {}, data)


def confirm_claim(ctx: Context) -> Decision | Refusal:
    """Confirm a chemistry claim against the label in hand, every figure typed anew; only then is a memory row enabled.

    A figure of the row that was read somewhere may be confirmed or made stricter, never laxer: a laxer label is another
    product. A figure from memory is replaced by what the label says.
    """
    claim = ctx.shelf.claims.get(ctx.subject)
    if claim is None:
        return refuse("unknown-claim", claim=ctx.subject, known=", ".join(ctx.shelf.claims))
    if claim.use != "manual":
        return refuse("not-manual", title=claim.title, use=claim.use)
    if ctx.get("by_hand") is not True:
        return refuse("not-by-hand", claim=claim.id, title=claim.title)
    given = {RETYPED[name]: ctx.get(name) for name in RETYPED if ctx.get(name) is not None}
    wrong = _incomplete(ctx, claim, given) or _laxer(claim, given)
    if wrong:
        return wrong
    confirmed = Confirmed(
        claim.id, given, ctx.get("label"), ctx.command.by,
        local_date(ctx.now.wall_ms, ctx.unit.settings.zone).isoformat(), bool(ctx.get("single_use")),
        claim.needs_activation or bool(ctx.get("needs_activation")), ctx.get("strip_type") or "",
    )  # fmt: skip
    if ctx.unit.claims.get(claim.id) == confirmed:
        return refuse("no-change")
    row = {name: {"value": f.value, "source": f.source, "how": f.how} for name in RETYPED.values()
           if (f := getattr(claim, name)) is not None}  # fmt: skip
    return Decision("confirm-claim", claim.id, {}, {"confirmed": confirmed._asdict(), "title": claim.title, "row": row})


def _incomplete(ctx: Context, claim: Claim, given: dict[str, Any]) -> Refusal | None:
    single = bool(ctx.get("single_use"))
    needed = {"contact_s_min", "temp_c_min", *(set() if single else {"reuse_d_max"})}
    for name in RETYPED.values():
        figure = getattr(claim, name)
        if figure is not None and figure.how == "memory" and not (single and name == "reuse_d_max"):
            needed.add(name)
    missing = [value for value, name in RETYPED.items() if name in needed - given.keys()]
    if missing:
        return refuse("label-figures", claim=claim.id, title=claim.title, missing=", ".join(missing))
    if single and "reuse_d_max" in given:
        return refuse("label-both", claim=claim.id, title=claim.title)
    low, high = given.get("strip_read_s_min"), given.get("strip_read_s_max")
    if low is not None and high is not None and low > high:
        return refuse("window-order", first=f"{low:g}", last=f"{high:g}")
    most = given.get("temp_c_max")
    if most is not None and most < given["temp_c_min"]:
        return refuse("window-order", first=f"{given['temp_c_min']:g} °C", last=f"{most:g} °C")
    return None


def _laxer(claim: Claim, given: dict[str, Any]) -> Refusal | None:
    for name, value in given.items():
        figure = getattr(claim, name)
        if figure is None or figure.how == "memory":
            continue
        if value > figure.value if name in _LAXER_WHEN_LARGER else value < figure.value:
            return refuse("label-differs", claim=claim.id, title=claim.title, name=_TYPED[name], label=f"{value:g}",
                          row=f"{figure.value:g}", source=figure.source)  # fmt: skip
    return None
