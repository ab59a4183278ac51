"""The other handhelds of a unit as of their last exports, read where exports lie: a destination, or a gathered folder.

Of each handheld the newest week is looked at: its manifest and signature, and the one file of the chain that holds the
end of its record, both as signed. What was under way then is that file's last checkpoint with the lines after it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from data.destinations import Destination
from data.exporters.chain_files import CHAIN
from data.exporters.manifest import ExportRefused, Manifest
from data.exports_at import file_at, manifest_at
from data.segments import CHECKPOINT, WEEK
from data.unit_state import folded
from protocols.clock import parse_wall
from protocols.errors import UNREADABLE, BasinbellError
from protocols.unit import Cycle, Unit
from protocols.value_types import is_text
from protocols.wall import in_calendar

# Where exports lie below the place: in it, or where gathering puts them.
_BELOW = ("", "exports")
# More handhelds than this are no unit's: own figure.
HANDHELDS_MAX = 40


class ScopeSeen(NamedTuple):
    """A scope that was in a cycle: at which step, since when (ms of wall time), why it waited for a lead, if it did."""

    tag: str
    step: str
    since_ms: int
    waits: str
    disinfected: bool


class Other(NamedTuple):
    """One other handheld as of its last export: whose it is, the wall time of its last line (ms), and what went on."""

    device: str
    key: str
    unit: str
    week: str
    as_of_ms: int
    cycles: int
    scopes: tuple[ScopeSeen, ...]
    baths: tuple[str, ...]
    manifest: str


class Unread(NamedTuple):
    """A handheld whose newest export can't be trusted or read, and why."""

    device: str
    why: str


def others(place: Destination, own_key: str, known: Sequence[Other | Unread] = ()) -> list[Other | Unread]:
    """Promise the other handhelds with exports at a place, by name; `own_key` is this one's public key.

    Of an export that is among the `known` ones only the manifest is read again. Raises DeliveryError, or
    CredentialsRefused, where the place can't be looked into.
    """
    found: dict[tuple[str, str], Other | Unread] = {}
    held_already = {one.manifest: one for one in known if isinstance(one, Other)}
    for folder in _handhelds(place):
        one = _newest(place, folder, held_already)
        if isinstance(one, Other) and one.key == own_key:
            continue
        if one is None:
            continue
        name = (one.device, one.key if isinstance(one, Other) else "")
        held = found.get(name)
        if held is None or (isinstance(held, Other) and isinstance(one, Other) and one.as_of_ms > held.as_of_ms):
            found[name] = one
    return [found[name] for name in sorted(found)]


def _handhelds(place: Destination) -> Iterator[str]:
    seen = 0
    for below in _BELOW:
        for name in place.names(below):
            if name.startswith(".") or (not below and name in _BELOW):
                continue
            seen += 1
            if seen > HANDHELDS_MAX:
                return
            yield f"{below}/{name}" if below else name


def _newest(place: Destination, folder: str, known: Mapping[str, Other]) -> Other | Unread | None:
    weeks = [name for name in place.names(folder) if WEEK.fullmatch(name)]
    if not weeks:
        return None
    export = f"{folder}/{weeks[-1]}"
    try:
        manifest = manifest_at(place, export)
        if manifest is None:
            return None  # something else that is named like a week
        if manifest.digest in known:
            return known[manifest.digest]
        content = file_at(place, export, manifest, f"{CHAIN}/{manifest.week}.jsonl")
    except (ExportRefused, KeyError) as error:
        return Unread(_device(folder), str(error))
    try:
        return _told(manifest, _unit(content))
    except (BasinbellError, *UNREADABLE) as error:
        # Anybody can sign an export with a key of their own; what they wrote in it may be of any form.
        return Unread(_device(folder), f"its lines are of another form ({error!r})")


def _device(folder: str) -> str:
    return folder.rsplit("/", 1)[-1]


def _unit(content: bytes) -> Unit:
    later: list[dict[str, Any]] = []
    for line in reversed(content.splitlines()):
        envelope = json.loads(line)
        if envelope["kind"] == CHECKPOINT:
            return folded(envelope, reversed(later))
        later.append(envelope)
    raise ExportRefused("its chain holds no checkpoint")


def _told(manifest: Manifest, unit: Unit) -> Other:
    scopes = tuple(sorted(map(_seen, unit.cycles.values()), key=lambda scope: scope.since_ms))
    baths = tuple(sorted(b.label for b in unit.baths.values() if not b.closed and b.kind == "disinfectant"))
    if not all(map(is_text, baths)):
        raise ExportRefused("a bath in it has no label")
    return Other(
        manifest.device, manifest.key, manifest.unit, manifest.week, parse_wall(manifest.at),
        manifest.counts.get("cycles", 0), scopes, baths, manifest.digest,
    )  # fmt: skip


def _seen(cycle: Cycle) -> ScopeSeen:
    seen = ScopeSeen(
        cycle.scope, cycle.step, cycle.step_since.wall_ms, cycle.hold.why if cycle.hold else "", bool(cycle.disinfected)
    )
    if not (is_text(seen.tag) and is_text(seen.step) and isinstance(seen.waits, str) and in_calendar(seen.since_ms)):
        raise ExportRefused(f"a scope in it is told in another form: {seen.tag!r}"[:200])
    return seen
