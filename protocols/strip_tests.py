"""decide for strips: when one was dipped, what it showed when it was read, and what a failing one holds.

A strip shows pass or fail, by eye. It covers one soak of one scope in one bath, and only when its bottle is registered,
in date, of the kind that the bath's claim needs, and its lot has been controlled. Where its label has a window for
reading, the app counts from the dip, or the seconds are typed; a strip read outside the window is void. A failing
strip always counts: it blocks the bath and holds every scope that lay in it since, and including, its last use under a
passing strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import Any

from protocols import bath as baths
from protocols.clock import longest_s, proven_s, wall_text
from protocols.context import Context
from protocols.cycle import DOUBLE_S
from protocols.event import Decision
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.solutions import doubtful
from protocols.states import State, state_of
from protocols.stock import Bath, Dip, Strips, Use
from protocols.strips import dip_time_s, not_for, reading_window
from protocols.unit import Cycle


def dip_strip(ctx: Context) -> Decision | Refusal:
    """Record that a strip was dipped for a scope that is to lie in this bath: its reading is timed from here.

    Dipping another one takes the place of the first. Refused where the strip could not cover the soak.
    """
    bath = _disinfectant(ctx)
    if isinstance(bath, Refusal):
        return bath
    scope = ctx.get("scope")
    cycle = ctx.unit.cycles.get(scope)
    if cycle is None:
        return refuse("no-cycle", subject=scope)
    step = ctx.shelf.protocol(cycle.text_sha256).step(cycle.step)
    if state_of(cycle, step) is not State.OUT or step.bath != "disinfectant":
        return refuse("strip-not-now", subject=scope, step=step.id)
    wrong = baths.unusable(bath, ctx.unit, ctx.now) or not_for(ctx, bath)
    if wrong:
        return wrong
    before = cycle.dip
    if before is not None and before.bath == bath.uid and longest_s(before.at, ctx.now) < DOUBLE_S:
        return refuse("doubled", do="dip-strip", subject=ctx.subject, within=DOUBLE_S)
    bottle = ctx.unit.strips.get(ctx.get("strip_lot"))
    low, high = reading_window(bath, bottle)
    data: dict[str, Any] = {
        "scope": scope, "strip_lot": bottle.lot if bottle else ctx.get("strip_lot"), "bath_lot": bath.lot,
        "dip": {"bath": bath.uid, "label": bath.label, "strips": ctx.get("strip_lot"), "min_s": low, "max_s": high},
    }  # fmt: skip
    stays_s = dip_time_s(bath, bottle)
    if stays_s is not None:
        data["dip_s"] = stays_s
    refs = {"bath": bath.uid, "scope": scope, "cycle": cycle.id, "case": cycle.case}
    return Decision("dip-strip", ctx.subject, {**refs, **({"strips": bottle.uid} if bottle else {})}, data)


def _disinfectant(ctx: Context) -> Bath | Refusal:
    bath = ctx.unit.baths.get(ctx.subject)
    if bath is None:
        known = ", ".join(b.label for b in ctx.unit.baths.values() if b.kind == "disinfectant")
        return refuse("unknown-bath", bath=ctx.subject, known=known or aside("none"))
    return bath if bath.kind == "disinfectant" else refuse("not-hld", bath=bath.label, kind=bath.kind)


def strip_test(ctx: Context) -> Decision | Refusal:
    """Record a strip, read by eye, for one scope in one bath. A failure blocks the bath at once and can't be undone."""
    bath = _disinfectant(ctx)
    if isinstance(bath, Refusal):
        return bath
    result, scope = ctx.get("result"), ctx.get("scope")
    cycle = ctx.unit.cycles.get(scope)
    bottle = ctx.unit.strips.get(ctx.get("strip_lot"))
    dip = _dip(ctx, bath, cycle)
    # A failing strip is always taken: what it says about the bath is true whatever else is wrong.
    if result == "pass":
        wrong = baths.unusable(bath, ctx.unit, ctx.now)
        wrong = wrong or (refuse("no-cycle", subject=scope) if cycle is None else None)
        wrong = wrong or not_for(ctx, bath) or _untimed(ctx, bath, bottle, dip)
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
        **_facts(ctx, bath, bottle, dip),
    }  # fmt: skip
    refs = {"bath": bath.uid, "scope": scope, "test": name, **({"strips": bottle.uid} if bottle else {})}
    if cycle is not None:
        refs.update(cycle=cycle.id, case=cycle.case)
    if result == "fail":
        data.update(_failed(ctx, bath))
    return Decision("strip-test", ctx.subject, refs, data)


def _dip(ctx: Context, bath: Bath, cycle: Cycle | None) -> Dip | None:
    """The dip that this reading ends: of the same scope, bath and bottle, unless the seconds are typed."""
    dip = cycle.dip if cycle is not None else None
    if dip is None or ctx.get("read_after_s") is not None:
        return None
    return dip if (dip.bath, dip.strips) == (bath.uid, ctx.get("strip_lot")) else None


def _untimed(ctx: Context, bath: Bath, bottle: Strips | None, dip: Dip | None) -> Refusal | None:
    """A passing strip with a window counts only where somebody, or the app, counted the seconds."""
    if dip is None:
        windowed = any(x is not None for x in reading_window(bath, bottle))
        untold = ctx.get("read_after_s") is None
        return refuse("needs-read-time", strips=ctx.get("strip_lot")) if windowed and untold else None
    wait_s = (dip.min_s or 0) - proven_s(dip.at, ctx.now)
    # Read too early a strip may still look like a pass: it is not void yet, only not ready.
    return refuse("strip-early", strips=dip.strips, left=ceil(wait_s), first=f"{dip.min_s:g}") if wait_s > 0 else None


def _facts(ctx: Context, bath: Bath, bottle: Strips | None, dip: Dip | None) -> dict[str, Any]:
    """What the record keeps of the bottle, and of the moment at which the strip was read."""
    facts: dict[str, Any] = {}
    if bottle is not None:
        facts = {"strips": bottle.label, "strip_type": bottle.type, "strip_expires": bottle.expires,
                 "strip_opened": bottle.opened, "strip_opened_d_max": bottle.opened_d_max}  # fmt: skip
    least_s, most_s = _read_after_s(ctx, dip)
    if least_s is None or most_s is None:
        return facts
    low, high = (dip.min_s, dip.max_s) if dip is not None else reading_window(bath, bottle)
    facts.update(read_after_s=round(least_s, 1), read_s_min=low, read_s_max=high)
    if dip is not None:
        facts["dipped"] = dip.seq
    outside = (low is not None and least_s < low) or (high is not None and most_s > high)
    if outside and ctx.get("result") == "pass":
        after, first = f"{most_s:.0f}", f"{low or 0:g}"
        told = (
            kept("read-outside", after=after, first=first, last=f"{high:g}")
            if high is not None
            else kept("read-early", after=after, first=first)
        )
        facts.update(result="void", notices=[told])
    return facts


def _read_after_s(ctx: Context, dip: Dip | None) -> tuple[float | None, float | None]:
    """Seconds from dip to reading, at least and at most: from the dip that was recorded, else as they are typed."""
    if dip is None:
        return ctx.get("read_after_s"), ctx.get("read_after_s")
    return proven_s(dip.at, ctx.now), longest_s(dip.at, ctx.now)


def _failed(ctx: Context, bath: Bath) -> dict[str, Any]:
    """Promise what a failing strip holds: whoever lies in the bath, and all others since its last good use."""
    at = wall_text(ctx.now.wall_ms, ctx.unit.settings.zone)[:16].replace("T", " ")
    why = kept("strip-after", bath=bath.label, at=at)
    holds = list(_holds(ctx, bath))
    told = _elsewhere(ctx, bath)
    data = doubtful(ctx, bath, kept("strip-while", bath=bath.label))
    return {**data, **({"holds": holds, "holds_why": why} if holds else {}), **({"notices": told} if told else {})}


def _elsewhere(ctx: Context, bath: Bath) -> list[str]:
    """Promise what must be told by mouth: scopes of this bath that another handheld has, which knows of no strip."""
    told = []
    for use in bath.since:
        cycle, scope = ctx.unit.cycles.get(use.scope), ctx.unit.scopes.get(use.scope)
        offered = cycle is not None and cycle.id == use.cycle and cycle.offer is not None
        last = scope.last if scope is not None else None
        if offered or (last is not None and last.cycle == use.cycle and last.outcome == "handed over"):
            told.append(kept("report-there", scope=use.scope, bath=bath.label))
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
