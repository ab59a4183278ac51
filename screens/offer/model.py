"""The parts of an offer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from protocols.clock import Stamp
from protocols.lane import Lane
from protocols.shelf import Shelf
from protocols.unit import Unit


@dataclass(frozen=True, slots=True)
class Choice:
    """One button: its words, and the one command it gives. `confirm` asks once more, in these words, before giving it.

    `ready_in_s` above 0 says that the door would refuse it for so long yet; the button shows that and stays quiet.
    """

    words: str
    do: str
    subject: str
    values: Mapping[str, Any] = field(default_factory=dict)
    under: str = ""
    look: str = "act"
    confirm: str = ""
    ready_in_s: float = 0
    lead: bool = False


@dataclass(frozen=True, slots=True)
class Typed:
    """A value to be typed on the large keys: `name` is added to the command's values; "number" or "text"."""

    words: str
    name: str
    kind: str
    do: str
    subject: str
    values: Mapping[str, Any] = field(default_factory=dict)
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Pick:
    """One of several things to choose first (a bath, a meter): `why_not` names what forbids it, "" for nothing."""

    name: str
    key: str
    words: str
    chosen: bool
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """All that a page shows for the step: at most one group of choices, each a single tap."""

    title: str
    detail: str = ""
    cautions: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    typed: tuple[Typed, ...] = ()
    picks: tuple[Pick, ...] = ()
    done: int = 0
    of: int = 0
    each: str = ""


@dataclass(frozen=True, slots=True)
class Scene:
    """What offers are made from: one lane as of one moment, the texts, and what the person picked on the page."""

    unit: Unit
    shelf: Shelf
    now: Stamp
    lane: Lane
    picked: Mapping[str, str] = field(default_factory=dict)

    @property
    def tag(self) -> str:
        return self.lane.scope
