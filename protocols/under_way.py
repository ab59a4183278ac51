"""A scope's cycle as state: where it stands, what runs, why it waits. Part of the unit's state (`protocols.unit`)."""

from __future__ import annotations

from typing import NamedTuple

from protocols.clock import Stamp
from protocols.sharing import Offer
from protocols.stock import Bath, Dip


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
    """One scope on its way from receipt to storage. `id` is the id of its receipt.

    `wanted_wall_ms` is when it is wanted ready again, in ms of wall time; a wish, never a limit. `offer` is set while
    another handheld is to take it over, `dip` while a strip that was dipped for it waits to be read.
    """

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
    rinse_times: float | None = None
    rinse_s_min: float | None = None
    undo: Undo | None = None
    wanted_wall_ms: int | None = None
    offer: Offer | None = None
    dip: Dip | None = None
