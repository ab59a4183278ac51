"""The manifest of an export: what lies in its folder, where the chain stands, and the handheld's signature over it.

`manifest.json` is canonical JSON (RFC 8785) and `manifest.sig` its Ed25519 signature, 64 bytes as RFC 8032 has them, so
that other tools can check both. What comes from outside is believed only after `read_manifest` has looked at all of it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from data.canonical import canonical
from data.practice import MARK, is_practice
from data.segments import WEEK
from data.signing import PUBLIC_LENGTH, SIGNATURE_LENGTH, Signer, verifies
from protocols.errors import BasinbellError, CommandFault, TechnicianError
from protocols.wall import given_wall

MANIFEST, SIGNATURE = "manifest.json", "manifest.sig"
MANIFEST_V = 1

# Limits for what comes from outside: some hundred times what a busy week needs, and what a small machine can hold.
FILES_MAX, MANIFEST_BYTES_MAX, FILE_BYTES_MAX = 1000, 1_000_000, 256_000_000
EXPORT_BYTES_MAX = 1_000_000_000
_NAME = re.compile(r"(?:[a-z]{1,16}/)?[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_HEX64 = re.compile(r"[0-9a-f]{64}")
_MEMBERS = frozenset((
    "v", "device", "unit", "week", "closed", "through", "head", "at", "first_seq", "before", "counts", "key", "files",
    "left_out",
))  # fmt: skip


class ExportRefused(TechnicianError):
    """An export is not what its handheld signed, or not complete; nothing of it was taken."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a manifest says. `files` maps a name to its length in bytes and its SHA-256 (64 hex).

    The chain in the export goes from line `first_seq`, whose predecessor has the hash `before`, through the line
    `through` with the hash `head`, written `at` that wall time. `digest` is the SHA-256 of the manifest itself.
    """

    device: str
    unit: str
    week: str
    closed: bool
    through: int
    head: str
    at: str
    first_seq: int
    before: str
    counts: Mapping[str, int]
    key: str
    files: Mapping[str, tuple[int, str]]
    left_out: Mapping[str, str]
    digest: str

    def same_week(self, other: Manifest) -> bool:
        """Promise whether both are of the same state of the same week of the same handheld, whatever forms they have.

        The chain decides: tables and prints are made from it, and a newer app may make them otherwise.
        """
        mine = (self.device, self.key, self.week, self.closed, self.through, self.head)
        return mine == (other.device, other.key, other.week, other.closed, other.through, other.head)


def with_manifest(files: Mapping[str, bytes], said: Mapping[str, Any], signer: Signer) -> dict[str, bytes]:
    """Promise the files with their signed manifest, last in order; `said` holds its members but v, key and files."""
    listed = {name: {"bytes": len(data), "sha256": sha256(data).hexdigest()} for name, data in files.items()}
    content = canonical({"v": MANIFEST_V, "key": signer.public, "files": listed, **said}) + b"\n"
    return {**files, MANIFEST: content, SIGNATURE: signer.sign(content)}


def read_manifest(content: bytes, signature: bytes) -> Manifest:
    """Promise what a manifest says, once its form is right and its own key has signed it.

    Whether that key is the handheld's is for whoever got the key beforehand to say. Raises ExportRefused.
    """
    if len(content) > MANIFEST_BYTES_MAX:
        raise ExportRefused(f"{MANIFEST} has {len(content)} bytes, at most {MANIFEST_BYTES_MAX} are read")
    try:
        said = json.loads(content)
        spelt = canonical(said) + b"\n"
    except (ValueError, RecursionError, BasinbellError) as error:
        raise ExportRefused(f"{MANIFEST} can't be read ({error}); ask for the export again") from error
    if isinstance(said, dict) and isinstance(said.get("v"), int) and said["v"] > MANIFEST_V:
        raise ExportRefused(f"{MANIFEST} is of version {said['v']}, this app knows {MANIFEST_V}; install the newer app")
    fault = next(_faults(said), "") or ("" if spelt == content else "it is not in canonical form (RFC 8785)")
    if fault:
        raise ExportRefused(f"{MANIFEST} is not that of an export: {fault}")
    if is_practice(said["device"]):
        raise ExportRefused(f"{MARK} (device {said['device']!r}), so it is no export; leave it out")
    if len(signature) != SIGNATURE_LENGTH or not verifies(said["key"], signature, content):
        raise ExportRefused(f"{SIGNATURE} is not the signature of {MANIFEST} by the key {said['key'][:16]}...")
    files = {name: (one["bytes"], one["sha256"]) for name, one in said["files"].items()}
    members = {name: said[name] for name in _MEMBERS - {"v", "files"}}
    return Manifest(**members, files=files, digest=sha256(content).hexdigest())


def _faults(said: Any) -> Iterator[str]:
    if not isinstance(said, dict) or said.keys() != _MEMBERS:
        yield f"its members are {sorted(said) if isinstance(said, dict) else said!r}"
        return
    kinds = {
        "closed": bool,
        "counts": dict,
        "files": dict,
        "left_out": dict,
        "through": int,
        "first_seq": int,
        "v": int,
    }
    for name in sorted(_MEMBERS):
        if type(said[name]) is not kinds.get(name, str):
            yield f"{name} is {said[name]!r}"
            return
    patterns = (("device", _DEVICE), ("week", WEEK), ("head", _HEX64), ("before", _HEX64), ("key", _HEX64))
    yield from (f"{name} is {said[name]!r}" for name, form in patterns if not form.fullmatch(said[name]))
    if not 1 <= said["first_seq"] <= said["through"] or len(said["key"]) != 2 * PUBLIC_LENGTH:
        yield f"its chain goes from {said['first_seq']} to {said['through']}"
    if len(said["files"]) > FILES_MAX or len(said["counts"]) > FILES_MAX:
        yield f"it lists {len(said['files'])} files"
    yield from (f"it counts {n!r} {name}" for name, n in said["counts"].items() if type(n) is not int or n < 0)
    yield from (f"it leaves out {name!r}" for name, why in said["left_out"].items() if type(why) is not str)
    for name, one in said["files"].items():
        if not _NAME.fullmatch(name) or name in (MANIFEST, SIGNATURE):
            yield f"it lists a file {name!r}"
        elif not isinstance(one, dict) or one.keys() != {"bytes", "sha256"} or not _hash_and_length(one):
            yield f"it says {one!r} of {name}"
            return
    length = sum(one["bytes"] for one in said["files"].values() if isinstance(one, dict))
    if length > EXPORT_BYTES_MAX:
        yield f"its files have {length} bytes, at most {EXPORT_BYTES_MAX} are read"
    try:
        given_wall(said["at"])
    except CommandFault as error:
        yield f"at: {error}"


def _hash_and_length(one: dict[str, Any]) -> bool:
    length, digest = one["bytes"], one["sha256"]
    return type(length) is int and 0 <= length <= FILE_BYTES_MAX and bool(_HEX64.fullmatch(str(digest)))


def require_files(manifest: Manifest, read: Callable[[str], bytes | None]) -> None:
    """Promise that every listed file is there with its length and hash. Raises ExportRefused naming the first other."""
    for name in manifest.files:
        require_file(manifest, name, read(name))


def require_file(manifest: Manifest, name: str, content: bytes | None) -> None:
    """Promise that one file is what the manifest lists. Raises ExportRefused."""
    length, digest = manifest.files[name]
    if content is None:
        raise ExportRefused(f"{name} is missing; ask for the export again")
    if len(content) != length or sha256(content).hexdigest() != digest:
        raise ExportRefused(f"{name} is not the file that was signed ({len(content)} bytes, {length} were written)")
