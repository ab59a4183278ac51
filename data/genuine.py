"""Whether a message of another handheld is what it says: signed by the one it names, and meant for this one.

Looked at by the door before anything is decided, for keys lie in the home and not in the unit's state.
"""

from __future__ import annotations

from typing import Any

from data.disk import Disk
from data.signing import signer_of, verifies
from protocols.event import Command
from protocols.handover import SIGNED, read_message
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.unit import Unit


class Genuine:
    """Holds messages against this home's own key and the keys of the handhelds that were paired with it.

    The own key is read, or made, at the first message.
    """

    def __init__(self, disk: Disk) -> None:
        self._disk = disk

    def __call__(self, unit: Unit, device: str, command: Command) -> Refusal | None:
        """Promise why the message of a command can't be taken; None where nothing is wrong with it.

        Raises SigningUnavailable, RecordDamaged for a key file that was changed, or DiskError.
        """
        name = SIGNED[command.do]
        text = command.values[name]
        message = read_message(text, name)
        if isinstance(message, Refusal):
            return message
        key, sender = _sender(unit, command, message)
        if not key:
            return refuse("unknown-peer", device=sender, known=", ".join(unit.peers) or aside("none"))
        # The signature first: what an altered message says of itself counts for nothing.
        if not verifies(key, bytes.fromhex(command.values["signature"]), text.encode("utf-8", "surrogatepass")):
            return refuse("not-genuine", device=sender)
        if message.get("to") != device or message.get("to_key") != signer_of(self._disk).public:
            return refuse("not-for-us", to=message.get("to"), device=device)
        return None


def _sender(unit: Unit, command: Command, message: dict[str, Any]) -> tuple[str, str]:
    """The key that a message must be signed with, "" for none, and whose it is."""
    cycle = unit.cycles.get(command.subject)
    if command.do == "confirm-handover" and cycle is not None and cycle.offer is not None:
        return cycle.offer.key, cycle.offer.to
    sender = str(message.get("from"))
    peer = unit.peers.get(sender)
    return (peer.key, sender) if peer is not None else ("", sender)
