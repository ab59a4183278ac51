"""What a unit keeps up besides its scopes: competency of people, filters, cultures by reference; and what is due.

The due list also holds bottles of test strips and scopes on loan, whose dates are known from elsewhere. A culture at or
above the unit's action level puts its scope into quarantine: what the laboratory found is not judged here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple

from protocols.bath import latest_day
from protocols.clock import Stamp, days_until, local_date, parse_date
from protocols.context import Context
from protocols.event import Decision
from protocols.faults import besides
from protocols.reasons import kept
from protocols.refusals import Refusal, refuse
from protocols.strips import last_day
from protocols.unit import Unit

# Days ahead at which something shows as due soon: our own figure, time to order, to book or to send a sample.
SOON_D = 14


class Due(NamedTuple):
    """One thing of the due list: `state` is "due" (its last day is past), "due soon" or "holds"; days left."""

    kind: str
    about: str
    what: str
    day: str
    left_d: int
    state: str


def record_competency(ctx: Context) -> Decision | Refusal:
    """A lead records that a person on the list is competent in something, until a day."""
    if ctx.subject not in ctx.unit.people:
        return refuse("no-person", subject=ctx.subject)
    return _recorded(ctx, "competency", ctx.get("what"), ctx.get("done"))


def record_filter(ctx: Context) -> Decision | Refusal:
    """Record that a filter was changed."""
    return _recorded(ctx, "filter", ctx.get("what"), ctx.get("done"))


def record_culture(ctx: Context) -> Decision | Refusal:
    """Record a culture of a scope. At the action level the scope goes into quarantine with this event."""
    scope = ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    decision = _recorded(ctx, "culture", "culture", ctx.get("taken"))
    if isinstance(decision, Refusal):
        return decision
    data, result = decision.data, ctx.get("result")
    if result == "action" and (scope.fault is None or scope.fault.away is None):
        data["fault"] = besides(scope.fault, "contamination", kept("culture", reference=ctx.get("reference")), "")
        data["notices"] = [kept("action-level", scope=ctx.subject)]
    elif result == "growth":
        data["notices"] = [kept("growth", scope=ctx.subject)]
    return decision._replace(refs={"scope": ctx.subject})


def _recorded(ctx: Context, kind: str, what: str, done: str) -> Decision | Refusal:
    today, until = local_date(ctx.now.wall_ms, ctx.unit.settings.zone), ctx.get("until")
    if parse_date(done) > today:
        return refuse("future", name="done", value=done, now=today)
    if until is not None and parse_date(until) < parse_date(done):
        return refuse("date-order", first="done", a=done, second="until", b=until)
    told: dict[str, Any] = {"kind": kind, "about": ctx.subject, "what": what, "done": done, "due": until or ""}
    told.update({name: ctx.get(name) for name in ("result", "reference") if ctx.get(name) is not None})
    refs = {"person": ctx.subject} if kind == "competency" else {}
    return Decision(ctx.command.do, ctx.subject, refs, {"upkeep": told})


def due_list(unit: Unit, now: Stamp) -> list[Due]:
    """Promise all that has a day on which it is due, the nearest first."""
    zone = unit.settings.zone
    today = local_date(now.wall_ms, zone)
    found = [_due(*one, today) for one in _dated(unit)]
    for bottle in unit.strips.values():
        if not bottle.closed:
            # By the latest day that may have come since it was registered, as for its use.
            day = last_day(bottle)[0].isoformat()
            seen = latest_day(bottle.registered, now, zone)
            found.append(_due("strips", bottle.label, bottle.lot, day, max(today, seen)))
    return sorted(found, key=lambda one: (one.left_d, one.kind, one.about))


def _dated(unit: Unit) -> Iterator[tuple[str, str, str, str]]:
    for one in unit.upkeep.values():
        gone = one.kind == "competency" and one.about not in unit.people
        if one.due and not gone:
            yield one.kind, one.about, one.what, one.due
    for scope in unit.scopes.values():
        if scope.loaned_until:
            yield "loan", scope.tag, "loan", scope.loaned_until


def _due(kind: str, about: str, what: str, day: str, today: date) -> Due:
    left = days_until(day, today)
    return Due(kind, about, what, day, left, "due" if left < 0 else "due soon" if left <= SOON_D else "holds")
