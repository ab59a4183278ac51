"""Handlers for a scope's use: its issue to a case, the end of its procedure, and what its receipt takes over from that.

The app never releases a scope: a named person does (`protocols.stored`), and only what was released is issued.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from protocols.case_reference import fits
from protocols.clock import clock_text, longest_s, parse_wall, wall_text
from protocols.context import Context
from protocols.event import Decision
from protocols.limits import delay_of
from protocols.reasons import kept
from protocols.refusals import Refusal, refuse
from protocols.unconfirmed import acts_on
from protocols.unit import Scope, Used
from protocols.whereabouts import Place, hang_of_stored, place_of, why_there

# First prompt before a delay limit, where the protocol names none: our own default, long enough to reach the sink.
WARN_BEFORE_S = 600
TIMES = {"procedure-end": "procedure_end", "preclean-start": "preclean_start", "preclean-end": "preclean_end"}


def issue_scope(ctx: Context) -> Decision | Refusal:
    """Give a scope out to a case: only one that hangs after a completed cycle, released, within its hang time."""
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    place, last = place_of(ctx.unit, ctx.subject), scope.last
    if place is not Place.STORED or last is None:
        return refuse("not-issuable", subject=ctx.subject, place=place.value, why=why_there(ctx.unit, ctx.subject))
    acts = acts_on(ctx.unit, ctx.subject)
    if acts:
        return refuse("acts-unconfirmed", subject=ctx.subject, count=len(acts))
    if not last.released_by:
        return refuse("not-released", subject=ctx.subject)
    hang = hang_of_stored(ctx.unit, scope, ctx.now)
    if hang.state == "due":
        return refuse("hang-over", subject=ctx.subject, over=clock_text(-(hang.left_s or 0)),
                      limit=clock_text(hang.limit_s or 0))  # fmt: skip
    form = ctx.unit.settings.case_pattern
    if not fits(form, ctx.get("case")):
        return refuse("case-form", form=form)
    if ctx.get("cycle") not in (None, last.cycle):
        return refuse("cycle-differs", subject=ctx.subject, seen=ctx.get("cycle"), last=last.cycle)
    hung = longest_s(last.dried, ctx.now) if last.dried is not None else None
    data = {
        "case": ctx.get("case"), "cycle": last.cycle, "released_by": last.released_by, "hung_s": hung,
        "hang_s_max": hang.limit_s, **({"location": ctx.get("location")} if ctx.get("location") else {}),
    }  # fmt: skip
    refs = {"scope": ctx.subject, "cycle": last.cycle, "case": ctx.get("case")}
    return Decision("issue-scope", ctx.subject, refs, data)


def procedure_ended(ctx: Context) -> Decision | Refusal:
    """The procedure is over and the scope has not come in: its delay runs from here on.

    It is taken of a scope that nobody issued as well: what is soiled must not wait unseen.
    """
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    place = place_of(ctx.unit, ctx.subject)
    if place is Place.AWAY:
        return refuse("away", subject=ctx.subject, why=why_there(ctx.unit, ctx.subject))
    used, case = scope.used, ctx.get("case")
    if used is not None and used.ended is not None:
        return refuse("procedure-known", subject=ctx.subject, at=used.procedure_end)
    if used is None and case is None:
        return refuse("needs-case", subject=ctx.subject)
    if used is not None and case not in (None, used.case):
        return refuse("case-differs", subject=ctx.subject)
    form = ctx.unit.settings.case_pattern
    if used is None and not fits(form, case):
        return refuse("case-form", form=form)
    wrong = _past(ctx, "procedure_end", "preclean_start", "preclean_end")
    if wrong:
        return wrong
    times = {name: ctx.get(name) for name in TIMES.values() if ctx.get(name) is not None}
    data: dict[str, Any] = {"case": used.case if used else case, "issued": used is not None, **times}
    if used is None:
        data["notices"] = [kept("not-issued", scope=ctx.subject)]
    data["delay"] = _delay(ctx, scope, times)
    return Decision("procedure-ended", ctx.subject, {"scope": ctx.subject, "case": data["case"]}, data)


def _past(ctx: Context, *names: str) -> Refusal | None:
    for name in names:
        value = ctx.get(name)
        if value is not None and parse_wall(value) > ctx.now.wall_ms:
            return refuse("future", name=name, value=value, now=wall_text(ctx.now.wall_ms, ctx.unit.settings.zone))
    return None


def _delay(ctx: Context, scope: Scope, times: Mapping[str, str]) -> dict[str, Any]:
    """Promise the delay as it runs from now: its origin where that moment is known, else the end of the procedure."""
    sha = ctx.unit.protocols.get(scope.protocol)
    if sha is None:
        return {}
    origin, limit, warn, _ = delay_of(ctx.unit, ctx.shelf.protocol(sha))
    begun = TIMES[origin] if TIMES[origin] in times else "procedure_end"
    already = (ctx.now.wall_ms - parse_wall(times[begun])) / 1000
    warn_s = warn if warn is not None else max(0, limit - WARN_BEFORE_S)
    return {"origin": begun.replace("_", "-"), "already_s": already, "max_s": limit, "warn_s": warn_s}


def taken_over(ctx: Context, used: Used | None) -> tuple[dict[str, Any], list[str]]:
    """Promise the times of use that hold at a receipt, by name, and what is to be noticed about them.

    What was told when the procedure ended holds where the receipt names nothing, and where it names a later end.
    """
    times = {name: ctx.get(name) for name in TIMES.values()}
    if used is None or used.ended is None:
        return times, []
    for name in times:
        times[name] = times[name] or getattr(used, name) or None
    given, told = ctx.get("procedure_end"), used.procedure_end
    if given is not None and told and parse_wall(given) > parse_wall(told):
        times["procedure_end"] = told
        return times, [kept("earlier-end", at=told)]
    return times, []


def already_s(ctx: Context, used: Used | None, origin: str, wall: str) -> float:
    """Promise how long (s) the delay has run at a receipt: by the wall clock, and not less than has been counted."""
    by_wall = (ctx.now.wall_ms - parse_wall(wall)) / 1000
    if used is None or used.ended is None or used.origin != origin:
        return by_wall
    return max(by_wall, used.already_s + longest_s(used.ended, ctx.now))


def correct_use(ctx: Context, scope: Scope) -> Decision:
    """A lead takes back an issue, or the end of a procedure, that was told of the wrong scope."""
    used = scope.used
    data = {"what": "issue", "reason": ctx.get("reason"), "case": used.case if used else ""}
    return Decision("correct", ctx.subject, {"scope": ctx.subject, "case": data["case"]}, data)
