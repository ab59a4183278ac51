"""evolve(unit, event) -> unit: what an event changes. It never validates, never refuses and decides nothing.

Everything an event changes is written in its `data` by the decision that made it, so that a record reads the same
for ever, whatever the rules become. Keys that step events share:

    to         the step the cycle is at afterwards ("" when the cycle ends)
    running    whether a soak, air or run goes on
    done, passes   counts of the present step
    timer, delay, soak, hold   replace the cycle's own (None clears)
    flags      the conditions that hold for the path
    marks      {delayed, disinfected, dried (to None), place, extended_s_max, rinse_times, rinse_s_min} to set
    moments    ["clean_from" | "dried"]: set to this event's moment
    uses       {bath, test?}: the bath (label) and strip test this event uses up
    doubt      {scopes, why}: scopes lying in a bath that this event makes doubtful
    undo       true when the tap may be taken back for some seconds
    ends       how the cycle ends with this event, if it does; resolves_hold and resolves_fault then say that a stored
               hold or a fault ends with it, and fault that one begins
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from protocols import fold_handover, fold_people, fold_stock, fold_usage
from protocols.clock import Stamp, parse_wall
from protocols.errors import Defect
from protocols.event import Event
from protocols.fold_stock import with_item
from protocols.stock import Purged
from protocols.unit import GIVEN_AGAIN, Cycle, Hold, Last, Scope, Settings, Soak, Timer, Undo, Unit

Fold = Callable[[Unit, Event, Stamp], Unit]


def evolve(unit: Unit, event: Event, stamp: Stamp | None = None) -> Unit:
    """Promise the unit after the event. Raises Defect for a kind that no version of this app has written.

    `stamp` spares reading the event's times back where the caller has just written them from it.
    """
    if event.kind == "boot":
        time = unit.time.rebooted(event.boot, event.data["seen_elapsed_ms"], event.data["gap_longest_ms"])
        unit = unit._replace(time=time)
    time = unit.time
    if stamp is None:
        wall_ms = parse_wall(event.wall)
        stamp = Stamp(time.proven_base_ms + event.elapsed, time.longest_base_ms + event.elapsed, wall_ms)
    fold = FOLDS.get(event.kind)
    if fold is None:
        raise Defect(f"no fold for event kind {event.kind!r} (event {event.id})")
    unit = fold_people.follow_acts(_remember(fold(unit, event, stamp), event.data), event)
    return unit._replace(
        seq=event.seq, time=unit.time._replace(last_elapsed_ms=event.elapsed, last_wall_ms=stamp.wall_ms)
    )


def _remember(unit: Unit, data: Mapping[str, Any]) -> Unit:
    known = unit.last_given
    # Most taps give what the one before gave: then nothing has to be copied.
    again = {name: value for name in GIVEN_AGAIN if (value := data.get(name)) and known.get(name) != value}
    return unit._replace(last_given={**known, **again}) if again else unit


def _nothing(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit


def _checkpoint(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    # Its data is the state before it, less what is archived: folding on from there and from it gives the same.
    return without_archived(unit)


def _set_unit(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(settings=Settings(**event.data["settings"]))


def _purge(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data = event.data
    return unit._replace(purged=Purged(event.subject, data["last_seq"], data["head"], data["stub"]))


def _add_scope(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(scopes=with_item(unit.scopes, event.subject, Scope(event.subject, **event.data["scope"])))


def _adopt_protocol(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(protocols=with_item(unit.protocols, event.subject, event.data["text_sha256"]))


def _receive(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data = event.data
    cycle = Cycle(
        event.id, event.subject, data["text_sha256"], data["case"], stamp, data["to"], stamp,
        event.seq, event.kind, stamp,
        flags=frozenset(data["flags"]), timer=_timer(data.get("timer"), stamp), delay=_timer(data.get("delay"), stamp),
        delayed=bool(data["marks"]["delayed"]), undo=Undo(event.seq, stamp),
        wanted_wall_ms=parse_wall(data["wanted_by"]) if data.get("wanted_by") else None,
    )  # fmt: skip
    return unit._replace(cycles=with_item(unit.cycles, event.subject, cycle))


def _timer(plain: Mapping[str, Any] | None, since: Stamp) -> Timer | None:
    return Timer(since=since, **plain) if plain else None


def _step(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    if "stored_outcome" in event.data:
        return fold_stock.decide_stored(unit, event, stamp)
    before = unit.cycles[event.subject]
    data = event.data
    if event.kind == "note":  # a note moves nothing and takes no undo away
        return unit._replace(cycles=with_item(unit.cycles, event.subject, before._replace(last_seq=event.seq)))
    changes: dict[str, Any] = {"last_seq": event.seq, "last_do": event.kind, "last_at": stamp}
    changes.update(undo=None, dip=None)
    if "to" in data:
        changes.update(step=data["to"], step_since=stamp, done=0, passes=0, running=False, soak=None)
    for name in ("running", "done", "passes"):
        if name in data:
            changes[name] = data[name]
    for name in ("timer", "delay"):
        if name in data:
            changes[name] = _timer(data[name], stamp)
    if "soak" in data:
        changes["soak"] = Soak(**data["soak"]) if data["soak"] else None
    if "hold" in data:
        changes["hold"] = Hold(**data["hold"]) if data["hold"] else None
    if "flags" in data:
        changes["flags"] = frozenset(data["flags"])
    changes.update(data.get("marks", ()))
    for name in data.get("moments", ()):
        changes[name] = stamp
    bath = unit.baths.get(data["uses"]["bath"]) if "uses" in data else None
    if data.get("undo"):
        changes["undo"] = Undo(event.seq, stamp, before._replace(undo=None), bath)
    unit = unit._replace(cycles=with_item(unit.cycles, event.subject, before._replace(**changes)))
    if bath is not None:
        unit = fold_stock.use_bath(unit, bath, before, event)
    if before.soak is not None and changes.get("soak", before.soak) is None:
        unit = fold_stock.out_of_bath(unit, before, event.seq)
    return _end(unit, event, stamp) if data.get("ends") else unit


def _end(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    cycle = unit.cycles[event.subject]
    last = Last(cycle.id, event.data["ends"], stamp, cycle.dried, event.data.get("hang_s_max"), cycle.place)
    scopes = unit.scopes
    if event.subject in scopes:
        scope = fold_usage.ended(scopes[event.subject]._replace(last=last), cycle, event, stamp)
        if event.data.get("resolves_hold"):
            scope = scope._replace(hold=None)
        scopes = with_item(scopes, event.subject, scope)
    return unit._replace(cycles=with_item(unit.cycles, event.subject, None), scopes=scopes)


def _undo(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    undo = unit.cycles[event.subject].undo
    if undo is None:
        raise Defect(f"event {event.id} undoes nothing")
    cycle = undo.cycle
    if cycle is not None:
        dip = fold_stock.standing(unit, cycle.dip)
        cycle = cycle._replace(last_seq=event.seq, last_do="undo", last_at=stamp, dip=dip)
    this = unit.cycles[event.subject].id
    unit = unit._replace(cycles=with_item(unit.cycles, event.subject, cycle))
    return fold_stock.unuse_bath(unit, undo.bath, this) if undo.bath is not None else unit


def _correct(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    what = event.data["what"]
    if what == "strip":
        bath = unit.baths[event.subject]._replace(failed=False)
        return unit._replace(baths=with_item(unit.baths, event.subject, bath))
    if what == "service":
        scope = unit.scopes[event.subject]
        last = scope.last._replace(outcome="returned to service") if scope.last else None
        scope = scope._replace(last=last, fault=None if event.data.get("clears_fault") else scope.fault)
        return unit._replace(scopes=with_item(unit.scopes, event.subject, scope))
    if what == "issue":
        return fold_usage.correct_use(unit, event)
    return _step(unit, event, stamp)


def _release(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    scope = unit.scopes[event.subject]
    last = scope.last._replace(released_by=event.by) if scope.last else None
    return unit._replace(scopes=with_item(unit.scopes, event.subject, scope._replace(last=last)))


def _void(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    if event.data.get("ends"):
        return _end(fold_stock.out_of_bath(unit, unit.cycles[event.subject], event.seq), event, stamp)
    scope = unit.scopes[event.subject]
    last = scope.last._replace(outcome="voided", released_by="") if scope.last else None
    return unit._replace(scopes=with_item(unit.scopes, event.subject, scope._replace(last=last)))


def _confirm_handover(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    if not event.data.get("ends"):
        return fold_handover.offer_declined(unit, event, stamp)
    return _end(fold_stock.out_of_bath(unit, unit.cycles[event.subject], event.seq), event, stamp)


STEP_KINDS = (
    "look", "pass", "count", "start", "lift", "check", "read", "run-end", "skip", "choose", "interrupt",
    "note", "out-of-service", "decide",
)  # fmt: skip

FOLDS: dict[str, Fold] = {
    "boot": _nothing, "checkpoint": _checkpoint, "set-unit": _set_unit, "add-person": fold_people.add_person,
    "retire-person": fold_people.retire_person, "set-badge": fold_people.set_badge, "set-pin": fold_people.set_pin,
    "sign-in": fold_people.sign_in, "pin-wrong": fold_people.pin_wrong, "confirm-acts": _nothing,
    "add-scope": _add_scope,
    "adopt-protocol": _adopt_protocol, "register-container": fold_stock.register_container,
    "close-container": fold_stock.close_container, "pour-bath": fold_stock.pour_bath, "top-up": fold_stock.top_up,
    "close-bath": fold_stock.close_bath, "withdraw-bath": fold_stock.withdraw_bath,
    "register-strips": fold_stock.register_strips,
    "strip-control": fold_stock.strip_control, "close-strips": fold_stock.close_strips,
    "dip-strip": fold_stock.dip_strip, "strip-test": fold_stock.strip_test,
    "choose-limits": fold_stock.choose_limits,
    "confirm-claim": fold_stock.confirm_claim,
    "issue-scope": fold_usage.issue_scope, "procedure-ended": fold_usage.procedure_ended,
    "report-fault": fold_usage.report_fault, "decontaminate": fold_usage.decontaminate,
    "send-for-repair": fold_usage.send_for_repair, "return-checked": fold_usage.return_checked,
    "pair-handheld": fold_handover.pair_handheld, "hand-over": fold_handover.hand_over,
    "take-over": fold_handover.take_over, "decline-offer": fold_handover.answered,
    "confirm-handover": _confirm_handover, "hand-shift": fold_handover.hand_shift,
    "acknowledge": fold_handover.acknowledge, **dict.fromkeys(fold_usage.UPKEEP_KINDS, fold_usage.upkeep),
    "receive": _receive, "undo": _undo, "correct": _correct, "release": _release, "void": _void, "purge": _purge,
    **dict.fromkeys(STEP_KINDS, _step),
}  # fmt: skip


def without_archived(unit: Unit) -> Unit:
    """Promise the unit less what the past weeks hold for good: what is closed, and tests that can cover nothing."""
    in_use = {c.soak.bath for c in unit.cycles.values() if c.soak}
    open_cycles = {c.id for c in unit.cycles.values()}
    baths = {
        label: bath._replace(tests={k: t for k, t in bath.tests.items() if not t.used and t.cycle in open_cycles})
        for label, bath in unit.baths.items()
        if not bath.closed or bath.uid in in_use
    }
    containers = {label: one for label, one in unit.containers.items() if not one.closed}
    strips = {label: one for label, one in unit.strips.items() if not one.closed}
    return unit._replace(baths=baths, containers=containers, strips=strips)
