"""The unit's state: everything that a fold over the journal knows (`protocols.fold`).

Named tuples all through, which copy with one change faster than frozen dataclasses do (every tap makes several such
copies); maps are never changed in place. It holds what is going on now, not history: an ended cycle leaves
only its `Last` on the scope, a closed bath is dropped at the next checkpoint. So its size does not grow with the
record's age.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from protocols.clock import Stamp, Timeline

# The empty map that all start from; maps are copied, never changed.
NOTHING: Mapping[str, Any] = MappingProxyType({})
# Recorded values that stay the same from one scope to the next more often than not.
GIVEN_AGAIN = ("water", "alcohol_pct", "place", "machine", "strip_lot", "method", "meter")


class Settings(NamedTuple):
    """What the unit sets for itself. `soon_s` and `very_late_s` are our own defaults, not a trade fact."""

    name: str = "Unit"
    zone: str = "UTC"
    soon_s: int = 60
    very_late_s: int = 300


class Person(NamedTuple):
    """Somebody who may give commands: role is "technician" or "lead"."""

    id: str
    name: str
    role: str


class Last(NamedTuple):
    """How the scope's last cycle ended: what storage, release and the next receipt need to know."""

    cycle: str
    outcome: str
    ended: Stamp
    dried: Stamp | None = None
    hang_s_max: float | None = None
    place: str = ""
    released_by: str = ""


class Scope(NamedTuple):
    """One endoscope of the unit or on loan, and the protocol that its cycles follow."""

    tag: str
    protocol: str
    model: str = ""
    serial: str = ""
    loaner: bool = False
    last: Last | None = None


class StripTest(NamedTuple):
    """One strip, read for one scope in one bath. It covers that one soak and no other."""

    id: str
    scope: str
    cycle: str
    result: str
    strip_lot: str
    at: Stamp
    used: bool = False


class Bath(NamedTuple):
    """One poured solution. `uid` is the id of its pouring; the label may be used again once the bath is closed.

    Claim figures are those resolved at pouring: contact and temperature (s, °C), reuse and opened life (days).
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
    lot: str = ""
    expires: str = ""
    opened: str = ""
    activated: str = ""
    closed: str = ""
    failed: bool = False
    cycle: str = ""
    uses: int = 0
    tests: Mapping[str, StripTest] = NOTHING


class Timer(NamedTuple):
    """Times that run on a cycle, all in seconds from `since`.

    kind: "soak", "air", "run", "each" (the shortest time of one rinse), "start" (the next step must start within
    max_s) or "delay" (manual cleaning must start within max_s; `already_s` had passed when the scope came in).
    min_s is measured on proven time, max_s and warn_s (first prompt before a limit) on the longest possible.
    """

    kind: str
    since: Stamp
    min_s: float | None = None
    max_s: float | None = None
    already_s: float = 0
    warn_s: float | None = None


class Soak(NamedTuple):
    """What a running soak was started with; `doubt` says why its contact is in doubt since, if it is."""

    bath: str
    label: str
    temp_c: float | None = None
    test: str = ""
    required_s: float = 0
    max_s: float | None = None
    temp_c_min: float | None = None
    recheck: bool = False
    doubt: str = ""


class Hold(NamedTuple):
    """Why a cycle waits for a lead.

    kind: "late lift", "unproven lift" (contact is missing too), "doubtful bath" (its bath failed or was discarded
    meanwhile), "no maximum" or "no branch" (what the protocol lacks for a delayed scope).
    """

    kind: str
    why: str


class Undo(NamedTuple):
    """What the last tap changed, so that it can be taken back for some seconds."""

    seq: int
    at: Stamp
    cycle: Cycle | None = None
    bath: Bath | None = None


class Cycle(NamedTuple):
    """One scope on its way from receipt to storage. `id` is the id of its receipt."""

    id: str
    scope: str
    text_sha256: str
    case: str
    opened: Stamp
    step: str
    step_since: Stamp
    last_seq: int
    last_do: str
    last_at: Stamp
    flags: frozenset[str] = frozenset()
    running: bool = False
    done: int = 0
    passes: int = 0
    timer: Timer | None = None
    delay: Timer | None = None
    soak: Soak | None = None
    hold: Hold | None = None
    clean_from: Stamp | None = None
    delayed: bool = False
    disinfected: bool = False
    dried: Stamp | None = None
    place: str = ""
    extended_s_max: float | None = None
    undo: Undo | None = None


class Unit(NamedTuple):
    """All that is going on. `protocols` maps an adopted protocol's id to the hash of its text.

    `last_given` holds the last recorded value of each name in GIVEN_AGAIN, so that a screen can offer it again.
    """

    settings: Settings = Settings()
    time: Timeline = Timeline()
    seq: int = 0
    people: Mapping[str, Person] = NOTHING
    scopes: Mapping[str, Scope] = NOTHING
    protocols: Mapping[str, str] = NOTHING
    baths: Mapping[str, Bath] = NOTHING
    cycles: Mapping[str, Cycle] = NOTHING
    last_given: Mapping[str, str | float] = NOTHING

    def bath(self, uid: str) -> Bath | None:
        """Promise the bath of that pouring, if it is still known."""
        return next((b for b in self.baths.values() if b.uid == uid), None)

    def lead(self, person: str) -> bool:
        """Promise whether that person is a lead of the unit."""
        return person in self.people and self.people[person].role == "lead"
