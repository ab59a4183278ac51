"""Handlers for a cycle that goes from one handheld to another without a network: offer, take over or decline, confirm.

Two steps, each an event of its own on its own side. The sender's cycle is frozen from the offer on and ends only with
the receiver's answer; the receiver takes an offer once. So at every moment one handheld at most can go on with a cycle,
and one always holds it. An answer that is lost is given again; nothing but the receiver's word, or a lead's void, ends
the wait. Signatures and addresses are checked at the door (`data.genuine`), which reads keys; here all is state.

Time: a minimum goes on from what was proven at the offer; the time between offer and taking over counts for nothing
towards it and fully, by both wall clocks, towards every maximum. Where the receiver's clock is behind the offer, that
time has no known bound and every running limit counts as passed.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from protocols.clock import Reading, Stamp, longest_gap_ms
from protocols.context import Context, event
from protocols.errors import UNREADABLE, Defect
from protocols.event import Decision, Event
from protocols.plain import from_plain, to_plain
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.unconfirmed import acts_on
from protocols.unit import Bath, Cycle, Peer, Scope, Unit

OFFER_V = 1
# Commands that carry a signed message, each with the value that holds it.
SIGNED = {"take-over": "offer", "decline-offer": "offer", "confirm-handover": "answer"}


def pair_handheld(ctx: Context) -> Decision | Refusal:
    """Take another handheld's name and public key, which must have come by another way than an offer."""
    known = ctx.unit.peers.get(ctx.subject)
    if known is not None and known.key == ctx.get("public_key"):
        return refuse("no-change")
    return Decision(
        "pair-handheld", ctx.subject, {}, {"key": ctx.get("public_key"), "before": known.key if known else ""}
    )


def hand_over(ctx: Context) -> Decision | Refusal:
    """Offer a cycle to a paired handheld, with everything of it as it stands now."""
    peer = ctx.unit.peers.get(ctx.get("device"))
    if peer is None:
        return refuse("unknown-peer", device=ctx.get("device"), known=", ".join(ctx.unit.peers) or aside("none"))
    acts = acts_on(ctx.unit, ctx.subject)
    if acts:
        return refuse("acts-unconfirmed-offer", subject=ctx.subject, count=len(acts))
    cycle, scope = ctx.cycle, ctx.unit.scopes.get(ctx.subject)
    if scope is None:
        return refuse("unknown-scope", subject=ctx.subject)
    bath = next((b for b in ctx.unit.baths.values() if b.cycle == cycle.id and not b.closed), None)
    data = {
        "device": peer.device, "key": peer.key, "open": _oldest_open(ctx.unit, peer.device),
        "cycle": to_plain(_stamped(cycle._replace(undo=None), lambda s: _age(s, ctx.now))),
        "scope": to_plain(_stamped(scope._replace(last=None), lambda s: _age(s, ctx.now))),
        "bath": to_plain(_stamped(bath, lambda s: _age(s, ctx.now))) if bath is not None else None,
    }  # fmt: skip
    return event(ctx, data)


def _oldest_open(unit: Unit, device: str) -> int:
    """The number of the oldest offer to that handheld that it has not answered; 0 where there is none."""
    return min((c.offer.number for c in unit.cycles.values() if c.offer and c.offer.to == device), default=0)


def _age(stamp: Stamp, now: Stamp) -> Stamp:
    return Stamp(stamp.proven_ms - now.proven_ms, stamp.longest_ms - now.longest_ms, stamp.wall_ms)


def _stamped(state: Any, turn: Callable[[Stamp], Stamp]) -> Any:
    """Promise the named tuple with every stamp in it turned, however deep."""
    if isinstance(state, Stamp):
        return turn(state)
    if hasattr(state, "_fields"):
        return state._replace(**{name: _stamped(getattr(state, name), turn) for name in state._fields})
    if isinstance(state, tuple):
        return tuple(_stamped(item, turn) for item in state)
    if isinstance(state, dict):
        return {key: _stamped(item, turn) for key, item in state.items()}
    return state


def read_message(text: str, kind: str) -> dict[str, Any] | Refusal:
    """Promise the object of a message of that kind ("offer" or "answer"), or that it can't be read."""
    try:
        message = json.loads(text)
    except (ValueError, RecursionError):
        message = None
    if not isinstance(message, dict) or (message.get("v"), message.get("kind")) != (OFFER_V, kind):
        return refuse("message-unread", kind=kind)
    return message


def settled(peer: Peer, number: int) -> bool:
    """Promise whether an offer with that number was answered, or is settled on the sender's side."""
    return number < peer.below or str(number) in peer.answered


def _offered(ctx: Context) -> tuple[dict[str, Any], Peer] | Refusal:
    """Promise an offer that is still to be answered, for this scope, and its sender."""
    offer = read_message(ctx.get("offer"), "offer")
    if isinstance(offer, Refusal):
        return offer
    peer, number = ctx.unit.peers.get(str(offer.get("from"))), offer.get("number")
    scope = offer.get("scope")
    if not isinstance(number, int) or not isinstance(scope, dict) or scope.get("tag") != ctx.subject:
        return refuse("message-unread", kind="offer")
    if peer is None:
        return refuse("unknown-peer", device=offer.get("from"), known=", ".join(ctx.unit.peers) or aside("none"))
    if settled(peer, number):
        return refuse("offer-known", subject=ctx.subject, device=peer.device)
    return offer, peer


def take_over(ctx: Context) -> Decision | Refusal:
    """Take an offered cycle over, whole and once; from here on it goes on here."""
    offered = _offered(ctx)
    if isinstance(offered, Refusal):
        return offered
    offer, peer = offered
    open_here = ctx.unit.cycles.get(ctx.subject)
    if open_here is not None:  # asked only now: an offer that was taken must be answered again whatever goes on here
        return refuse("in-cycle", subject=ctx.subject, step=open_here.step)
    own = ctx.unit.scopes.get(ctx.subject)
    try:
        cycle, scope = from_plain(Cycle, offer["cycle"]), from_plain(Scope, offer["scope"])
        bath = from_plain(Bath, offer["bath"])
        events = [Event(**one) for one in (*offer["history"], *offer["pours"])]
        if events[0].kind != "receive" or any(one.data.get("ends") for one in events):
            return refuse("message-unread", kind="offer")
        wrong = _can_not(ctx, cycle, scope, own)
        if wrong:
            return wrong
        transfer_ms = longest_gap_ms(int(offer["wall_ms"]), Reading(0, ctx.now.wall_ms, ""))
        data = _taken(ctx, offer, peer, transfer_ms)
        back = _onto(ctx.now, transfer_ms)
        data["cycle"] = to_plain(_stamped(cycle._replace(offer=None), back))
        data["scope"] = to_plain(_merged(_stamped(scope, back), own))
        if bath is not None and (ctx.unit.baths.get(bath.label) is None or ctx.unit.baths[bath.label].closed):
            data["bath"] = to_plain(_stamped(bath, back))
    except (Defect, *UNREADABLE):
        return refuse("message-unread", kind="offer")
    return Decision("take-over", ctx.subject, {"scope": ctx.subject, "case": cycle.case}, data)


def _can_not(ctx: Context, cycle: Cycle, scope: Scope, own: Scope | None) -> Refusal | None:
    if own is not None and own.serial and scope.serial and own.serial != scope.serial:
        return refuse("scope-differs", subject=ctx.subject, own=own.serial, offered=scope.serial)
    if own is not None and own.fault is not None and own.fault.away is not None:
        return refuse("away", subject=ctx.subject, why=aside("with", repairer=own.fault.repairer, why=own.fault.why))
    if not ctx.shelf.holds(cycle.text_sha256):
        return refuse("text-missing", protocol=scope.protocol)
    ctx.shelf.protocol(cycle.text_sha256).step(cycle.step)  # KeyError: not a step of that text
    return None


def _onto(now: Stamp, transfer_ms: int) -> Callable[[Stamp], Stamp]:
    """Promise what puts an age at the offer onto this handheld's timeline."""
    return lambda s: Stamp(s.proven_ms + now.proven_ms, s.longest_ms + now.longest_ms - transfer_ms, s.wall_ms)


def _merged(scope: Scope, own: Scope | None) -> Scope:
    """Promise the offered scope as this handheld then knows it: what is against its use on either side stays."""
    if own is None:
        return scope
    return own._replace(used=scope.used, hold=scope.hold or own.hold, fault=scope.fault or own.fault)


def _taken(ctx: Context, offer: dict[str, Any], peer: Peer, transfer_ms: int) -> dict[str, Any]:
    data = {
        "device": peer.device, "offer": offer["offer"], "number": offer["number"], "open": offer["open"],
        "head": offer["head"], "at": offer["at"], "signature": ctx.get("signature"),
        "cycle_there": offer["cycle_id"], "transfer_s": transfer_ms / 1000,
        "text_sha256": offer["cycle"]["text_sha256"], "history": offer["history"], "pours": offer["pours"],
        "names": offer["names"],
    }  # fmt: skip
    if ctx.now.wall_ms < int(offer["wall_ms"]):
        data["notices"] = [kept("clock-behind", device=peer.device)]
    return data


def decline_offer(ctx: Context) -> Decision | Refusal:
    """Give an offer back: it is never taken here, and the sender goes on with the cycle."""
    offered = _offered(ctx)
    if isinstance(offered, Refusal):
        return offered
    offer, peer = offered
    data = {"device": peer.device, "offer": offer.get("offer"), "number": offer["number"], "open": offer.get("open")}
    return Decision("decline-offer", ctx.subject, {"scope": ctx.subject}, data)


def confirm_handover(ctx: Context) -> Decision | Refusal:
    """Take the receiver's answer: taken, the cycle ends here as handed over; declined, it goes on here."""
    offer, answer = ctx.cycle.offer, read_message(ctx.get("answer"), "answer")
    if isinstance(answer, Refusal):
        return answer
    if offer is None or answer.get("offer") != offer.id or not isinstance(answer.get("taken"), bool):
        return refuse("answer-other", subject=ctx.subject)
    data = {
        "device": offer.to, "offer": offer.id, "taken": answer["taken"], "signature": ctx.get("signature"),
        "cycle_there": str(answer.get("cycle", "")), "head": str(answer.get("head", "")),
    }  # fmt: skip
    return event(ctx, {**data, "ends": "handed over"} if answer["taken"] else data)
