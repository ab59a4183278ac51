"""evolve for the unit's people: what their events change. It decides nothing."""

from __future__ import annotations

from protocols.clock import Stamp
from protocols.event import Event, event_id
from protocols.fold_stock import with_item
from protocols.unit import Person, Pin, Unit


def _with_person(unit: Unit, person: Person) -> Unit:
    return unit._replace(people=with_item(unit.people, person.id, person))


def add_person(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_person(unit, Person(event.subject, event.data["name"], event.data["role"]))


def retire_person(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    # Badge and PIN go with the person; the name stays for the record.
    person = unit.people[event.subject]
    kept = Person(person.id, person.name, person.role)
    return unit._replace(
        people=with_item(unit.people, event.subject, None), retired=with_item(unit.retired, event.subject, kept)
    )


def set_badge(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_person(unit, unit.people[event.subject]._replace(badge=event.data["badge"]))


def set_pin(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    # A new PIN begins with a clean slate: whoever may set it has been let in or is an administrator.
    person = unit.people[event.subject]._replace(pin=Pin(**event.data["pin"]), wrong=0, wrong_at=None, wait_s=0)
    return _with_person(unit, person)


def sign_in(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return _with_person(unit, unit.people[event.subject]._replace(wrong=0, wrong_at=None, wait_s=0))


def pin_wrong(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    person = unit.people[event.subject]._replace(wrong=event.data["wrong"], wrong_at=stamp, wait_s=event.data["wait_s"])
    return _with_person(unit, person)


def follow_acts(unit: Unit, event: Event) -> Unit:
    """Promise the unit with its open list of unconfirmed acts after the event. Part of `evolve`: decides nothing."""
    if event.data.get("unconfirmed"):
        return unit._replace(unconfirmed={**unit.unconfirmed, event.id: event.subject})
    if not unit.unconfirmed or event.kind not in ("confirm-acts", "undo"):
        return unit
    # An act that was taken back needs nobody to stand for it.
    gone = event.data["acts"] if event.kind == "confirm-acts" else [event_id(event.device, event.data["undoes"])]
    return unit._replace(unconfirmed={act: scope for act, scope in unit.unconfirmed.items() if act not in gone})
