"""What becomes of a scope between two cycles, as named tuples of the unit's state (`protocols.unit`).

Its use on a case from issue to the end of the procedure, and its faults from quarantine to the checks after repair;
and what a unit keeps up besides, each thing with the day on which it is due again.
"""

from __future__ import annotations

from typing import NamedTuple

from protocols.clock import Stamp


class Used(NamedTuple):
    """A scope's use on a case, kept until the cycle that follows it has ended.

    `cycle` made it ready; `issued` is false where the end of a procedure was told of a scope that nobody had issued.
    `ended` is when the end was told; `procedure_end`, `preclean_start` and `preclean_end` are the wall times given
    (RFC 3339, "" unknown). From `ended` on the delay runs: `already_s` had passed, limit and first warning in s.
    """

    case: str
    cycle: str
    at: Stamp
    by: str
    issued: bool = True
    ended: Stamp | None = None
    procedure_end: str = ""
    preclean_start: str = ""
    preclean_end: str = ""
    origin: str = ""
    already_s: float = 0
    max_s: float | None = None
    warn_s: float | None = None


class Fault(NamedTuple):
    """Why a scope is in quarantine, and how far it is on its way back.

    kind: "leak", "damage", "contamination" or "other". `decontaminated` says how it was made safe to hand over, ""
    while it is not. `away` is since when it is with `repairer`; `returned` when its checks on return had passed: the
    fault then ends with the next completed cycle and not before.
    """

    kind: str
    why: str
    at: Stamp
    by: str
    owner: str = ""
    decontaminated: str = ""
    repairer: str = ""
    away: Stamp | None = None
    returned: Stamp | None = None


class Upkeep(NamedTuple):
    """One thing that a unit keeps up, as last recorded. Dates are YYYY-MM-DD; `due` is the last day it holds, "" open.

    kind: "competency" (`about` is a person), "filter" (a filter or its place) or "culture" (a scope; `result` and
    `reference` name what the laboratory found and under which number).
    """

    kind: str
    about: str
    what: str
    done: str
    due: str = ""
    result: str = ""
    reference: str = ""
    by: str = ""
