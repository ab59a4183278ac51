"""Whole weeks leave the handheld for good: oldest first, only what was sent, read back now, and is needed no more.

Done in this order, each step durable before the next: the lines that later weeks rest on, the stub (`data.stubs`), the
event `purge`, then the week's ledger, the look-back index, pieces set aside in that week, and at last its segment. The
event decides: cut off before it, opening takes the stub away again; after it, opening finishes. Receipts stay, and so
do protocol texts and exports; what else was copied out of the home is for people to find.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from data.destinations import Destination
from data.destinations.errors import DeliveryError
from data.disk import Disk
from data.door import Door
from data.exporters.chain_files import CHAIN, require_chain
from data.exporters.manifest import ExportRefused
from data.exports_at import file_at, manifest_at
from data.gather import cycle_of
from data.line import NO_LINE_BEFORE, first_line, follow_chain, open_line
from data.receipts import Receipt, Receipts
from data.segments import CHECKPOINT, segment_path, segment_weeks
from data.settling import settle
from data.signing import Signer
from data.stubs import PURGE_SAYS, STUB_V, Stub, carried_lines, carried_path, gone_weeks, read_stub, sealed, stub_path
from protocols.clock import wall_text
from protocols.decide import decide
from protocols.errors import BasinbellError, Defect, DiskError, RecordDamaged, TechnicianError
from protocols.event import Command, Event, from_envelope
from protocols.refusals import Refusal
from protocols.stock import Purged
from protocols.wall import week_begins


class PurgeRefused(TechnicianError):
    """A week can't leave: nothing shows that all of it lies whole somewhere else. Nothing was changed."""


@dataclass(frozen=True, slots=True)
class Looked:
    """A week whose export was read back just now: its receipt, its stub as far as known, and the lines to carry."""

    receipt: Receipt
    stub: Stub
    lines: tuple[bytes, ...]


def look(disk: Disk, purged: Purged | None, week: str, place: Destination, public: str) -> Looked:
    """Promise that every byte of a week lies signed at a place, read back now. Writes nothing; may take a while.

    `purged` is how far the record is purged, `public` the handheld's own key. Raises PurgeRefused, RecordDamaged,
    DeliveryError or DiskError.
    """
    week_begins(week)
    weeks = segment_weeks(disk)
    if week not in weeks[:-1]:
        raise PurgeRefused(f"{week} can't be purged: {'it is still open' if week in weeks else 'nothing is there'}")
    data = disk.read(segment_path(week))
    chain = follow_chain(data, purged.hash if purged else NO_LINE_BEFORE)
    after = disk.read(segment_path(weeks[weeks.index(week) + 1]))
    boundary = open_line(first_line(after), chain.hash, None)
    if chain.fault is not None or chain.hash is None or boundary["kind"] != CHECKPOINT:
        raise RecordDamaged(f"{segment_path(week)}: {chain.fault or 'no checkpoint follows it'}; verify the record")
    own = [(open_line(line, None, None), line) for line in data.splitlines(keepends=True)]
    first = own[0][0]
    receipt = _receipt(disk, week, place.label, boundary["seq"] - 1, chain.hash)
    _require_export(place, first["device"], week, receipt, public, data)
    kept = _still_rested_on([*carried_lines(disk), *own], boundary)
    stub = Stub(
        STUB_V, first["device"], week, first["seq"], boundary["seq"] - 1, first["prev"], chain.hash, chain.lines,
        len(data), sum(1 for line, _ in own if line["data"].get("ends")), receipt.manifest, receipt.to[:200],
        receipt.at, "", "", "", public, tuple((line["seq"], line["hash"]) for line, _ in kept),
    )  # fmt: skip
    return Looked(receipt, stub, tuple(raw for _, raw in kept))


def _receipt(disk: Disk, week: str, to: str, through: int, head: str) -> Receipt:
    receipt = Receipts(disk).last(week, to)
    if receipt is None or (receipt.closed, receipt.through, receipt.head) != (True, through, head):
        raise PurgeRefused(f"{week} has not arrived whole at {to}, as far as its receipt says; send it first")
    return receipt


def _require_export(place: Destination, device: str, week: str, receipt: Receipt, public: str, data: bytes) -> None:
    folder = f"{device}/{week}"
    try:
        manifest = manifest_at(place, folder)
        if manifest is None:
            raise PurgeRefused(f"{place.label} no longer holds {folder}; nothing was purged: send that week again")
        if (manifest.digest, manifest.key, manifest.head) != (receipt.manifest, public, receipt.head):
            raise ExportRefused("its manifest is not the one that arrived, or another key signed it")
        chain = {}
        for name in manifest.files:
            file = file_at(place, folder, manifest, name)
            if name.startswith(f"{CHAIN}/"):
                chain[name] = file
        require_chain(manifest, chain)
        if chain.get(f"{CHAIN}/{week}.jsonl") != data:
            raise ExportRefused("the lines in it are not those of the record")
    except ExportRefused as error:
        raise PurgeRefused(f"{place.label}/{folder}: {error}; nothing was purged: send that week again") from error


def _still_rested_on(lines: list[tuple[dict[str, Any], bytes]], boundary: dict[str, Any]) -> list[tuple[Any, bytes]]:
    """The lines of cycles that were under way at the boundary, and the pourings of baths that stood or that they name.

    `boundary` is the checkpoint that opens the next week; it holds what was under way as state.
    """
    unit = boundary["data"]
    cycles = {cycle["id"] for cycle in unit.get("cycles", {}).values()}
    baths = {bath["uid"] for bath in unit.get("baths", {}).values()}
    events = {seq: from_envelope(line) for line, _ in lines if line["kind"] != CHECKPOINT and (seq := line["seq"])}
    of_cycles = {seq for seq, event in events.items() if cycle_of(event) in cycles}
    baths |= {events[seq].refs.get("bath", "") for seq in of_cycles}
    pours = {seq for seq, event in events.items() if event.kind == "pour-bath" and event.id in baths}
    wanted = of_cycles | pours
    return [(line, raw) for line, raw in lines if line["seq"] in wanted]


def purge(door: Door, looked: Looked, signer: Signer, by: str) -> Event | Refusal:
    """Promise that the week is gone and its stub stands in its place, or a refusal that changed nothing.

    `looked` is from this door's record, a moment ago. Raises as `Door.give`; whatever was begun is then finished or
    taken back when the record is opened next.
    """
    disk, stub = door.journal.disk, looked.stub
    weeks = gone_weeks(disk)
    before = read_stub(disk, weeks[-1]).digest if weeks else ""
    if (before, stub.first_seq - 1) != ((p.stub, p.seq) if (p := door.unit.purged) else ("", 0)):
        raise PurgeRefused(f"{stub.week} is not the oldest week of the record any more; look again")
    values = {**{name: getattr(stub, name) for name in PURGE_SAYS}, "stub": stub.head}
    refused = decide(door.unit, Command("purge", stub.week, values, by), door.now(), door.shelf)
    if isinstance(refused, Refusal):
        return refused  # before anything is written
    # A stub must not be written anew while a purge of the same week may be in the record without our knowing.
    disk.append(segment_path(segment_weeks(disk)[-1]), b"")
    at = wall_text(door.clock.read().wall_ms, door.unit.settings.zone)
    content = sealed(replace(stub, at=at, by=by, before=before), signer)
    if looked.lines:
        disk.replace(carried_path(stub.week), b"".join(looked.lines))
    disk.replace(stub_path(stub.week), content)
    values["stub"] = read_stub(disk, stub.week).digest
    answer = door.give(Command("purge", stub.week, values, by))
    with suppress(DiskError):  # what could not be cleared away now is cleared away at the next opening
        settle(disk, door.unit.purged)
    return answer


def purge_before(
    door: Door, before: str, place: Destination, signer: Signer, by: str
) -> Iterator[tuple[str, Event | Refusal | BasinbellError]]:
    """Promise that every week before the given one was purged, oldest first, up to the first that can't be.

    Gives each week with its event, or with the refusal or error that ends the round. Raises CommandFault for a
    malformed week, and Defect.
    """
    week_begins(before)
    disk = door.journal.disk
    with suppress(DiskError):
        settle(disk, door.unit.purged)  # what an earlier purge could not clear away
    done = door.unit.purged.week if door.unit.purged else ""
    for week in [week for week in segment_weeks(disk)[:-1] if done < week < before]:
        answer: Event | Refusal | BasinbellError
        try:
            answer = purge(door, look(disk, door.unit.purged, week, place, signer.public), signer, by)
        except Defect:
            raise
        except (TechnicianError, DeliveryError, RecordDamaged, DiskError) as error:
            answer = error
        yield week, answer
        if not isinstance(answer, Event):
            return
