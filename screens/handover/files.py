"""What goes between two handhelds: packets as codes or files of the home, keys to pair with, and what came of them.

Needs no window.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

from data.canonical import canonical
from data.disk import Disk
from data.door import Door
from data.handover import Taken, answers_packet, offers_packet, open_offers, take_packet, to_answer
from data.signing import signer_of
from protocols.chunks import chunks
from protocols.event import Event
from screens.shown import in_words, refused
from screens.words import say

FOLDER = "handover"


def own_key(door: Door, disk: Disk) -> bytes:
    """Promise this handheld's name and public key as a packet that another one reads to pair with it."""
    return canonical({"v": 1, "device": door.device, "key": signer_of(disk).public})


def key_in(packet: bytes) -> tuple[str, str] | None:
    """Promise the name and key of a pairing packet, None for any other packet."""
    try:
        found = json.loads(packet)
    except ValueError:
        return None
    if (
        isinstance(found, dict)
        and set(found) == {"v", "device", "key"}
        and all(isinstance(found[name], str) for name in ("device", "key"))
    ):
        return found["device"], found["key"]
    return None


def offers(door: Door, disk: Disk, as_file: bool) -> bytes:
    """Promise the packet of every offer that stands."""
    return offers_packet(door, signer_of(disk), open_offers(door), as_file)


def codes(packet: bytes) -> list[str]:
    """Promise the texts of the codes that carry a packet."""
    return chunks(packet)


def write(disk: Disk, name: str, packet: bytes) -> str:
    """Promise the path in the home of a packet that was written there, durably. Raises DiskError."""
    path = f"{FOLDER}/{name}"
    disk.replace(path, packet)
    return path


def come(disk: Disk, door: Door) -> list[str]:
    """Promise the files in the folder that another handheld may have written."""
    return [name for name in disk.names(FOLDER) if not name.startswith(f"{door.device}-")]


def take(door: Door, disk: Disk, packet: bytes, by: str, decline: bool = False) -> tuple[list[Taken], bytes | None]:
    """Promise what came of a packet, and the packet of answers for its sender where it held offers.

    Raises as `take_packet`.
    """
    taken = take_packet(door, packet, by, decline)
    answered = to_answer(door, taken)
    return taken, answers_packet(door, signer_of(disk), answered) if answered else None


def said(taken: Sequence[Taken], name_of: Callable[[str], str]) -> list[str]:
    """Promise in words what came of each message; `name_of` gives a person's name by the id."""
    found: list[str] = []
    for one in taken:
        answer = one.answer
        if isinstance(answer, Event):
            key = {"take-over": "hand.taken", "decline-offer": "hand.declined"}.get(answer.kind, "hand.confirmed")
            if answer.kind == "confirm-handover" and not answer.data["taken"]:
                key = "hand.came_back"
            found.append("; ".join([say(key, tag=answer.subject), *map(in_words, answer.data.get("notices", ()))]))
        else:
            why = "; ".join(refused(answer, name_of))
            found.append(f"{one.scope}: {why}" if one.scope else why)
    return found
