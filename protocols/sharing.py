"""What two handhelds of one unit know of each other, and a shift's handover, as named tuples of the unit's state."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from protocols.clock import Stamp
from protocols.stock import NOTHING


class Peer(NamedTuple):
    """Another handheld that a lead has paired: its name and its public key (64 hex).

    `answered` maps the number of an offer of it to the event that took or declined it; offers below `below` are settled
    on its side, so that none is ever taken a second time and this does not grow with the record.
    """

    device: str
    key: str
    below: int = 0
    answered: Mapping[str, str] = NOTHING


class Offer(NamedTuple):
    """A cycle offered to another handheld: `number` is the seq of the offering event `id`; `at` is when it was made.

    Until that handheld has answered, nothing but its answer changes the cycle here, and its prompts go on.
    """

    id: str
    number: int
    to: str
    key: str
    at: Stamp


class Shift(NamedTuple):
    """The last handover of a shift, from whom to whom. `seen` are the running cycles acknowledged, of those `running`.

    Both hold ids of cycles with the step that ran then (`cycle/step`).
    """

    outgoing: str
    incoming: str
    at: Stamp
    running: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
