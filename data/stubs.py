"""What stands in the place of a purged week: a stub, signed, that keeps the chain verifiable across the gap.

`purged/2026-W40.json` is canonical JSON, one line: {"sig": <128 hex>, "stub": {...}}. The signature (Ed25519, RFC 8032)
is the handheld's, over the canonical JSON of the stub. A stub says from which line to which its week went, the hash
before it and its last one, how much it held (`size` in bytes), where its export lies, who took it off and when. It also
names the stub before it by its SHA-256, and the event of the purge names the stub: so the record itself, which goes on,
vouches for the newest stub and that one for all others.

Cycles that ended in weeks still here may have begun in purged ones, and lain in baths poured there. Those lines are
carried along, as they were written, in `purged/2026-W40.jsonl` beside the newest stub, which lists them with their
hashes. Reading stubs needs no key; whoever wants to know that they are signed asks `signed_by`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from hashlib import sha256
from typing import Any, NamedTuple

from data.canonical import canonical
from data.disk import Disk
from data.line import follow_chain, open_line
from data.segments import segment_weeks, weeks_in
from data.signing import PUBLIC_LENGTH, SIGNATURE_LENGTH, Signer, verifies
from protocols.errors import BasinbellError, CommandFault, RecordDamaged

FOLDER = "purged"
STUB_V = 1
# A stub has some hundred bytes, and a hundred more for every line that is carried: of a shift, not of a year.
STUB_BYTES_MAX = 10_000_000
# What the event of a purge repeats of its stub.
PURGE_SAYS = ("first_seq", "last_seq", "head", "manifest", "to")


@dataclass(frozen=True, slots=True)
class Stub:
    """One purged week: lines `first_seq` to `last_seq`, between the hashes `prev` (before it) and `head` (its last).

    `manifest` is the SHA-256 of the manifest of its export, `to` where that lies, `sent` when it was read back there.
    `at` (wall time) and `by` say when and by whom it was purged, `before` is the SHA-256 of the stub before it ("" for
    none), `key` the public key of the handheld, `carried` the seq and hash of every line kept beside it.
    """

    v: int
    device: str
    week: str
    first_seq: int
    last_seq: int
    prev: str
    head: str
    lines: int
    size: int
    cycles: int
    manifest: str
    to: str
    sent: str
    at: str
    by: str
    before: str
    key: str
    carried: tuple[tuple[int, str], ...]

    def content(self) -> bytes:
        """Promise the bytes that are signed."""
        return canonical({**asdict(self), "carried": [list(one) for one in self.carried]})

    def is_of(self, segment: bytes) -> bool:
        """Promise whether these bytes are, line for line, the segment that was purged."""
        chain = follow_chain(segment, self.prev)
        return chain.fault is None and (chain.hash, chain.lines) == (self.head, self.lines)


class Kept(NamedTuple):
    """A stub as it lies in the home: what it says, the SHA-256 of its file, and its signature."""

    stub: Stub
    digest: str
    signature: bytes

    def signed_by(self, public: str) -> bool:
        """Promise whether the key of 64 hex digits has signed it. Raises SigningUnavailable without the library."""
        return self.stub.key == public and verifies(public, self.signature, self.stub.content())


def stub_path(week: str) -> str:
    """Promise the path of a purged week's stub."""
    return f"{FOLDER}/{week}.json"


def carried_path(week: str) -> str:
    """Promise the path of the lines that are carried beside a week's stub."""
    return f"{FOLDER}/{week}.jsonl"


def sealed(stub: Stub, signer: Signer) -> bytes:
    """Promise the file of a stub, signed."""
    said = json.loads(stub.content())
    return canonical({"sig": signer.sign(stub.content()).hex(), "stub": said}) + b"\n"


def stub_weeks(disk: Disk) -> list[str]:
    """Promise the weeks that have a stub, oldest first, whether or not their segment is still there."""
    return weeks_in(disk, FOLDER, ".json")


def gone_weeks(disk: Disk) -> list[str]:
    """Promise the purged weeks, oldest first: those with a stub and no segment."""
    stubs = stub_weeks(disk)
    there = {*segment_weeks(disk)} if stubs else set()
    return [week for week in stubs if week not in there]


def read_stub(disk: Disk, week: str) -> Kept:
    """Promise the stub of a week as it was written, its form checked, its signature not. Raises RecordDamaged."""
    path = stub_path(week)
    if disk.size(path) > STUB_BYTES_MAX:
        raise _unlike(path, f"it has {disk.size(path)} bytes, at most {STUB_BYTES_MAX} are read")
    content = disk.read(path)
    try:
        held = json.loads(content)
        said, signature = held["stub"], bytes.fromhex(held["sig"])
        whole = canonical(held) + b"\n" == content and held.keys() == {"sig", "stub"}
        stub = Stub(**{**said, "carried": tuple((seq, digest) for seq, digest in said["carried"])})
    except (ValueError, KeyError, TypeError, RecursionError, BasinbellError) as error:
        raise _unlike(path, f"it can't be read ({error!r})") from error
    whole = whole and len(signature) == SIGNATURE_LENGTH and signature.hex() == held["sig"]
    fault = "" if whole else "it is not in canonical form (RFC 8785)"
    fault = fault or next(_faults(stub, week), "")
    if fault:
        raise _unlike(path, fault)
    return Kept(stub, sha256(content).hexdigest(), signature)


def _unlike(path: str, what: str) -> RecordDamaged:
    return RecordDamaged(
        f"{path} is not as it was written: {what}; nothing has been changed, bring it back from a copy"
    )


def _faults(stub: Stub, week: str) -> Iterator[str]:
    for field in fields(Stub):
        value = getattr(stub, field.name)
        wanted = {"int": int, "str": str}.get(str(field.type), tuple)
        if type(value) is not wanted:
            yield f"{field.name} is {value!r}"
            return
    if stub.v != STUB_V:
        yield f"it is of version {stub.v}, this app knows {STUB_V}"
    if stub.week != week:
        yield f"it is of week {stub.week}"
    if not 1 <= stub.first_seq <= stub.last_seq or stub.lines != stub.last_seq - stub.first_seq + 1:
        yield f"its {stub.lines} lines go from {stub.first_seq} to {stub.last_seq}"
    hashes = (stub.prev, stub.head, stub.manifest, *(digest for _, digest in stub.carried))
    if not all(_is_hash(one) for one in hashes) or not _is_hash(stub.key, PUBLIC_LENGTH):
        yield "one of its hashes is none"
    if stub.before and not _is_hash(stub.before):
        yield f"before is {stub.before!r}"
    seqs = [seq for seq, _ in stub.carried]
    if any(type(seq) is not int or not 1 <= seq <= stub.last_seq for seq in seqs) or seqs != sorted({*seqs}):
        yield "the lines that it carries are not in order"


def _is_hash(text: Any, length: int = 32) -> bool:
    return type(text) is str and len(text) == 2 * length and set(text) <= set("0123456789abcdef")


def carried_lines(disk: Disk) -> list[tuple[dict[str, Any], bytes]]:
    """Promise the lines that the newest stub carries, in order, each with its bytes; [] where nothing was purged.

    Raises RecordDamaged when the file is not exactly what the stub lists.
    """
    weeks = gone_weeks(disk)
    if not weeks:
        return []
    stub = read_stub(disk, weeks[-1]).stub
    path = carried_path(weeks[-1])
    if not stub.carried:
        return []
    content = disk.read(path) if disk.exists(path) else b""
    found = []
    for line in content.splitlines(keepends=True):
        try:
            found.append((open_line(line, None, None), line))
        except RecordDamaged as error:
            raise _unlike(path, str(error)) from error
    if tuple((line["seq"], line["hash"]) for line, _ in found) != stub.carried:
        raise _unlike(
            path, f"it holds {len(found)} lines that are not the {len(stub.carried)} that {stub.week} carries"
        )
    return found


def require_prepared(disk: Disk, week: str, said: Mapping[str, Any]) -> None:
    """Promise that a stub lies ready for a purge that says these facts. Raises CommandFault, RecordDamaged."""
    kept = read_stub(disk, week) if disk.exists(stub_path(week)) else None
    if (
        kept is None
        or any(said[name] != getattr(kept.stub, name) for name in PURGE_SAYS)
        or said["stub"] != kept.digest
    ):
        raise CommandFault(f"purge: no stub of {week} was made ready; purge with main.py purge, or in the Setup")
