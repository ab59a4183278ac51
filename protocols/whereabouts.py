"""Where a scope is between and during its cycles, and whether its storage has lasted too long. Pure over the state.

A scope is in exactly one place, for `place_of` answers with the first that fits, strictest first. Hang time runs from
the end of drying, measured as its longest possible length; a limit chosen after the scope was hung up holds as well
where it is the stricter one, and never lengthens what was settled then.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from protocols.clock import Stamp, longest_s
from protocols.reasons import aside
from protocols.unit import Last, Scope, Unit

# Storage is due soon in the last quarter of its limit, a day at most: our own figures, common practice, no source.
SOON_SHARE, SOON_S_MAX = 0.25, 86_400


class Place(Enum):
    """Where a scope is, as far as this handheld's record knows."""

    IN_CYCLE = "in cycle"
    AWAY = "away for repair"
    ELSEWHERE = "with another handheld"
    OUT_OF_SERVICE = "out of service"
    HELD = "held"
    IN_USE = "in use"
    WAITING = "waiting"
    STORED = "stored"


class Hang(NamedTuple):
    """How storage stands: "ready", "due soon", "due" (past its limit) or "no limit"; limit and what is left in s."""

    state: str
    limit_s: float | None = None
    left_s: float | None = None


def place_of(unit: Unit, tag: str) -> Place:
    """Promise the one place of a registered scope. WAITING is for every scope that must be reprocessed before use."""
    if tag in unit.cycles:
        return Place.IN_CYCLE
    scope = unit.scopes[tag]
    fault, last = scope.fault, scope.last
    outcome = last.outcome if last else ""
    if fault is not None and fault.away is not None:
        return Place.AWAY
    if outcome == "handed over":
        return Place.ELSEWHERE
    if outcome == "out of service":
        return Place.OUT_OF_SERVICE
    if scope.hold is not None or (fault is not None and fault.returned is None):
        return Place.HELD
    if scope.used is not None:
        return Place.IN_USE if scope.used.ended is None else Place.WAITING
    return Place.STORED if outcome == "completed" and fault is None else Place.WAITING


def why_there(unit: Unit, tag: str) -> str:
    """Promise in words what a scope's place rests on."""
    scope, place = unit.scopes[tag], place_of(unit, tag)
    fault, used, last = scope.fault, scope.used, scope.last
    if place is Place.AWAY and fault is not None:
        return aside("with", repairer=fault.repairer, why=fault.why)
    if place is Place.HELD and scope.hold is not None:
        return scope.hold.why
    if place in (Place.HELD, Place.OUT_OF_SERVICE) and fault is not None:
        return aside("fault", kind=fault.kind, why=fault.why)
    if used is not None and place is Place.IN_USE:
        return aside("issued", case=used.case)
    if used is not None and place is Place.WAITING:
        return aside("case-ended", case=used.case)
    if place is Place.WAITING:
        return aside("last-cycle", outcome=last.outcome) if last else aside("no-completed")
    return last.place if last is not None and place is Place.STORED else ""


def hang_limit_s(unit: Unit, last: Last) -> float | None:
    """Promise the hang time (s) that holds for a stored scope, None where there is no limit."""
    chosen = unit.limits.get("storage")
    known = (last.hang_s_max, chosen.hang_s_max if chosen else None)
    return min((limit for limit in known if limit is not None), default=None)


def hang_of_stored(unit: Unit, scope: Scope, now: Stamp) -> Hang:
    """Promise how a scope's storage stands since its last drying. On its limit it is still ready, beyond it due."""
    last = scope.last
    limit = hang_limit_s(unit, last) if last is not None else None
    if last is None or last.dried is None or limit is None:
        return Hang("no limit")
    left = limit - longest_s(last.dried, now)
    if left < 0:
        return Hang("due", limit, left)
    soon = left <= min(SOON_S_MAX, SOON_SHARE * limit)
    return Hang("due soon" if soon else "ready", limit, left)


def late_in(unit: Unit, now: Stamp) -> list[str]:
    """Promise the scopes that have not come in since their procedure and are past the limit of their delay."""
    found = []
    for tag, scope in unit.scopes.items():
        gone, limit = gone_s(scope, now), scope.used.max_s if scope.used is not None else None
        if gone is not None and limit is not None and gone > limit and place_of(unit, tag) is Place.WAITING:
            found.append(tag)
    return sorted(found)


def gone_s(scope: Scope, now: Stamp) -> float | None:
    """Promise how long (s) a scope's delay has run since its procedure, None while none runs."""
    used = scope.used
    return used.already_s + longest_s(used.ended, now) if used is not None and used.ended is not None else None
