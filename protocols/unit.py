"""The unit's state: everything that a fold over the journal knows (`protocols.fold`).

Named tuples all through, which copy with one change faster than frozen dataclasses do (every tap makes several such
copies); maps are never changed in place. It holds what is going on now, not history: an ended cycle leaves
only its `Last` on the scope, a closed bath is dropped at the next checkpoint. So its size does not grow with the
record's age.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from protocols.clock import Stamp, Timeline
from protocols.sharing import Offer as Offer
from protocols.sharing import Peer as Peer
from protocols.sharing import Shift as Shift
from protocols.stock import NOTHING as NOTHING
from protocols.stock import Bath as Bath
from protocols.stock import Chosen, Confirmed, Container, Purged, Strips
from protocols.stock import StripTest as StripTest
from protocols.under_way import Cycle as Cycle
from protocols.under_way import Hold as Hold
from protocols.under_way import Soak as Soak
from protocols.under_way import Timer as Timer
from protocols.under_way import Undo as Undo
from protocols.usage import Fault as Fault
from protocols.usage import Upkeep as Upkeep
from protocols.usage import Used as Used

# Recorded values that stay the same from one scope to the next more often than not.
GIVEN_AGAIN = ("water", "alcohol_pct", "place", "machine", "strip_lot", "method", "meter")


class Settings(NamedTuple):
    """What the unit sets for itself. `soon_s` and `very_late_s` are our own defaults, not a trade fact.

    `strip_register` says that only strips of a registered bottle cover a soak, `pins_required` that nobody signs in
    without a PIN. `lock_after_s` is the idle time after which nobody is signed in (0: never), `case_pattern` the form
    of a case reference (`protocols.case_reference`; "" takes any). `keep_weeks` is how many weeks besides the running
    one stay on the handheld whatever is asked (`protocols.retention`; 0: none is ever purged).

    For planning only (`protocols.hands`), all our own defaults: how many people work at once (`hands`), how many of
    their own the clean side has (`clean_hands`, 0: the same people), how long changing gloves and apron and hand
    hygiene take between the sides (`change_s`), cleaning sinks, drying ports, scopes that a disinfectant bath holds.
    """

    name: str = "Unit"
    zone: str = "UTC"
    soon_s: int = 60
    very_late_s: int = 300
    strip_register: bool = True
    pins_required: bool = False
    lock_after_s: float = 0
    case_pattern: str = ""
    keep_weeks: int = 0
    hands: int = 1
    clean_hands: int = 0
    change_s: float = 60
    sinks: int = 2
    ports: int = 4
    bath_holds: int = 1


class Pin(NamedTuple):
    """The salted scrypt hash of a PIN (hex), with its cost n, r and p (RFC 7914)."""

    salt: str
    hash: str
    n: int
    r: int
    p: int


class Person(NamedTuple):
    """Somebody who may give commands: role is "technician", "lead" or "administrator".

    `wrong` counts wrong PINs since the last right one; since `wrong_at`, `wait_s` must pass (proven) before the next.
    """

    id: str
    name: str
    role: str
    badge: str = ""
    pin: Pin | None = None
    wrong: int = 0
    wrong_at: Stamp | None = None
    wait_s: float = 0


class Last(NamedTuple):
    """How the scope's last cycle ended: what storage, release and the next receipt need to know."""

    cycle: str
    outcome: str
    ended: Stamp
    dried: Stamp | None = None
    hang_s_max: float | None = None
    place: str = ""
    released_by: str = ""


class Held(NamedTuple):
    """Why a scope may not be released though its cycle ended: its bath (uid) failed a strip test after it lay in it.

    `cycle` is the cycle in doubt. A lead decides; a later completed cycle resolves it.
    """

    why: str
    cycle: str
    bath: str


class Scope(NamedTuple):
    """One endoscope of the unit or on loan, and the protocol that its cycles follow. Loan dates are YYYY-MM-DD.

    `channels` says which channels this one has where the protocol's family leaves it open. Where it is now follows from
    `last`, `hold`, `used` and `fault` (`protocols.whereabouts`).
    """

    tag: str
    protocol: str
    model: str = ""
    serial: str = ""
    loaner: bool = False
    last: Last | None = None
    hold: Held | None = None
    channels: str = ""
    loaned_from: str = ""
    loaned_until: str = ""
    used: Used | None = None
    fault: Fault | None = None


class Unit(NamedTuple):
    """All that is going on. `protocols` maps an adopted protocol's id to the hash of its text, `limits` a kind of limit
    to the set chosen, `claims` a claim's id to what a lead confirmed.

    `retired` keeps who is off the list, `unconfirmed` the acts that nobody has signed yet (event id to scope).

    `purged` says how far back the record was purged, None where it is whole.

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
    containers: Mapping[str, Container] = NOTHING
    strips: Mapping[str, Strips] = NOTHING
    limits: Mapping[str, Chosen] = NOTHING
    claims: Mapping[str, Confirmed] = NOTHING
    retired: Mapping[str, Person] = NOTHING
    unconfirmed: Mapping[str, str] = NOTHING
    purged: Purged | None = None
    peers: Mapping[str, Peer] = NOTHING
    shift: Shift | None = None
    upkeep: Mapping[str, Upkeep] = NOTHING

    def bath(self, uid: str) -> Bath | None:
        """Promise the bath of that pouring, if it is still known."""
        return next((b for b in self.baths.values() if b.uid == uid), None)

    def name_of(self, person: str) -> str:
        """Promise the name of somebody who is or was on the list; the id itself for anybody else."""
        known = self.people.get(person) or self.retired.get(person)
        return known.name if known else person

    def lead(self, person: str) -> bool:
        """Promise whether that person may do what a lead may: a lead or an administrator of the unit."""
        return person in self.people and self.people[person].role != "technician"
