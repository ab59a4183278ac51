"""evolve for handhelds that hand cycles to each other, and for the handover of a shift. It decides nothing."""

from __future__ import annotations

from protocols.clock import Stamp
from protocols.event import Event
from protocols.fold_stock import with_item
from protocols.plain import from_plain
from protocols.unit import Bath, Cycle, Offer, Peer, Scope, Shift, Unit


def pair_handheld(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    known = unit.peers.get(event.subject)
    key = event.data["key"]
    peer = known._replace(key=key) if known is not None else Peer(event.subject, key)
    return unit._replace(peers=with_item(unit.peers, event.subject, peer))


def hand_over(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    offer = Offer(event.id, event.seq, event.data["device"], event.data["key"], stamp)
    return _with_cycle(unit, event, stamp, offer)


def _with_cycle(unit: Unit, event: Event, stamp: Stamp, offer: Offer | None) -> Unit:
    cycle = unit.cycles[event.subject]
    cycle = cycle._replace(offer=offer, undo=None, dip=None, last_seq=event.seq, last_do=event.kind, last_at=stamp)
    return unit._replace(cycles=with_item(unit.cycles, event.subject, cycle))


def offer_declined(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    """The sender's side of an offer that was given back: the cycle goes on as it stood."""
    return _with_cycle(unit, event, stamp, None)


def take_over(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    data = event.data
    scope: Scope = from_plain(Scope, data["scope"])
    known = unit.scopes.get(event.subject)
    scope = scope._replace(last=known.last if known is not None else None)
    cycle: Cycle = from_plain(Cycle, data["cycle"])
    cycle = cycle._replace(id=event.id, last_seq=event.seq, last_do=event.kind, last_at=stamp)
    if data.get("bath"):
        bath: Bath = from_plain(Bath, data["bath"])
        unit = unit._replace(baths=with_item(unit.baths, bath.label, bath._replace(cycle=event.id)))
    unit = unit._replace(
        scopes=with_item(unit.scopes, event.subject, scope), cycles=with_item(unit.cycles, event.subject, cycle)
    )
    return answered(unit, event, stamp)


def answered(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    """The receiver's side: this offer is never taken again, and what the sender has settled is forgotten."""
    data = event.data
    peer = unit.peers[data["device"]]
    below = max(peer.below, data["open"] or data["number"])
    known = {**peer.answered, str(data["number"]): event.id}
    kept = {number: by for number, by in known.items() if int(number) >= below}
    return unit._replace(peers=with_item(unit.peers, peer.device, peer._replace(below=below, answered=kept)))


def hand_shift(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    return unit._replace(shift=Shift(event.by, event.subject, stamp, tuple(event.data["running"])))


def acknowledge(unit: Unit, event: Event, stamp: Stamp) -> Unit:
    shift = unit.shift
    return unit if shift is None else unit._replace(shift=shift._replace(seen=(*shift.seen, event.data["seen"])))
