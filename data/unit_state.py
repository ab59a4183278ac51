"""The unit's state out of lines that were read and checked, the same for everybody who opens a record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from data.witness import Sight
from protocols.clock import Timeline, parse_wall
from protocols.errors import UNREADABLE, Defect, RecordDamaged
from protocols.event import from_envelope
from protocols.fold import evolve
from protocols.plain import from_plain
from protocols.unit import Unit


def folded(checkpoint: Mapping[str, Any], events: Iterable[Mapping[str, Any]]) -> Unit:
    """Promise the unit after a checkpoint and the lines after it.

    Raises Defect or one of `UNREADABLE` at a line that no version of this app has written.
    """
    unit: Unit = from_plain(Unit, checkpoint["data"])
    for line in events:
        unit = evolve(unit, from_envelope(line))
    return unit


def unit_after(checkpoint: Mapping[str, Any] | None, events: Sequence[Mapping[str, Any]]) -> Unit:
    """Promise the unit as of the last line of this home's record, an empty one where it holds none.

    Raises RecordDamaged where a line whose hash fits holds what no version of this app has written.
    """
    if checkpoint is None:
        return Unit()
    try:
        return folded(checkpoint, events)
    except (Defect, *UNREADABLE) as error:
        last = (events or [checkpoint])[-1]["seq"]
        raise RecordDamaged(
            f"a line from {checkpoint['seq']} to {last} of the record holds what no version of this app has written "
            f"({error!r}); nothing has been changed: the record opens read-only, bring it back from a copy"
        ) from error


def texts_in_use(unit: Unit) -> list[str]:
    """Promise the SHA-256 of every protocol text that the state rests on: adopted, or followed by a cycle under way."""
    return sorted({*unit.protocols.values(), *(cycle.text_sha256 for cycle in unit.cycles.values())})


def last_seen_ms(time: Timeline, sight: Sight | None) -> tuple[int, int]:
    """Promise the latest elapsed and wall time (ms) at which the clocks of the record's boot were seen.

    The witness (`sight`) has usually seen them later than the last event.
    """
    if sight is None or not time.boot or sight.boot != time.boot:
        return time.last_elapsed_ms, time.last_wall_ms
    return max(time.last_elapsed_ms, sight.elapsed), max(time.last_wall_ms, parse_wall(sight.wall))
