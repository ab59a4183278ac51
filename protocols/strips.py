"""decide for test strips: their bottles, the control of a new lot, each strip read, and what a failing one holds.

A strip shows pass or fail, by eye. It covers one soak of one scope in one bath, and only when its bottle is registered,
in date, of the kind that the bath's claim needs, and its lot has been controlled. A strip read outside the window of
its label is void. A failing strip always counts: it blocks the bath and holds every scope that lay in it since, and
including, its last use under a passing strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from protocols import bath as baths
from protocols.clock import longest_s, parse_date, proven_s, wall_text
from protocols.context import Context
from protocols.cycle import DOUBLE_S
from protocols.event import Decision
from protocols.refusals import Refusal, refuse
from protocols.solutions import doubtful, scanned, told
from protocols.stock import Bath, Strips, Use, strip_kind
from protocols.unit import Cycle

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
    ends = [(parse_date(bottle.expires), "the printed expiry")]
    if bottle.opened_d_max is not None:
        ends.append((parse_date(bottle.opened) + timedelta(days=bottle.opened_d_max), "the life of the open bottle"))
    return min(ends)


def _out_of_date(ctx: Context, bottle: Strips) -> Refusal | None:
    last, what = last_day(bottle)
    if baths.latest_day(bottle.registered, ctx.now, ctx.unit.settings.zone) > last:
        return refuse("strips-expired", strips=bottle.label, what=what, date=last.isoformat())
    return None


def _bottle(ctx: Context, label: str) -> Strips | Refusal:
    bottle = ctx.unit.strips.get(label)
    if bottle is None:
        known = ", ".join(s.label for s in ctx.unit.strips.values() if not s.closed) or "none"
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
        data["closed"] = "failed its control"
        if bottle.controlled:
            data["notices"] = [f"soaks covered by strips of lot {bottle.lot} are in doubt: trace --lot {bottle.lot}"]
    return Decision("strip-control", ctx.subject, {"lot": bottle.lot, "strips": bottle.uid}, data)


def close_strips(ctx: Context) -> Decision | Refusal:
    """Discard a bottle of strips."""
    bottle = _bottle(ctx, ctx.subject)
    if isinstance(bottle, Refusal):
        return bottle
    refs = {"lot": bottle.lot, "strips": bottle.uid}
    return Decision("close-strips", ctx.subject, refs, {"reason": ctx.get("reason")})


def strip_test(ctx: Context) -> Decision | Refusal:
    """Record a strip, read by eye, for one scope in one bath. A failure blocks the bath at once and can't be undone."""
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        known = ", ".join(b.label for b in ctx.unit.baths.values() if b.kind == "disinfectant")
        return refuse("unknown-bath", bath=ctx.subject, known=known or "none")
    if bath.kind != "disinfectant":
        return refuse("not-hld", bath=bath.label, kind=bath.kind)
    result, scope = ctx.get("result"), ctx.get("scope")
    cycle = ctx.unit.cycles.get(scope)
    bottle = ctx.unit.strips.get(ctx.get("strip_lot"))
    # A failing strip is always taken: what it says about the bath is true whatever else is wrong.
    if result == "pass":
        wrong = baths.unusable(bath, ctx.unit, ctx.now)
        wrong = wrong or (refuse("no-cycle", subject=scope) if cycle is None else None)
        wrong = wrong or _not_for(ctx, bath)
        if wrong:
            return wrong
    name = ctx.get("test") or f"strip-{ctx.unit.seq + 1}"
    if name in bath.tests:
        return refuse("strip-known", test=name)
    same = [t.at for t in bath.tests.values() if (t.scope, t.result) == (scope, result)]
    if any(longest_s(at, ctx.now) < DOUBLE_S for at in same):
        return refuse("doubled", do="strip-test", subject=ctx.subject, within=DOUBLE_S)
    data: dict[str, Any] = {
        "scope": scope, "result": result, "strip_lot": bottle.lot if bottle else ctx.get("strip_lot"), "test": name,
        "bath_lot": bath.lot, "claim": bath.claim, "bath_age_s": proven_s(bath.poured, ctx.now),
        **_facts(ctx, bath, bottle),
    }  # fmt: skip
    refs = {"bath": bath.uid, "scope": scope, "test": name, **({"strips": bottle.uid} if bottle else {})}
    if cycle is not None:
        refs.update(cycle=cycle.id, case=cycle.case)
    if result == "fail":
        data.update(_failed(ctx, bath))
    return Decision("strip-test", ctx.subject, refs, data)


def _not_for(ctx: Context, bath: Bath) -> Refusal | None:
    """Promise why strips of that bottle can't vouch for that bath."""
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
    if ctx.get("read_after_s") is None and any(x is not None for x in _window(bath, bottle)):
        return refuse("needs-read-time", strips=bottle.label)
    return None


def _window(bath: Bath, bottle: Strips | None) -> tuple[float | None, float | None]:
    """The window for reading a strip: the bottle's own, else the claim's."""
    if bottle is not None and (bottle.read_s_min is not None or bottle.read_s_max is not None):
        return bottle.read_s_min, bottle.read_s_max
    return bath.strip_read_s_min, bath.strip_read_s_max


def _facts(ctx: Context, bath: Bath, bottle: Strips | None) -> dict[str, Any]:
    """What the record keeps of the bottle, and of the moment at which the strip was read."""
    facts: dict[str, Any] = {}
    if bottle is not None:
        facts = {"strips": bottle.label, "strip_type": bottle.type, "strip_expires": bottle.expires,
                 "strip_opened": bottle.opened, "strip_opened_d_max": bottle.opened_d_max}  # fmt: skip
    after_s = ctx.get("read_after_s")
    if after_s is None:
        return facts
    low, high = _window(bath, bottle)
    facts.update(read_after_s=after_s, read_s_min=low, read_s_max=high)
    outside = (low is not None and after_s < low) or (high is not None and after_s > high)
    if outside and ctx.get("result") == "pass":
        told_by = f"{low or 0:g} to {high:g} s" if high is not None else f"{low:g} s and later"
        facts.update(result="void", notices=[f"read after {after_s:g} s, outside {told_by}: void, dip a new strip"])
    return facts


def _failed(ctx: Context, bath: Bath) -> dict[str, Any]:
    """Promise what a failing strip holds: whoever lies in the bath, and all others since its last good use."""
    at = wall_text(ctx.now.wall_ms, ctx.unit.settings.zone)[:16].replace("T", " ")
    why = f"{bath.label} failed a strip test at {at} after the scope lay in it"
    holds = list(_holds(ctx, bath))
    told = _elsewhere(ctx, bath)
    data = doubtful(ctx, bath, f"{bath.label} failed a strip test while the scope lay in it")
    return {**data, **({"holds": holds, "holds_why": why} if holds else {}), **({"notices": told} if told else {})}


def _elsewhere(ctx: Context, bath: Bath) -> list[str]:
    """Promise what must be told by mouth: scopes of this bath that another handheld has, which knows of no strip."""
    told = []
    for use in bath.since:
        cycle, scope = ctx.unit.cycles.get(use.scope), ctx.unit.scopes.get(use.scope)
        offered = cycle is not None and cycle.id == use.cycle and cycle.offer is not None
        last = scope.last if scope is not None else None
        if offered or (last is not None and last.cycle == use.cycle and last.outcome == "handed over"):
            told.append(f"{use.scope} lay in {bath.label} and is with another handheld: report the fault there")
    return told


def _holds(ctx: Context, bath: Bath) -> Iterator[dict[str, str]]:
    for use in bath.since:
        how = _how_held(ctx, bath, use, ctx.unit.cycles.get(use.scope))
        if how:
            yield {"scope": use.scope, "cycle": use.cycle, "as": how}


def _how_held(ctx: Context, bath: Bath, use: Use, cycle: Cycle | None) -> str:
    """Promise "soak", "cycle" or "stored"; "" where the use counts for nothing any more."""
    if cycle is not None and cycle.id == use.cycle:
        if cycle.soak is not None and cycle.soak.bath == bath.uid:
            return "soak"
        # Without a finished disinfection a whole soak is still to come.
        return "cycle" if cycle.disinfected else ""
    scope = ctx.unit.scopes.get(use.scope)
    last = scope.last if scope else None
    return "stored" if last is not None and last.cycle == use.cycle and last.outcome == "completed" else ""
