"""evolve for a scope between its cycles: its use, its faults. It decides nothing."""

from __future__ import annotations

from typing import Any

from protocols.clock import Stamp
from protocols.event import Event
from protocols.fold_stock import with_item
from protocols.unit import Cycle, Fault, Scope, Unit, Upkeep, Used

UPKEEP_KINDS = ("record-competency", "record-filter", "record-culture")


def _with_scope(unit: Unit, scope: Scope) -> Unit:
    return unit._replace(scopes=with_item(unit.scopes, scope.tag, scope))


def issue_scope(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    used = Used(event.data["case"], event.data["cycle"], stamp, event.by)
    return _with_scope(unit, unit.scopes[event.subject]._replace(used=used))


def procedure_ended(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data, scope = event.data, unit.scopes[event.subject]
    used = scope.used or Used(data["case"], scope.last.cycle if scope.last else "", stamp, event.by, issued=False)
    times = {name: data[name] for name in ("procedure_end", "preclean_start", "preclean_end") if name in data}
    return _with_scope(unit, scope._replace(used=used._replace(ended=stamp, **times, **data["delay"])))


def correct_use(unit: Unit, event: Event) -> Unit:
    return _with_scope(unit, unit.scopes[event.subject]._replace(used=None))


def report_fault(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_scope(unit, in_quarantine(unit.scopes[event.subject], event, stamp))


def in_quarantine(scope: Scope, event: Event, stamp: Stamp) -> Scope:
    """Promise the scope with the fault that an event puts it in quarantine for. A new fault starts its way anew."""
    return scope._replace(fault=Fault(at=stamp, by=event.by, **event.data["fault"]))


def _with_fault(unit: Unit, tag: str, **changes: Any) -> Unit:
    scope = unit.scopes[tag]
    return _with_scope(unit, scope._replace(fault=scope.fault._replace(**changes))) if scope.fault else unit


def decontaminate(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_fault(unit, event.subject, decontaminated=event.data["how"])


def send_for_repair(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_fault(unit, event.subject, away=stamp, repairer=event.data["repairer"])


def return_checked(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data, scope = event.data, unit.scopes[event.subject]
    if not data["passed"]:
        return _with_fault(unit, event.subject, away=None, repairer="", decontaminated="", why=data["why"])
    last = scope.last._replace(outcome=data["outcome"], released_by="") if scope.last else None
    unit = _with_scope(unit, scope._replace(last=last))
    return _with_fault(unit, event.subject, away=None, returned=stamp)


def ended(scope: Scope, cycle: Cycle, event: Event, stamp: Stamp) -> Scope:
    """Promise the scope after a cycle's end: its use is over, and a fault that was checked with a completed one."""
    data = event.data
    if data["ends"] == "voided":
        # Still soiled: what its receipt knew of the case is needed again, and the procedure is over in any case.
        used = scope.used
        return scope._replace(used=used._replace(ended=used.ended or cycle.opened)) if used else scope
    scope = scope._replace(used=None)
    if data.get("resolves_fault"):
        scope = scope._replace(fault=None)
    return in_quarantine(scope, event, stamp) if data.get("fault") else scope


def upkeep(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    """What was recorded takes the place of what was known of the same thing before."""
    told = Upkeep(by=event.by, **event.data["upkeep"])
    unit = unit._replace(upkeep=with_item(unit.upkeep, f"{told.kind}/{told.about}/{told.what}", told))
    scope = unit.scopes.get(event.subject)
    if scope is None or not event.data.get("fault"):
        return unit
    return _with_scope(unit, in_quarantine(scope, event, stamp))
