"""Limit sets: what a unit's lead chooses where sources disagree, one set of each kind; and what the choice changes.

Kinds: "delay" (from which moment to the start of cleaning, and how long), "storage" (hang time), "rinse" (fewest
rinses after disinfection), "alcohol" (whether its flush may be left out) and "air" (pressure, psi, that
drying air must stay below). A chosen set's figures stand in the unit's state as they were resolved at the choice;
without one the protocol's own figures hold. Times in s.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from protocols.errors import ProtocolFault
from protocols.load import parsed
from protocols.model import HOW_KNOWN, ORIGINS, Figure, Protocol
from protocols.read_figures import Table
from protocols.unit import Unit

KINDS = ("delay", "storage", "rinse", "alcohol", "air")
LIMITS_MOST = 100
_FIGURES = {
    "delay": ("limit_s_max", "warn_s"), "storage": ("hang_s_max",), "rinse": ("times",), "alcohol": (),
    "air": ("air_psi_below",),
}  # fmt: skip
_ALL = ("limit_s_max", "warn_s", "hang_s_max", "times", "air_psi_below")


@dataclass(frozen=True, slots=True)
class LimitSet:
    """One set of the library. `figures` by name; `source` and `how` of the set itself where it has no figure.

    `origin` is for a delay; `assessed` says that the lead enters the storage days; `always` that the alcohol flush is
    part of every cycle.
    """

    id: str
    kind: str
    title: str
    figures: Mapping[str, Figure]
    origin: str
    assessed: bool
    always: bool
    says: str
    source: str
    how: str

    @property
    def known(self) -> str:
        """Where the set comes from and how that is known, in words."""
        first = next(iter(self.figures.values()), None)
        return f"{first.source}; {first.how}" if first else f"{self.source}; {self.how}"


@dataclass(frozen=True, slots=True)
class Limits:
    """All sets by id, and for each kind in words how its sources disagree."""

    sets: Mapping[str, LimitSet]
    disagree: Mapping[str, str]

    def rivals(self, chosen: LimitSet) -> list[LimitSet]:
        """Promise the other sets of the same kind."""
        return [one for one in self.sets.values() if one.kind == chosen.kind and one is not chosen]


def read_limits(text: str, file: str) -> Limits:
    """Promise the limit sets of a TOML text, in the order of the file. Raises ProtocolFault with every finding."""
    top = parsed(text, file)
    top.only(("limit", "disagree"))
    told = top.table("disagree", "write a table [disagree] with a text for each kind")
    disagree: dict[str, str] = {}
    if told is not None:
        told.only(KINDS)
        disagree = {kind: told.text(kind) for kind in KINDS}
    sets: dict[str, LimitSet] = {}
    for row in top.rows("limit", LIMITS_MOST):
        one = _limit_set(row)
        if one.id in sets:
            row.fault("id", "stands there twice", "give each set its own id")
        sets[one.id] = one
    if top.findings:
        raise ProtocolFault(top.findings)
    return Limits(sets, disagree)


def _limit_set(row: Table) -> LimitSet:
    kind = row.word("kind", KINDS)
    own = _FIGURES.get(kind, _ALL)
    row.only(("id", "kind", "title", "origin", "assessed", "always", "says", "source", "how", *own))
    read = {name: row.figure(name) for name in own}
    figures = {name: figure for name, figure in read.items() if figure is not None}
    assessed, always = row.flag("assessed"), row.flag("always")
    says = row.text("says", needed=False)
    source = "" if figures else row.text("source")
    how = "" if figures else row.word("how", HOW_KNOWN)
    origin = row.word("origin", ORIGINS) if kind == "delay" else ""
    if kind == "delay" and "limit_s_max" not in row.data:
        row.missing("limit_s_max", "a delay needs its limit")
    if kind == "storage" and ("hang_s_max" in row.data) == assessed:
        row.fault("assessed", "storage has either its limit or an assessment", "give hang_s_max, or assessed = true")
    if assessed and kind != "storage":
        row.fault("assessed", "is for storage only", "take it out")
    if always and kind != "alcohol":
        row.fault("always", "is for alcohol only", "take it out")
    return LimitSet(row.name("id"), kind, row.text("title", 80), figures, origin, assessed, always, says, source, how)


def delay_of(unit: Unit, protocol: Protocol) -> tuple[str, float, float | None, str]:
    """Promise the delay that holds: origin, limit (s), first warning (s, None without), and the set ("" for none)."""
    chosen = unit.limits.get("delay")
    if chosen is not None and chosen.limit_s_max is not None:
        return chosen.origin, chosen.limit_s_max, chosen.warn_s, chosen.id
    own = protocol.delay
    return own.origin, own.limit_s_max.value, own.warn_s.value if own.warn_s else None, ""


def hang_of(unit: Unit, protocol: Protocol) -> dict[str, Any]:
    """Promise the hang time that holds (s) as data of the storing event, with the set it comes from; {} for none."""
    chosen = unit.limits.get("storage")
    if chosen is not None and chosen.hang_s_max is not None:
        return {"hang_s_max": chosen.hang_s_max, "hang_limit": chosen.id}
    return {"hang_s_max": protocol.hang_s_max.value} if protocol.hang_s_max is not None else {}
