"""Messages with which two handhelds hand cycles to each other, made from the record, and the packets that carry them.

An offer or an answer is made from its own event and earlier lines of the journal, so it can be shown again at any time
and is always the same bytes. Its signature is over those bytes. A packet is a JSON object with `messages` (text and
signature each) and `texts`, the protocols that its cycles began with; texts vouch for themselves by their hash, which
the signed cycle names.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from hashlib import sha256
from itertools import chain
from typing import Any, NamedTuple

from data.canonical import canonical
from data.door import Door
from data.gather import cycle_of
from data.segments import CHECKPOINT
from data.signing import Signer
from protocols.clock import parse_wall
from protocols.errors import ProtocolFault, RecordDamaged, TechnicianError
from protocols.event import Command, Event, from_envelope, seq_of
from protocols.handover import OFFER_V, read_message
from protocols.refusals import Refusal
from protocols.unit import Cycle

PACKET_V = 1
PACKET_LONGEST = 33_554_432


class PacketFault(TechnicianError):
    """What came from the other handheld can't be used; bring it again."""


class Taken(NamedTuple):
    """One message of a packet and the door's answer to it. `kind` is "offer" or "answer"; `message` as it came."""

    kind: str
    message: dict[str, Any]
    answer: Event | Refusal

    @property
    def scope(self) -> str:
        """Promise the tag of the scope that the message is about, "" where it names none."""
        return _tag(self.message)


def open_offers(door: Door, device: str = "") -> list[str]:
    """Promise the tags of cycles that are offered and not answered: to that handheld, or to any."""
    offered = [c for c in door.unit.cycles.values() if c.offer is not None and device in ("", c.offer.to)]
    return [c.scope for c in sorted(offered, key=lambda c: c.offer.number if c.offer else 0)]


def offers_packet(door: Door, signer: Signer, tags: Iterable[str], with_texts: bool) -> bytes:
    """Promise the packet of the offers that stand for these scopes. `with_texts` for a file, which has the room.

    Raises RecordDamaged when the record can't be read back.
    """
    cycles = [door.unit.cycles[tag] for tag in tags]
    texts = [door.texts.get(sha) for sha in sorted({one.text_sha256 for one in cycles})] if with_texts else []
    return _packet(signer, [_offer(door, *_with_lines(door, one)) for one in cycles], texts)


def answers_packet(door: Door, signer: Signer, offers: Iterable[tuple[str, int]]) -> bytes:
    """Promise the packet of the answers given to these offers, each by the other handheld's name and its number.

    One that is settled on the other side has none any more.
    """
    given = {}
    for device, number in offers:
        peer = door.unit.peers.get(device)
        event = peer.answered.get(str(number)) if peer is not None else None
        if event is not None:
            given[event] = seq_of(event)
    answers = []
    for line in _lines(door, min(given.values(), default=0), max(given.values(), default=0)):
        if from_envelope(line).id in given:
            answers.append(_answer(door, line))
    return _packet(signer, answers, [])


def _lines(door: Door, first: int, last: int) -> Iterator[dict[str, Any]]:
    """The events of the record between two seqs; none where there is nothing to look for."""
    if not last:
        return
    carried = [line for line, _ in door.journal.carried() if line["seq"] >= first]
    for line in chain(carried, door.journal.lines(first)):
        if line["seq"] > last:
            return
        if line["kind"] != CHECKPOINT:
            yield line


def _packet(signer: Signer, messages: list[dict[str, Any]], texts: list[str]) -> bytes:
    signed = []
    for message in messages:
        text = canonical(message)
        signed.append({"text": text.decode(), "signature": signer.sign(text).hex()})
    return canonical({"v": PACKET_V, "messages": signed, "texts": texts})


def _with_lines(door: Door, cycle: Cycle) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """The line that offers a cycle, with every line of the cycle before it and the pourings of its baths."""
    last = cycle.offer.number if cycle.offer is not None else 0
    own = [line for line in _lines(door, seq_of(cycle.id), last) if cycle_of(from_envelope(line)) == cycle.id]
    if not own or own[-1]["seq"] != last:
        raise RecordDamaged(f"the record does not hold the offer of {cycle.scope} any more; bring it back from a copy")
    here = f"{door.device}-"
    baths = {line["refs"].get("bath", "") for line in own}
    poured = {seq_of(uid) for uid in baths if uid.startswith(here)}
    pours = [line for line in _lines(door, min(poured, default=0), max(poured, default=0)) if line["seq"] in poured]
    return own[-1], [*pours, *own[:-1]]


def _offer(door: Door, line: dict[str, Any], lines: list[dict[str, Any]]) -> dict[str, Any]:
    event, data = from_envelope(line), line["data"]
    history, pours, names = [], [], {}
    for one in lines:
        if one["kind"] == "pour-bath":
            pours.append(_plain(one))
            continue
        if one["kind"] == "take-over":
            # What it came with goes on with it; the taking over itself stays as a mark.
            history += one["data"]["history"]
            pours += one["data"]["pours"]
            names.update(one["data"]["names"])
        kept = {k: v for k, v in one["data"].items() if k not in ("history", "pours", "names", "cycle", "scope")}
        history.append(_plain({**one, "data": kept}))
    people = {one["by"] for one in history} | {event.by}
    names.update({who: door.unit.name_of(who) for who in sorted(people) if who not in names})
    return {
        "v": OFFER_V, "kind": "offer", "offer": event.id, "number": event.seq, "open": data["open"] or event.seq,
        "from": door.device, "to": data["device"], "to_key": data["key"],
        "at": event.wall, "wall_ms": parse_wall(event.wall), "head": line["hash"], "by": event.by,
        "cycle_id": event.refs["cycle"], "cycle": data["cycle"], "scope": data["scope"], "bath": data["bath"],
        "history": history, "pours": pours, "names": names,
    }  # fmt: skip


def _plain(line: dict[str, Any]) -> dict[str, Any]:
    return dict(from_envelope(line)._asdict())


def _answer(door: Door, line: dict[str, Any]) -> dict[str, Any]:
    event = from_envelope(line)
    peer = door.unit.peers[event.data["device"]]
    return {
        "v": OFFER_V, "kind": "answer", "offer": event.data["offer"], "tag": event.subject,
        "taken": event.kind == "take-over", "cycle": event.id if event.kind == "take-over" else "",
        "from": door.device, "to": peer.device, "to_key": peer.key, "head": line["hash"], "at": event.wall,
    }  # fmt: skip


def read_packet(content: bytes) -> tuple[list[tuple[str, str]], list[str]]:
    """Promise the messages (text and signature) and the texts of a packet. Raises PacketFault for anything else."""
    try:
        if len(content) > PACKET_LONGEST:
            raise ValueError("too long")
        packet = json.loads(content)
        messages = [(one["text"], one["signature"]) for one in packet["messages"]]
        texts = list(packet["texts"])
        whole = packet["v"] == PACKET_V and all(isinstance(x, str) for pair in (*messages, texts) for x in pair)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise PacketFault("this is no packet of another handheld; bring it again") from error
    if not whole:
        raise PacketFault("this packet was made by another version of the app; update both handhelds")
    return messages, texts


def take_packet(door: Door, content: bytes, by: str, decline: bool = False) -> list[Taken]:
    """Promise what became of every message of a packet, in order: offers taken over (or declined), answers taken.

    Raises PacketFault, CommandFault for a message that is out of all shape, SigningUnavailable, or DiskError; what was
    taken until then stays taken.
    """
    messages, texts = read_packet(content)
    _shelve(door, texts)
    taken = []
    for text, signature in messages:
        offer = read_message(text, "offer")
        message = read_message(text, "answer") if isinstance(offer, Refusal) else offer
        if isinstance(message, Refusal):
            taken.append(Taken("", {}, message))
            continue
        kind = str(message["kind"])
        do = "confirm-handover" if kind == "answer" else "decline-offer" if decline else "take-over"
        values = {"answer" if kind == "answer" else "offer": text, "signature": signature}
        answer = door.give(Command(do, _tag(message) or "?", values, by))
        taken.append(Taken(kind, message, answer))
    return taken


def _tag(message: dict[str, Any]) -> str:
    # Nobody has looked at the message yet: it may hold anything under any name.
    scope = message.get("scope")
    tag = scope.get("tag") if isinstance(scope, dict) else message.get("tag")
    return tag if isinstance(tag, str) else ""


def _shelve(door: Door, texts: Iterable[str]) -> None:
    # A text is used only by the hash that a signed cycle names; a faulty one is left out, and the cycle then refused.
    for text in texts:
        if not door.shelf.holds(sha256(text.encode("utf-8", "surrogatepass")).hexdigest()):
            try:
                door.shelf.read(text, "text of another handheld")
            except ProtocolFault:
                continue


def to_answer(door: Door, taken: Iterable[Taken]) -> list[tuple[str, int]]:
    """Promise which offers among these have an answer here, given now or before: from whom, and their number.

    One that the sender has settled needs none any more, and has none.
    """
    found = []
    for one in taken:
        if one.kind == "offer" and (isinstance(one.answer, Event) or one.answer.key == "offer-known"):
            found.append((str(one.message["from"]), int(one.message["number"])))
    peers = door.unit.peers
    return [(device, number) for device, number in found if str(number) in peers[device].answered]
