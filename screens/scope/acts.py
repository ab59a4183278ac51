"""What can be done with one scope where it is now, in words and as commands. Needs no window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from protocols.clock import Stamp, clock_text
from protocols.unit import Scope, Unit
from protocols.whereabouts import Place, gone_s, hang_of_stored, place_of, why_there
from screens.moments import span_words
from screens.offer import Choice, Typed
from screens.shown import in_words
from screens.words import say


@dataclass(frozen=True, slots=True)
class Go:
    """A button that leads to another page of this scope: receipt, steps, a form, release, handing over."""

    words: str
    page: str
    under: str = ""
    look: str = "plain"


Act = Choice | Typed | Go


def place_words(place: Place) -> str:
    """Promise a place as people say it."""
    return say(f"place.{place.name.lower()}")


def lines(unit: Unit, tag: str, now: Stamp) -> list[str]:
    """Promise what is known of a scope where it is: why, how its storage stands, how long its delay has run."""
    scope, place = unit.scopes[tag], place_of(unit, tag)
    found = [in_words(why_there(unit, tag))]
    if place is Place.STORED:
        found.append(storage_words(unit, scope, now))
        by = scope.last.released_by if scope.last else ""
        found.append(say("watch.released", name=unit.name_of(by)) if by else say("cycle.not_now"))
    gone, used = gone_s(scope, now), scope.used
    if gone is not None and used is not None and place is Place.WAITING:
        limit = span_words(used.max_s) if used.max_s is not None else say("fact.unknown")
        found.append(say("watch.gone", time=clock_text(gone), limit=limit))
    if scope.fault is not None:
        found += [part for part in _fault_lines(scope) if part]
    return [line for line in found if line]


def _fault_lines(scope: Scope) -> Iterator[str]:
    fault = scope.fault
    if fault is None:
        return
    if fault.returned is not None:
        yield say("scope.returned", kind=say(f"fault.{fault.kind}"))
        return
    yield say("scope.fault", kind=say(f"fault.{fault.kind}"), owner=fault.owner) if fault.owner else ""
    how = say("scope.decontaminated", how=fault.decontaminated) if fault.decontaminated else say("scope.not_safe")
    yield how


def storage_words(unit: Unit, scope: Scope, now: Stamp) -> str:
    """Promise how a scope's storage stands."""
    hang = hang_of_stored(unit, scope, now)
    if hang.left_s is None:
        return say("watch.hang_no_limit")
    if hang.state == "due":
        return say("watch.hang_over", time=span_words(-hang.left_s))
    return say("watch.hang_soon" if hang.state == "due soon" else "watch.hang_left", time=span_words(hang.left_s))


def acts_for(unit: Unit, tag: str, now: Stamp) -> list[Act]:
    """Promise the buttons of a scope's page, what is most likely wanted first."""
    place = place_of(unit, tag)
    scope = unit.scopes[tag]
    past = [Go(say("scope.cycles"), "ledger")] if scope.last is not None else []
    past.append(Go(say("scope.look_back"), "look-back", say("scope.look_back_under")))
    return [*_ACTS[place](unit, scope, now), *_faulty(scope, place), *past]


def _in_cycle(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    yield Go(say("scope.steps"), "steps", look="act")
    if unit.peers and unit.cycles[scope.tag].offer is None:
        yield Go(say("scope.hand"), "hand")


def _stored(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    last, due = scope.last, hang_of_stored(unit, scope, now).state == "due"
    if due:
        yield _again(scope, "storage", "act")
    elif last is not None and last.released_by:
        yield Typed(say("scope.issue", tag=scope.tag), "case", "case", "issue-scope", scope.tag, {"cycle": last.cycle})
    else:
        yield Go(say("cycle.release", tag=scope.tag), "release", look="act")
    yield Go(say("scope.ended"), "scope-ended", say("scope.ended_unissued"))
    if not due:
        yield _again(scope, "other", "plain")


def _in_use(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    yield Go(say("scope.receive"), "receive", look="act")
    yield Go(say("scope.ended"), "scope-ended")
    yield _not_used(scope)


def _not_used(scope: Scope) -> Choice:
    reason = say("scope.not_used")
    return Choice(reason, "correct", scope.tag, {"what": "issue", "reason": reason}, look="plain",
                  confirm=say("scope.not_used_sure", tag=scope.tag), lead=True)  # fmt: skip


def _waiting(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    if scope.used is not None:
        yield Go(say("scope.receive"), "receive", look="act")
        yield _not_used(scope)
        return
    if scope.fault is not None:
        yield _again(scope, "repair", "act")
    elif scope.last is None:
        yield _again(scope, "new", "act")
    else:
        yield _again(scope, "other", "act")
    yield Go(say("scope.receive"), "receive")


def _again(scope: Scope, why: str, look: str) -> Choice:
    return Choice(say("scope.again"), "receive", scope.tag, {"again": why}, under=say(f"again.{why}"), look=look,
                  confirm=say("scope.again_sure", tag=scope.tag))  # fmt: skip


def _held(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    if scope.hold is not None:
        reason = say("decide.reason")
        for decision in ("keep", "reprocess", "out-of-service"):
            yield Choice(say(f"stored.{decision}"), "decide", scope.tag, {"decision": decision, "reason": reason},
                         look="plain", confirm=say(f"stored.{decision}.sure", tag=scope.tag), lead=True)  # fmt: skip
    yield from _repair(scope)


def _out(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    yield from _repair(scope)
    if scope.fault is None or scope.fault.kind == "other":
        reason = say("scope.back")
        yield Choice(reason, "correct", scope.tag, {"what": "service", "reason": reason}, look="plain",
                     confirm=say("scope.back_sure", tag=scope.tag), lead=True)  # fmt: skip


def _repair(scope: Scope) -> Iterator[Act]:
    fault = scope.fault
    if fault is None or fault.returned is not None:
        return
    if fault.decontaminated:
        yield Typed(say("scope.send"), "to", "text", "send-for-repair", scope.tag)
    else:
        yield Typed(say("scope.made_safe"), "how", "text", "decontaminate", scope.tag)
    yield Go(say("scope.return"), "scope-return", say("scope.return_under"))


def _away(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    yield Go(say("scope.return"), "scope-return", say("scope.return_under"), "act")


def _elsewhere(unit: Unit, scope: Scope, now: Stamp) -> Iterator[Act]:
    yield Go(say("scope.receive"), "receive")


def _faulty(scope: Scope, place: Place) -> Iterator[Act]:
    if place is not Place.AWAY:
        yield Go(say("scope.report"), "scope-fault")


_ACTS = {
    Place.IN_CYCLE: _in_cycle, Place.STORED: _stored, Place.IN_USE: _in_use, Place.WAITING: _waiting,
    Place.HELD: _held, Place.OUT_OF_SERVICE: _out, Place.AWAY: _away, Place.ELSEWHERE: _elsewhere,
}  # fmt: skip
