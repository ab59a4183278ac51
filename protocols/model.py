"""What a protocol is: frozen data read from TOML (`protocols.load`), never changed while a cycle runs.

Every number that a cycle obeys is a `Figure`: the value together with where it comes from and how it is known, so
that the record and the screens can show both. Steps run in the order of the file, less those whose `when` does not
hold for the cycle; an outcome may send the cycle back, round again, or out of service.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import Literal

HOW_KNOWN = ("read", "read-2nd", "memory", "derived", "common practice, no source", "facility", "IFU")
STAGES = (
    "prepare", "leak test", "clean", "rinse", "inspect", "disinfect", "final rinse", "dry", "store", "repair",
)  # fmt: skip
# `when` of a step: always; only after the delayed branch is taken; only for one way of disinfection; only after a leak.
CONDITIONS = ("always", "delayed", "soak", "machine", "leak")
ORIGINS = ("procedure-end", "preclean-start", "preclean-end")
# Things a technician states as done in the command that needs them, in words for a refusal.
NEEDS = {
    "under": "the scope is fully under the surface",
    "filled": "every channel is filled until no bubbles come",
    "parts": "detachable valves and caps lie in too",
    "cap": "the water-resistant cap is fitted",
    "pressurised": "the scope was pressurised before it went under",
    "vented": "the scope was vented out of the water",
    "fresh": "this is fresh water",
    "brush": "the brush is discarded or sent for reprocessing",
    "tag": "the biohazard tag is on",
    "label": "the storage label is on",
    "ppe": "PPE is on",
}
RECORDS = ("water", "alcohol_pct", "owner", "place", "temp_c")
WATER_GRADES = ("tap", "filtered", "sterile", "critical")

Kind = Literal["look", "pass", "count", "soak", "reading", "machine run"]
KINDS: tuple[Kind, ...] = ("look", "pass", "count", "soak", "reading", "machine run")
BATHS = ("detergent", "disinfectant", "air")
CLAIM_USES = ("manual", "machine", "sterilant", "unsuitable")


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its source line and how it is known (see HOW_KNOWN)."""

    value: float
    source: str
    how: str


@dataclass(frozen=True, slots=True)
class Limit:
    """What a reading means, for one method on one meter.

    `alert_from` and `action_from` (value at or above) or `pass_below` / `pass_to` (value below / at or below), in
    `unit`. Readings are never compared across meters.
    """

    method: str
    meter: str
    unit: str
    alert_from: Figure | None = None
    action_from: Figure | None = None
    pass_below: Figure | None = None
    pass_to: Figure | None = None


class Move(Enum):
    """Where an outcome leads."""

    NEXT = "next"
    AGAIN = "again"
    BACK = "back"
    LEAK = "leak branch"
    OUT = "out of service"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One possible end of a look: its word, where it leads, and the step it goes back to."""

    word: str
    move: Move
    back_to: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what the person is told, what ends it, and the figures it obeys. Times in seconds, °C, mL, %."""

    id: str
    stage: str
    kind: Kind
    says: str
    when: str = "always"
    cautions: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    records: tuple[str, ...] = ()
    optional: bool = False
    begins_cleaning: bool = False
    ends_cleaning: bool = False
    bath: str = ""
    outcomes: tuple[Outcome, ...] = ()
    limits: tuple[Limit, ...] = ()
    fail_back_to: str = ""
    times: Figure | None = None
    volume_ml: Figure | None = None
    each_s_min: Figure | None = None
    soak_s_min: Figure | None = None
    soak_s_max: Figure | None = None
    over_s_max: Figure | None = None
    recheck_from_s: Figure | None = None
    temp_c_min: Figure | None = None
    temp_c_max: Figure | None = None
    alcohol_pct_min: Figure | None = None
    alcohol_pct_max: Figure | None = None
    run_s_min: Figure | None = None
    run_s_max: Figure | None = None
    start_within_s_max: Figure | None = None

    def outcome(self, word: str) -> Outcome | None:
        return next((o for o in self.outcomes if o.word == word), None)

    @property
    def disinfects(self) -> bool:
        return self.kind == "machine run" or (self.kind == "soak" and self.bath == "disinfectant")


@dataclass(frozen=True, slots=True)
class Delay:
    """From which moment to the START of manual cleaning, and how long at most (s) before the delayed branch."""

    origin: str
    limit_s_max: Figure
    warn_s: Figure | None = None


@dataclass(frozen=True, slots=True)
class Protocol:
    """A whole protocol, from receipt to storage. `text_sha256` names the TOML text it was read from."""

    id: str
    title: str
    family: str
    spoken: str
    version: int
    channels: tuple[str, ...]
    cautions: tuple[str, ...]
    delay: Delay
    steps: tuple[Step, ...]
    claims: tuple[str, ...]
    disinfect_by: str
    hang_s_max: Figure | None
    short_clean_s: Figure | None
    text_sha256: str = ""
    positions: dict[str, int] = field(default_factory=dict, compare=False, hash=False)
    # Paths by their flags, filled as they are asked for: every lane asks once a second.
    orders: dict[frozenset[str], tuple[Step, ...]] = field(default_factory=dict, compare=False, hash=False, repr=False)
    places: dict[frozenset[str], dict[str, int]] = field(default_factory=dict, compare=False, hash=False, repr=False)

    def step(self, step_id: str) -> Step:
        return self.steps[self.positions[step_id]]

    def following(self, step_id: str, flags: frozenset[str]) -> str:
        """Promise the id of the next step whose condition holds, or "" at the end of the cycle."""
        start = self.positions[step_id] + 1 if step_id else 0
        for step in self.steps[start:]:
            if _holds(step, flags):
                return step.id
        return ""

    def order(self, flags: frozenset[str]) -> tuple[Step, ...]:
        """Promise the steps that such a cycle goes through, in order."""
        if flags not in self.orders:
            self.orders[flags] = tuple(s for s in self.steps if _holds(s, flags))
        return self.orders[flags]

    def place(self, step_id: str, flags: frozenset[str]) -> int:
        """Promise where a step comes on such a path, counted from 0; 0 for a step that is not on it."""
        if flags not in self.places:
            self.places[flags] = {step.id: number for number, step in enumerate(self.order(flags))}
        return self.places[flags].get(step_id, 0)


def _holds(step: Step, flags: frozenset[str]) -> bool:
    # After a leak nothing of the ordinary path may go on, immersion above all.
    if "leak" in flags:
        return step.when == "leak"
    return step.when == "always" or step.when in flags


@dataclass(frozen=True, slots=True)
class Claim:
    """One published contact condition of one chemistry (never a trade name).

    `use` is one of CLAIM_USES; only manual claims may carry a manual soak. A claim that rests on memory ships with
    `enabled` false until a lead confirms it against the label. `strip_type` names the strips that show its minimum
    concentration. Seconds, °C, days, per cent, litres.
    """

    id: str
    title: str
    use: str
    contact_s_min: Figure
    temp_c_min: Figure | None
    temp_c_max: Figure | None = None
    reuse_d_max: Figure | None = None
    opened_d_max: Figure | None = None
    mec_pct: Figure | None = None
    strip_dip_s: Figure | None = None
    strip_read_s_min: Figure | None = None
    strip_read_s_max: Figure | None = None
    rinse_times: Figure | None = None
    rinse_s_min: Figure | None = None
    rinse_l: Figure | None = None
    strip_type: str = ""
    needs_activation: bool = False
    single_use: bool = False
    enabled: bool = True
    gloves: str = ""
    exposure: tuple[str, ...] = ()
    never_for: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
