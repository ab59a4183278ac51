"""What a unit has in stock and has settled, as named tuples of the unit's state (`protocols.unit`).

Baths with the strips read in them, containers, bottles of test strips; and what a lead chose or confirmed: limit sets
and chemistry claims.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from protocols.clock import Stamp

# The empty map that all start from; maps are copied, never changed.
NOTHING: Mapping[str, Any] = MappingProxyType({})


class StripTest(NamedTuple):
    """One strip, read for one scope in one bath. It covers that one soak and no other. Only result "pass" covers any.

    `seq` is its event's, or that of its dip where that was recorded: by it the strip stands in order with the uses and
    the topping up of the bath.
    """

    id: str
    scope: str
    cycle: str
    result: str
    strip_lot: str
    at: Stamp
    used: bool = False
    seq: int = 0


class Dip(NamedTuple):
    """One strip that was dipped for a cycle and is not read yet. `bath` is the uid, `label` what stands on it, `strips`
    the label of the bottle; it may be read from `min_s` to `max_s` after `at` (s; None: no such limit).
    """

    bath: str
    label: str
    strips: str
    at: Stamp
    min_s: float | None = None
    max_s: float | None = None
    seq: int = 0


class Use(NamedTuple):
    """One soak in a disinfectant bath: from the event `start` to the event `end`, 0 while the scope lies in it."""

    scope: str
    cycle: str
    start: int
    end: int = 0


class Bath(NamedTuple):
    """One poured solution. `uid` is the id of its pouring; the label may be used again once the bath is closed.

    Claim figures are those resolved at pouring: contact and temperature (s, °C), reuse and opened life (days), the kind
    of strip, its dip and its read window (s), rinses. `since` holds the uses that a failing strip would put in doubt:
    all that lay in it at or after the last passing test that covered a use. `topped` is the seq of the last topping up:
    strips dipped before it cover nothing. `withdrawn` says why a technician took it out of use, until a lead closes it.
    """

    uid: str
    label: str
    kind: str
    title: str
    poured: Stamp
    poured_by: str
    claim: str = ""
    use: str = ""
    contact_s_min: float | None = None
    temp_c_min: float | None = None
    temp_c_max: float | None = None
    reuse_d_max: float | None = None
    opened_d_max: float | None = None
    needs_activation: bool = False
    single_use: bool = False
    strip_type: str = ""
    strip_read_s_min: float | None = None
    strip_read_s_max: float | None = None
    strip_dip_s: float | None = None
    rinse_times: float | None = None
    rinse_s_min: float | None = None
    container: str = ""
    lot: str = ""
    expires: str = ""
    opened: str = ""
    activated: str = ""
    closed: str = ""
    failed: bool = False
    withdrawn: str = ""
    cycle: str = ""
    uses: int = 0
    tests: Mapping[str, StripTest] = NOTHING
    topped: int = 0
    since: tuple[Use, ...] = ()


class Container(NamedTuple):
    """One container of solution, known by its label; what is poured from it takes over its dates."""

    uid: str
    label: str
    kind: str
    title: str
    registered: Stamp
    registered_by: str
    lot: str
    expires: str
    opened: str
    claim: str = ""
    activated: str = ""
    gtin: str = ""
    closed: str = ""


class Strips(NamedTuple):
    """One bottle of test strips, known by its label. `controlled`: its lot has shown itself right on known solutions.

    `opened_d_max` is the life of the open bottle in days; `read_s_min` and `read_s_max` the window of its label for
    reading a strip, `dip_s` how long it is dipped, in s.
    """

    uid: str
    label: str
    lot: str
    type: str
    registered: Stamp
    registered_by: str
    expires: str
    opened: str
    opened_d_max: float | None = None
    dip_s: float | None = None
    read_s_min: float | None = None
    read_s_max: float | None = None
    gtin: str = ""
    controlled: bool = False
    closed: str = ""


class Chosen(NamedTuple):
    """A limit set that the unit's lead chose, with its figures as resolved then (s, psi); by whom and on which day."""

    id: str
    origin: str = ""
    always: bool = False
    limit_s_max: float | None = None
    warn_s: float | None = None
    hang_s_max: float | None = None
    times: float | None = None
    air_psi_below: float | None = None
    by: str = ""
    day: str = ""


class Confirmed(NamedTuple):
    """A chemistry claim as a lead read it from the label in hand; `figures` by the names of `Claim`."""

    claim: str
    figures: Mapping[str, float]
    label: str
    by: str
    day: str
    single_use: bool = False
    needs_activation: bool = False
    strip_type: str = ""


class Purged(NamedTuple):
    """How far the record was purged: its newest purged week, that week's last line (seq and hash), its stub (SHA-256).

    Each stub names the one before it by its hash, so this one vouches for all of them.
    """

    week: str
    seq: int
    hash: str
    stub: str


def strip_kind(text: str) -> str:
    """Promise a kind of strip as it is compared: without regard to case and spaces."""
    return "".join(text.casefold().split())
