"""evolve(unit, event) -> unit: what an event changes. It never validates, never refuses and decides nothing.

Everything an event changes is written in its `data` by the decision that made it, so that a record reads the same
for ever, whatever the rules become. Keys that step events share:

    to         the step the cycle is at afterwards ("" when the cycle ends)
    running    whether a soak, air or run goes on
    done, passes   counts of the present step
    timer, delay, soak, hold   replace the cycle's own (None clears)
    flags      the conditions that hold for the path
    marks      {delayed, disinfected, dried (to None), place, extended_s_max} to set on the cycle
    moments    ["clean_from" | "dried"]: set to this event's moment
    uses       {bath, test?}: the bath (label) and strip test this event uses up
    doubt      {scopes, why}: scopes lying in a bath that this event makes doubtful
    undo       true when the tap may be taken back for some seconds
    ends       how the cycle ends with this event, if it does
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from protocols.clock import Stamp, parse_wall
from protocols.errors import Defect
from protocols.event import Event
from protocols.unit import (
    GIVEN_AGAIN,
    Bath,
    Cycle,
    Hold,
    Last,
    Person,
    Scope,
    Settings,
    Soak,
    StripTest,
    Timer,
    Undo,
    Unit,
)

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
    unit = _remember(fold(unit, event, stamp), event.data)
    return unit._replace(
        seq=event.seq, time=unit.time._replace(last_elapsed_ms=event.elapsed, last_wall_ms=stamp.wall_ms)
    )


def with_item(items: Mapping[str, Any], key: str, item: Any) -> dict[str, Any]:
    """Promise a copy of a map with one item set, or removed when it is None."""
    changed = dict(items)
    if item is None:
        changed.pop(key, None)
    else:
        changed[key] = item
    return changed


def _remember(unit: Unit, data: Mapping[str, Any]) -> Unit:
    again = {name: data[name] for name in GIVEN_AGAIN if data.get(name)}
    return unit._replace(last_given={**unit.last_given, **again}) if again else unit


def _nothing(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit


def _checkpoint(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    # Its data is the state before it, less what is archived: folding on from there and from it gives the same.
    return without_archived(unit)


def _set_unit(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(settings=Settings(**event.data["settings"]))


def _add_person(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    person = Person(event.subject, event.data["name"], event.data["role"])
    return unit._replace(people=with_item(unit.people, event.subject, person))


def _add_scope(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(scopes=with_item(unit.scopes, event.subject, Scope(event.subject, **event.data["scope"])))


def _adopt_protocol(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(protocols=with_item(unit.protocols, event.subject, event.data["text_sha256"]))


def _pour_bath(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    bath = Bath(event.id, event.subject, poured=stamp, poured_by=event.by, **event.data["bath"])
    return unit._replace(baths=with_item(unit.baths, event.subject, bath))


def _close_bath(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    bath = unit.baths[event.subject]._replace(closed=event.data["reason"])
    return _in_doubt(unit._replace(baths=with_item(unit.baths, event.subject, bath)), event)


def _in_doubt(unit: Unit, event: Event) -> Unit:
    doubt = event.data.get("doubt", {})
    for scope in doubt.get("scopes", ()):
        cycle = unit.cycles[scope]
        if cycle.soak is not None:
            cycle = cycle._replace(soak=cycle.soak._replace(doubt=doubt["why"]))
            unit = unit._replace(cycles=with_item(unit.cycles, scope, cycle))
    return unit


def _strip_test(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    bath, data = unit.baths[event.subject], event.data
    test = StripTest(data["test"], data["scope"], event.refs.get("cycle", ""), data["result"], data["strip_lot"], stamp)
    bath = bath._replace(tests=with_item(bath.tests, test.id, test), failed=bath.failed or test.result == "fail")
    return _in_doubt(unit._replace(baths=with_item(unit.baths, event.subject, bath)), event)


def _receive(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data = event.data
    cycle = Cycle(
        event.id, event.subject, data["text_sha256"], data["case"], stamp, data["to"], stamp,
        event.seq, event.kind, stamp,
        flags=frozenset(data["flags"]), timer=_timer(data.get("timer"), stamp), delay=_timer(data.get("delay"), stamp),
        delayed=bool(data["marks"]["delayed"]), undo=Undo(event.seq, stamp),
    )  # fmt: skip
    return unit._replace(cycles=with_item(unit.cycles, event.subject, cycle))


def _timer(plain: Mapping[str, Any] | None, since: Stamp) -> Timer | None:
    return Timer(since=since, **plain) if plain else None


def _step(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    before = unit.cycles[event.subject]
    data = event.data
    if event.kind == "note":  # a note moves nothing and takes no undo away
        return unit._replace(cycles=with_item(unit.cycles, event.subject, before._replace(last_seq=event.seq)))
    changes: dict[str, Any] = {"last_seq": event.seq, "last_do": event.kind, "last_at": stamp, "undo": None}
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
        unit = _use(unit, bath, before.id, data["uses"].get("test", ""))
    return _end(unit, event, stamp) if data.get("ends") else unit


def _use(unit: Unit, bath: Bath, cycle: str, test: str) -> Unit:
    tests = bath.tests
    if test:
        tests = with_item(tests, test, tests[test]._replace(used=True))
    used = bath._replace(cycle=cycle, uses=bath.uses + 1, tests=tests)
    return unit._replace(baths=with_item(unit.baths, bath.label, used))


def _end(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    cycle = unit.cycles[event.subject]
    last = Last(cycle.id, event.data["ends"], stamp, cycle.dried, event.data.get("hang_s_max"), cycle.place)
    scopes = unit.scopes
    if event.subject in scopes:
        scopes = with_item(scopes, event.subject, scopes[event.subject]._replace(last=last))
    return unit._replace(cycles=with_item(unit.cycles, event.subject, None), scopes=scopes)


def _undo(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    undo = unit.cycles[event.subject].undo
    if undo is None:
        raise Defect(f"event {event.id} undoes nothing")
    cycle = undo.cycle
    if cycle is not None:
        cycle = cycle._replace(last_seq=event.seq, last_do="undo", last_at=stamp)
    this = unit.cycles[event.subject].id
    unit = unit._replace(cycles=with_item(unit.cycles, event.subject, cycle))
    return _unuse(unit, undo.bath, this) if undo.bath is not None else unit


def _unuse(unit: Unit, was: Bath, cycle: str) -> Unit:
    """Take back one cycle's use of a bath and no more: a strip that failed or a closing since then stays."""
    bath = unit.baths.get(was.label)
    if bath is None or bath.uid != was.uid:
        return unit
    tests = {**bath.tests, **{name: test for name, test in was.tests.items() if test.cycle == cycle}}
    holder = was.cycle if bath.cycle == cycle else bath.cycle
    restored = bath._replace(cycle=holder, uses=bath.uses - 1, tests=tests)
    return unit._replace(baths=with_item(unit.baths, was.label, restored))


def _correct(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    what = event.data["what"]
    if what == "strip":
        bath = unit.baths[event.subject]._replace(failed=False)
        return unit._replace(baths=with_item(unit.baths, event.subject, bath))
    if what == "service":
        scope = unit.scopes[event.subject]
        last = scope.last._replace(outcome="returned to service") if scope.last else None
        return unit._replace(scopes=with_item(unit.scopes, event.subject, scope._replace(last=last)))
    return _step(unit, event, stamp)


def _release(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    scope = unit.scopes[event.subject]
    last = scope.last._replace(released_by=event.by) if scope.last else None
    return unit._replace(scopes=with_item(unit.scopes, event.subject, scope._replace(last=last)))


def _void(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    if event.data.get("ends"):
        return _end(unit, event, stamp)
    scope = unit.scopes[event.subject]
    last = scope.last._replace(outcome="voided", released_by="") if scope.last else None
    return unit._replace(scopes=with_item(unit.scopes, event.subject, scope._replace(last=last)))


STEP_KINDS = (
    "look", "pass", "count", "start", "lift", "check", "read", "run-end", "skip", "choose", "interrupt",
    "note", "out-of-service", "decide",
)  # fmt: skip

FOLDS: dict[str, Fold] = {
    "boot": _nothing, "checkpoint": _checkpoint, "set-unit": _set_unit, "add-person": _add_person,
    "add-scope": _add_scope,
    "adopt-protocol": _adopt_protocol, "pour-bath": _pour_bath, "close-bath": _close_bath, "strip-test": _strip_test,
    "receive": _receive, "undo": _undo, "correct": _correct, "release": _release, "void": _void,
    **dict.fromkeys(STEP_KINDS, _step),
}  # fmt: skip


def without_archived(unit: Unit) -> Unit:
    """Promise the unit less what the past weeks hold for good: closed baths, and tests that can cover nothing more."""
    in_use = {c.soak.bath for c in unit.cycles.values() if c.soak}
    open_cycles = {c.id for c in unit.cycles.values()}
    baths = {
        label: bath._replace(tests={k: t for k, t in bath.tests.items() if not t.used and t.cycle in open_cycles})
        for label, bath in unit.baths.items()
        if not bath.closed or bath.uid in in_use
    }
    return unit._replace(baths=baths)
