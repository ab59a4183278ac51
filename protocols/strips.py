"""decide for bottles of test strips: their registering, the control of a new lot, their end, and which bath they suit.

What a strip shows is in `protocols.strip_tests`.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from protocols import bath as baths
from protocols.clock import parse_date
from protocols.containers import scanned, told
from protocols.context import Context
from protocols.event import Decision
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.stock import Bath, Strips, strip_kind
from protocols.wall import days_after

# Strips of a new lot on solution at full strength, and on weakened solution. Source: audit form (AUDIT1, second-hand).
CONTROLS = 3


def register_strips(ctx: Context) -> Decision | Refusal:
    """Register a bottle of strips when it is opened. A lot that was controlled needs no second control."""
    present = ctx.unit.strips.get(ctx.subject)
    if present is not None and not present.closed:
        return refuse("strips-known", subject=ctx.subject)
    label = scanned(ctx)
    if isinstance(label, Refusal):
        return label
    given = told(ctx, ("lot", "expires", "opened", "type"), label)
    if isinstance(given, Refusal):
        return given
    bottle: dict[str, Any] = {**given, "lot": given["lot"] or ctx.subject, "gtin": label.gtin}
    if not bottle["expires"]:
        return refuse("needs-label", do=ctx.command.do, missing="expires")
    bottle.update({
        name: ctx.get(value) for name, value in (("opened_d_max", "opened_d"), ("dip_s", "dip_s"),
                                                 ("read_s_min", "read_s_from"), ("read_s_max", "read_s_to"))
        if ctx.get(value) is not None
    })  # fmt: skip
    low, high = bottle.get("read_s_min"), bottle.get("read_s_max")
    if low is not None and high is not None and low > high:
        return refuse("window-order", first=f"{low:g}", last=f"{high:g}")
    same = [
        s
        for s in ctx.unit.strips.values()
        if (s.lot, strip_kind(s.type)) == (bottle["lot"], strip_kind(bottle["type"]))
    ]
    bottle["controlled"] = any(s.controlled for s in same)
    trial = Strips("", ctx.subject, registered=ctx.now, registered_by=ctx.command.by, **bottle)
    today = baths.latest_day(ctx.now, ctx.now, ctx.unit.settings.zone)
    if parse_date(bottle["opened"]) > today:
        return refuse("future", name="opened", value=bottle["opened"], now=today)
    over = _out_of_date(ctx, trial)
    return over or Decision("register-strips", ctx.subject, {"lot": bottle["lot"]}, {"strips": bottle})


def last_day(bottle: Strips) -> tuple[date, str]:
    """Promise the last day on which a strip of the bottle may be used, and which date that is by."""
    ends = [(parse_date(bottle.expires), kept("printed"))]
    if bottle.opened_d_max is not None:
        ends.append((days_after(parse_date(bottle.opened), bottle.opened_d_max), kept("open-bottle")))
    return min(ends)


def _out_of_date(ctx: Context, bottle: Strips) -> Refusal | None:
    last, what = last_day(bottle)
    if baths.latest_day(bottle.registered, ctx.now, ctx.unit.settings.zone) > last:
        return refuse("strips-expired", strips=bottle.label, what=what, date=last.isoformat())
    return None


def _bottle(ctx: Context, label: str) -> Strips | Refusal:
    bottle = ctx.unit.strips.get(label)
    if bottle is None:
        known = ", ".join(s.label for s in ctx.unit.strips.values() if not s.closed) or aside("none")
        return refuse("unknown-strips", strips=label, known=known)
    return refuse("strips-closed", strips=label, why=bottle.closed) if bottle.closed else bottle


def strip_control(ctx: Context) -> Decision | Refusal:
    """Record the control of a lot: strips on full strength must pass, on weakened solution must fail.

    Three right ones each make the lot usable; a single wrong one discards the bottle and takes the lot's control back.
    """
    bottle = _bottle(ctx, ctx.subject)
    if isinstance(bottle, Refusal):
        return bottle
    over = _out_of_date(ctx, bottle)
    if over:
        return over
    right = {name: int(ctx.get(name)) for name in ("positive", "negative")}
    wrong = int(ctx.get("wrong") or 0)
    if not wrong and min(right.values()) < CONTROLS:
        return refuse("control-few", strips=bottle.label, needed=CONTROLS, **right)
    data: dict[str, Any] = {**right, "wrong": wrong, "result": "fail" if wrong else "pass", "lot": bottle.lot,
                            "type": bottle.type}  # fmt: skip
    if wrong:
        data["closed"] = kept("control-failed")
        if bottle.controlled:
            data["notices"] = [kept("covered", lot=bottle.lot)]
    return Decision("strip-control", ctx.subject, {"lot": bottle.lot, "strips": bottle.uid}, data)


def close_strips(ctx: Context) -> Decision | Refusal:
    """Discard a bottle of strips."""
    bottle = _bottle(ctx, ctx.subject)
    if isinstance(bottle, Refusal):
        return bottle
    refs = {"lot": bottle.lot, "strips": bottle.uid}
    return Decision("close-strips", ctx.subject, refs, {"reason": ctx.get("reason")})


def not_for(ctx: Context, bath: Bath) -> Refusal | None:
    """Promise why strips of the bottle that the command names can't vouch for that bath; None when they can."""
    if ctx.get("strip_lot") not in ctx.unit.strips and not ctx.unit.settings.strip_register:
        return None
    bottle = _bottle(ctx, ctx.get("strip_lot"))
    if isinstance(bottle, Refusal):
        return bottle
    over = _out_of_date(ctx, bottle)
    if over:
        return over
    if not bottle.controlled:
        return refuse("strips-uncontrolled", strips=bottle.label, lot=bottle.lot, needed=CONTROLS)
    if bath.strip_type and strip_kind(bath.strip_type) != strip_kind(bottle.type):
        return refuse("strip-kind", strips=bottle.label, type=bottle.type, bath=bath.label, needed=bath.strip_type)
    return None


def reading_window(bath: Bath, bottle: Strips | None) -> tuple[float | None, float | None]:
    """Promise when a strip may be read, earliest and latest in s from its dip: by the bottle, else by the claim."""
    if bottle is not None and (bottle.read_s_min is not None or bottle.read_s_max is not None):
        return bottle.read_s_min, bottle.read_s_max
    return bath.strip_read_s_min, bath.strip_read_s_max


def dip_time_s(bath: Bath, bottle: Strips | None) -> float | None:
    """Promise how long a strip stays in the bath, in s: by the bottle, else by the claim; None where neither says."""
    return bottle.dip_s if bottle is not None and bottle.dip_s is not None else bath.strip_dip_s
