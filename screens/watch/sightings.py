"""What the record says of the last taps on each open cycle: whose they were, in which bath, how warm, which note.

The unit's state keeps no names of who gave a command, so this reads the journal from the oldest open receipt on. It
is read off the screen's thread (`screens.background`) and only up to the head at the start, so that a line being
written meanwhile is never met half done.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from data.journal import Journal
from protocols.event import event_id, seq_of
from protocols.unit import Unit


@dataclass(frozen=True, slots=True)
class Tap:
    """The last thing somebody did to a scope: who, when (RFC 3339), and the label of the bath where one is named."""

    by: str
    wall: str
    bath: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """The last note of an open cycle."""

    by: str
    wall: str
    text: str


@dataclass(frozen=True, slots=True)
class Sightings:
    """Last taps and notes by cycle id, last temperatures (°C) by bath uid, as of the journal's line `through`."""

    through: int = 0
    taps: Mapping[str, Tap] = field(default_factory=dict)
    notes: Mapping[str, Note] = field(default_factory=dict)
    temps_c: Mapping[str, float] = field(default_factory=dict)


def look_back(journal: Journal, unit: Unit, before: Sightings) -> Sightings:
    """Promise the sightings of the unit's open cycles as of the journal's head, going on from those before.

    Raises RecordDamaged or RecordTooNew as `Journal.lines` does.
    """
    head = journal.head[0]
    if head == before.through:
        return before
    open_ids = {cycle.id for cycle in unit.cycles.values()}
    # At the first reading from the oldest open receipt on; a cycle that is new later began after the last reading.
    start = before.through + 1 if before.through else min((seq_of(cycle) for cycle in open_ids), default=head + 1)
    taps, notes, temps_c = dict(before.taps), dict(before.notes), dict(before.temps_c)
    if start <= head:
        for line in journal.lines(start):
            _take(line, taps, notes, temps_c)
            if line["seq"] >= head:
                break
    uids = {bath.uid for bath in unit.baths.values()}
    return Sightings(
        head,
        {cycle: tap for cycle, tap in taps.items() if cycle in open_ids},
        {cycle: note for cycle, note in notes.items() if cycle in open_ids},
        {uid: temp for uid, temp in temps_c.items() if uid in uids},
    )


def _take(line: dict[str, Any], taps: dict[str, Tap], notes: dict[str, Note], temps_c: dict[str, float]) -> None:
    kind, data, refs = line["kind"], line["data"], line["refs"]
    cycle = event_id(line["device"], line["seq"]) if kind in ("receive", "take-over") else refs.get("cycle", "")
    if kind in ("checkpoint", "boot") or not cycle:
        return
    if kind == "note":
        notes[cycle] = Note(line["by"], line["wall"], data["text"])
        return
    before = taps.get(cycle)
    on_bath = kind in ("dip-strip", "strip-test")
    bath = line["subject"] if on_bath else data.get("bath") or (before.bath if before else "")
    taps[cycle] = Tap(line["by"], line["wall"], bath)
    uid = data.get("bath_uid") or refs.get("bath", "")
    for value in (data.get("bath_temp_c"), (data.get("soak") or {}).get("temp_c"), data.get("lift_temp_c")):
        if uid and value is not None:
            temps_c[uid] = value
