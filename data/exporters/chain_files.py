"""The chain in an export: the lines of the record that its tables rest on, byte for byte as they stand in the journal.

`chain/<week>.jsonl` are whole segments without a gap: from the week in which the first of the week's cycles came in (a
cycle belongs to the week in which it ends) through the week itself; of a week that is still open, up to the last line
that went in. A bath may have been poured weeks before. Its pouring travels alone, in `chain/carried.jsonl`: that line
has its own hash, and the checkpoint that opens the first segment, a line of the chain, must hold the same bath; the
export of the week in which it was poured shows its place. So all of an export can be proved from the export alone.
Where a week was purged since (`data.purging`), the events in it of cycles that ended later travel alone too: the
opening checkpoint holds those cycles, with the seq of their last event; that the lines are theirs rests on the
signature.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from data.disk import Disk
from data.exporters.manifest import ExportRefused, Manifest
from data.gather import WeekRead, cycle_of
from data.journal import Journal
from data.line import NO_LINE_BEFORE, first_line, follow_chain, last_line, open_line
from data.segments import CHECKPOINT, WEEK, segment_path
from protocols.errors import UNREADABLE, Defect, RecordDamaged
from protocols.event import event_id, from_envelope, seq_of

CHAIN = "chain"
CARRIED = f"{CHAIN}/carried.jsonl"


def chain_files(
    disk: Disk, journal: Journal, read: WeekRead, purged: Mapping[str, bytes] | None = None
) -> dict[str, bytes]:
    """Promise the chain's files by name for a week as read. Raises RecordDamaged or DiskError.

    `purged` gives segments that are no longer here but known, by week, as an export from before the purge holds them.
    """
    known = purged or {}
    weeks = sorted({*journal.segments(), *known})
    first_event = min((one.events[0].seq for one in read.ended), default=None)
    start = weeks.index(read.week)
    data = disk.read(segment_path(read.week))
    if not read.closed:
        data = _cut(data, read)
    files = {f"{CHAIN}/{read.week}.jsonl": data}
    while first_event is not None and _first_seq(data) > first_event and start > 0:
        start -= 1
        week = weeks[start]
        data = known[week] if week in known else disk.read(segment_path(week))
        files[f"{CHAIN}/{week}.jsonl"] = data
    earlier = [week for week in weeks[:start] if week not in known]
    carried = _carried(disk, journal, earlier, read, _first_seq(data))
    if carried:
        files[CARRIED] = carried
    return files


def _cut(data: bytes, read: WeekRead) -> bytes:
    mark = f',"hash":"{read.head}"}}\n'.encode()
    end = data.find(mark)
    if end < 0:
        raise RecordDamaged(f"{segment_path(read.week)} no longer holds line {read.through}; verify the record")
    return data[: end + len(mark)]


def _first_seq(data: bytes) -> int:
    return _seq(first_line(data))


def _seq(line: bytes) -> int:
    return int(open_line(line, None, None)["seq"])


def _carried(disk: Disk, journal: Journal, earlier: list[str], read: WeekRead, first_seq: int) -> bytes:
    named = {e.refs["bath"] for one in read.ended for e in one.events if e.refs.get("bath")}
    wanted = {read.pours[uid].seq for uid in named if uid in read.pours and read.pours[uid].seq < first_seq}
    # Only of cycles that began in weeks purged since: all others lie in the chain itself.
    wanted |= {e.seq for one in read.ended for e in one.events if e.seq < first_seq}
    found: dict[int, bytes] = {}
    for week in reversed(earlier):
        if wanted <= found.keys():
            break
        for line in disk.read(segment_path(week)).splitlines(keepends=True):
            # Only the few lines of pourings are parsed.
            if b'"kind":"pour-bath"' in line and (seq := _seq(line)) in wanted:
                found[seq] = line
    if not wanted <= found.keys():
        found.update({line["seq"]: raw for line, raw in journal.carried() if line["seq"] in wanted})
    return b"".join(found[seq] for seq in sorted(found))


def lines_carried(files: Mapping[str, bytes]) -> list[dict[str, Any]]:
    """Promise the carried lines, each whole in itself. Raises ExportRefused."""
    try:
        return [open_line(line, None, None) for line in files.get(CARRIED, b"").splitlines(keepends=True)]
    except RecordDamaged as error:
        raise ExportRefused(f"{CARRIED}: {error}") from error


def segment_files(files: Iterable[str]) -> list[str]:
    """Promise the names of the segments among an export's files, oldest first."""
    return sorted(name for name in files if name.startswith(f"{CHAIN}/") and name != CARRIED)


def require_chain(manifest: Manifest, files: Mapping[str, bytes]) -> None:
    """Promise that the chain's files are whole, follow each other and end where the manifest says.

    `files` holds at least those under chain/. Raises ExportRefused naming the file and what is wrong.
    """
    names = segment_files(files)
    weeks = [name.removeprefix(f"{CHAIN}/").removesuffix(".jsonl") for name in names]
    if not names or weeks[-1] != manifest.week or not all(WEEK.fullmatch(week) for week in weeks):
        raise ExportRefused(f"the chain of {manifest.week} consists of {', '.join(names) or 'nothing'}")
    if manifest.first_seq == 1 and manifest.before != NO_LINE_BEFORE:
        raise ExportRefused("line 1 follows no other, but the manifest names one before it")
    prev, lines = manifest.before, 0
    for name in names:
        chain = follow_chain(files[name], prev)
        if chain.fault is not None or chain.hash is None:
            raise ExportRefused(f"{name}, line {chain.lines + 1} at byte {chain.size}: {chain.fault or 'it is empty'}")
        prev, lines = chain.hash, lines + chain.lines
    if prev != manifest.head or lines != manifest.counts.get("lines"):
        raise ExportRefused(f"the chain ends after {lines} lines with the hash {prev}, the manifest says otherwise")
    try:
        _require_ends(manifest, files, names)
    except UNREADABLE as error:
        # The hashes fit, but no handheld has written such lines.
        raise ExportRefused(f"the chain holds lines of another form ({error!r})") from error
    except RecordDamaged as error:
        raise ExportRefused(f"the chain holds a line that can't be read: {error}") from error


def _require_ends(manifest: Manifest, files: Mapping[str, bytes], names: list[str]) -> None:
    first, last = _ends(files[names[0]])[0], _ends(files[names[-1]])[1]
    if first["seq"] != manifest.first_seq or last["seq"] != manifest.through:
        raise ExportRefused(
            f"the chain goes from line {first['seq']} to {last['seq']}, the manifest says from {manifest.first_seq} to "
            f"{manifest.through}"
        )
    if first["device"] != manifest.device or first["kind"] != CHECKPOINT:
        raise ExportRefused(f"the chain begins with {first['kind']!r} of device {first['device']!r}")
    _require_carried(manifest, files, first)


def _ends(data: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    return open_line(first_line(data), None, None), open_line(last_line(data), None, None)


def _require_carried(manifest: Manifest, files: Mapping[str, bytes], checkpoint: dict[str, Any]) -> None:
    lines = lines_carried(files)
    cycles = {cycle["id"]: cycle for cycle in checkpoint["data"].get("cycles", {}).values()}
    found: dict[str, set[int]] = {}
    of_cycles = set()
    for line in lines:
        cycle = cycle_of(from_envelope(line))
        if line["seq"] >= manifest.first_seq or (line["kind"] != "pour-bath" and cycle not in cycles):
            raise ExportRefused(
                f"{CARRIED} holds line {line['seq']}, which is of nothing that stood as the chain begins"
            )
        if cycle in cycles:
            found.setdefault(cycle, set()).add(line["seq"])
            of_cycles.add(line["refs"].get("bath", ""))
    for cycle, seqs in found.items():
        if not {cycles[cycle]["last_seq"], seq_of(cycle)} <= seqs:
            raise ExportRefused(f"{CARRIED} lacks the first or the last event of cycle {cycle} by then")
    for line in lines:
        if line["kind"] == "pour-bath":
            _require_pouring(line, checkpoint, of_cycles)


def _require_pouring(line: dict[str, Any], checkpoint: dict[str, Any], of_cycles: set[str]) -> None:
    uid = event_id(line["device"], line["seq"])
    baths = {bath["uid"]: bath for bath in checkpoint["data"].get("baths", {}).values()}
    held, facts = baths.get(uid), line["data"].get("bath", {})
    if held is None:
        if uid not in of_cycles:
            raise ExportRefused(f"{CARRIED} holds {uid}, which is no bath that stood when the chain begins")
        return
    differing = [name for name, value in facts.items() if name in held and held[name] != value]
    if differing or held["label"] != line["subject"]:
        raise ExportRefused(f"{CARRIED}: bath {uid} differs from the record's own state in {', '.join(differing)}")


def chain_span(files: Mapping[str, bytes]) -> tuple[int, str, int]:
    """Promise of a chain's files the first line's seq, the hash before it, and the number of lines."""
    names = segment_files(files)
    if not names:
        raise Defect("an export without a chain can't be described")
    first = open_line(first_line(files[names[0]]), None, None)
    return first["seq"], first["prev"], sum(files[name].count(b"\n") for name in names)
