"""evolve for solutions, strips, limit sets and claims: what their events change. It decides nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from protocols.clock import Stamp
from protocols.event import Event
from protocols.stock import Bath, Chosen, Confirmed, Container, Dip, Strips, StripTest, Use
from protocols.unit import Cycle, Held, Hold, Unit


def with_item(items: Mapping[str, Any], key: str, item: Any) -> dict[str, Any]:
    """Promise a copy of a map with one item set, or removed when it is None."""
    changed = dict(items)
    if item is None:
        changed.pop(key, None)
    else:
        changed[key] = item
    return changed


def _with_bath(unit: Unit, bath: Bath) -> Unit:
    """A bath as it is now; strips that wait to be read and can cover nothing in it any more are forgotten."""
    unit = unit._replace(baths=with_item(unit.baths, bath.label, bath))
    for cycle in unit.cycles.values():
        if cycle.dip is not None and standing(unit, cycle.dip) is None:
            unit = _with_dip(unit, cycle.scope, None)
    return unit


def register_container(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    container = Container(event.id, event.subject, registered=stamp, registered_by=event.by, **event.data["container"])
    return unit._replace(containers=with_item(unit.containers, event.subject, container))


def close_container(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    closed = unit.containers[event.subject]._replace(closed=event.data["reason"])
    return unit._replace(containers=with_item(unit.containers, event.subject, closed))


def pour_bath(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_bath(unit, Bath(event.id, event.subject, poured=stamp, poured_by=event.by, **event.data["bath"]))


def top_up(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_bath(unit, unit.baths[event.subject]._replace(**event.data["now"], topped=event.seq))


def close_bath(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _in_doubt(_with_bath(unit, unit.baths[event.subject]._replace(closed=event.data["reason"])), event)


def withdraw_bath(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _in_doubt(_with_bath(unit, unit.baths[event.subject]._replace(withdrawn=event.data["reason"])), event)


def _in_doubt(unit: Unit, event: Event) -> Unit:
    doubt = event.data.get("doubt", {})
    for scope in doubt.get("scopes", ()):
        cycle = unit.cycles[scope]
        if cycle.soak is not None:
            cycle = cycle._replace(soak=cycle.soak._replace(doubt=doubt["why"]))
            unit = unit._replace(cycles=with_item(unit.cycles, scope, cycle))
    return unit


def register_strips(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    bottle = Strips(event.id, event.subject, registered=stamp, registered_by=event.by, **event.data["strips"])
    return unit._replace(strips=with_item(unit.strips, event.subject, bottle))


def strip_control(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    """A control counts for every bottle of its lot and kind."""
    data = event.data
    strips = {
        label: one._replace(controlled=data["result"] == "pass")
        if (one.lot, one.type) == (data["lot"], data["type"]) else one
        for label, one in unit.strips.items()
    }  # fmt: skip
    strips[event.subject] = strips[event.subject]._replace(closed=data.get("closed", ""))
    return unit._replace(strips=strips)


def close_strips(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    closed = unit.strips[event.subject]._replace(closed=event.data["reason"])
    return unit._replace(strips=with_item(unit.strips, event.subject, closed))


def dip_strip(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    dip = Dip(at=stamp, seq=event.seq, **event.data["dip"])
    return _with_dip(unit, event.data["scope"], dip)


def standing(unit: Unit, dip: Dip | None) -> Dip | None:
    """Promise the dip where its strip can still cover a soak, None where its bath was topped up or went out of use."""
    bath = unit.baths.get(dip.label) if dip is not None else None
    if dip is None or bath is None or bath.uid != dip.bath or bath.topped > dip.seq:
        return None
    return None if bath.closed or bath.failed or bath.withdrawn else dip


def _with_dip(unit: Unit, scope: str, dip: Dip | None) -> Unit:
    cycle = unit.cycles[scope]._replace(dip=dip)
    return unit._replace(cycles=with_item(unit.cycles, scope, cycle))


def strip_test(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    bath, data = unit.baths.get(event.subject), event.data
    cycle = unit.cycles.get(data["scope"])
    if cycle is not None and cycle.dip is not None and cycle.dip.bath == event.refs["bath"]:
        unit = _with_dip(unit, cycle.scope, None)
    if bath is None or bath.uid != event.refs["bath"]:
        return _held(unit, event)  # a discarded bath, archived by the checkpoint just before this event
    test = StripTest(
        data["test"], data["scope"], event.refs.get("cycle", ""), data["result"], data["strip_lot"], stamp,
        seq=data.get("dipped", event.seq),
    )  # fmt: skip
    bath = bath._replace(tests=with_item(bath.tests, test.id, test), failed=bath.failed or test.result == "fail")
    return _held(_in_doubt(_with_bath(unit, bath), event), event)


def _held(unit: Unit, event: Event) -> Unit:
    why, bath = event.data.get("holds_why", ""), event.refs["bath"]
    for one in event.data.get("holds", ()):
        tag = one["scope"]
        if one["as"] == "cycle":
            cycle = unit.cycles[tag]
            # A stricter hold stays what it is: contact that was not proven can't be continued.
            before = cycle.hold
            hold = Hold("doubtful bath", why) if before is None else before._replace(why=f"{before.why}; {why}")
            unit = unit._replace(cycles=with_item(unit.cycles, tag, cycle._replace(hold=hold, undo=None)))
        elif one["as"] == "stored":
            scope = unit.scopes[tag]._replace(hold=Held(why, one["cycle"], bath))
            unit = unit._replace(scopes=with_item(unit.scopes, tag, scope))
    return unit


def decide_stored(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    """A lead has decided about a held scope whose cycle had ended."""
    scope = unit.scopes[event.subject]._replace(hold=None)
    if event.data["stored_outcome"] and scope.last is not None:
        scope = scope._replace(last=scope.last._replace(outcome=event.data["stored_outcome"]))
    return unit._replace(scopes=with_item(unit.scopes, event.subject, scope))


def use_bath(unit: Unit, bath: Bath, cycle: Cycle, event: Event) -> Unit:
    """A cycle has gone into a bath, under the strip test that the event names, if any."""
    test = event.data["uses"].get("test", "")
    tests, since = bath.tests, bath.since
    if test:
        # What was out of the bath before this strip passed is in doubt no more: the strip showed the bath still good.
        still = (use for use in since if not 0 < use.end < tests[test].seq)
        since = (*still, Use(cycle.scope, cycle.id, event.seq))
        tests = with_item(tests, test, tests[test]._replace(used=True))
    used = bath._replace(cycle=cycle.id, uses=bath.uses + 1, tests=tests, since=since)
    return _with_bath(unit, used)


def out_of_bath(unit: Unit, cycle: Cycle, seq: int) -> Unit:
    """A cycle has come out of the bath that it lay in, however its soak ended."""
    bath = unit.bath(cycle.soak.bath) if cycle.soak else None
    if bath is None or not bath.since:
        return unit
    since = tuple(use._replace(end=seq) if use.cycle == cycle.id and not use.end else use for use in bath.since)
    return _with_bath(unit, bath._replace(since=since))


def unuse_bath(unit: Unit, was: Bath, cycle: str) -> Unit:
    """Take back one cycle's use of a bath and no more: a strip that failed or a closing since then stays."""
    bath = unit.baths.get(was.label)
    if bath is None or bath.uid != was.uid:
        return unit
    own = {name: test for name, test in was.tests.items() if test.cycle == cycle}
    holder = was.cycle if bath.cycle == cycle else bath.cycle
    last = max((use.start for use in bath.since if use.cycle == cycle), default=0)
    kept = [use for use in bath.since if use.start != last]
    # What this use had let go comes back, unless a later use has let it go as well.
    later = any(use.start > last for use in kept)
    known = {use.start for use in bath.since}
    dropped = [] if later else [use for use in was.since if use.start not in known]
    restored = bath._replace(
        cycle=holder, uses=bath.uses - 1, tests={**bath.tests, **own}, since=(*dropped, *kept),
    )  # fmt: skip
    return _with_bath(unit, restored)


def choose_limits(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    named = event.data["chosen"]
    chosen = Chosen(**named, by=event.by, day=event.wall[:10]) if named else None
    return unit._replace(limits=with_item(unit.limits, event.data["limit"], chosen))


def confirm_claim(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(claims=with_item(unit.claims, event.subject, Confirmed(**event.data["confirmed"])))
