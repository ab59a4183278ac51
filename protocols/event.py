"""The two things that pass the door: a command that somebody gives, and the event it becomes."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

# Version of the envelope and of the data in it. A reader of a newer one opens the record read-only.
SCHEMA = 1
NO_VALUES: Mapping[str, Any] = MappingProxyType({})


class Command(NamedTuple):
    """What somebody asks: `do` (a name of `protocols.commands`), on what, with which values, by whom.

    `after` is the sequence number of the subject's last event that the person saw; a command given on an older view
    is refused. None: the giver shows no view (a replay line).
    """

    do: str
    subject: str
    values: Mapping[str, Any] = NO_VALUES
    by: str = ""
    after: int | None = None


class Decision(NamedTuple):
    """An accepted command before it is durable: the kind, subject, refs and data of the event to be."""

    kind: str
    subject: str
    refs: dict[str, str]
    data: dict[str, Any]


class Event(NamedTuple):
    """One accepted command, as the record keeps it (less the chain's own members)."""

    v: int
    seq: int
    device: str
    kind: str
    subject: str
    refs: Mapping[str, str]
    elapsed: int
    wall: str
    boot: str
    by: str
    data: Mapping[str, Any]

    @property
    def id(self) -> str:
        return event_id(self.device, self.seq)


def event_id(device: str, seq: int) -> str:
    """Promise the id of an event: the device and its sequence number."""
    return f"{device}-{seq:06d}"


def seq_of(event_id: str) -> int:
    """Promise the sequence number in an event's id. Raises ValueError or IndexError for what is none."""
    return int(event_id.rsplit("-", 1)[1])


def device_of(event_id: str) -> str:
    """Promise the device in an event's id."""
    return event_id.rsplit("-", 1)[0]


def from_envelope(line: Mapping[str, Any]) -> Event:
    """Promise the event of a verified journal line."""
    return Event(
        line["v"], line["seq"], line["device"], line["kind"], line["subject"], line["refs"],
        line["elapsed"], line["wall"], line["boot"], line["by"], line["data"],
    )  # fmt: skip
