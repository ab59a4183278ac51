"""Hostile export folders: a good export bent in its files, names and kinds of files, signed anew by whoever bent it.

Without keys got beforehand every export is held against its own key only, so whoever writes one can sign what they
like: the form of everything in it must be looked at, and nothing of it may reach out of its folder or the destination.
"""

from __future__ import annotations

import json
import os
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

from data.canonical import canonical
from data.exporters.manifest import MANIFEST, SIGNATURE
from data.line import seal
from data.signing import REHEARSAL_SECRET, signer
from tests.hostile import _any, bent
from tests.send.cases import WEEK, exported

NAMES = (
    "../x", "../../x", "/etc/passwd", "chain/../../x", "chain//x", "a/b/c", ".hidden", "x\x00y", "x" * 300, "C:\\x",
    "\\x",
    "chain/..", "", " ", "manifest.json", "CON", "é", "\u202e", "chain/2026-W47.jsonl", "texts/" + "0" * 64,
)  # fmt: skip
KINDS = (
    "link out", "link in", "broken link", "loop", "folder", "pipe", "device", "link folder", "sparse", "missing",
    "long",
)  # fmt: skip


@lru_cache(maxsize=1)
def _good() -> dict[str, bytes]:
    return exported(WEEK)


def make_export(chance: Random, folder: Path) -> Path:
    """Write a bent export below a folder; gives the folder of the export itself."""
    files = dict(_good())
    said: dict[str, Any] = _said(files)
    acts = chance.choice((1, 1, 2, 3))
    sign = True
    kinds: list[tuple[str, str]] = []
    for _ in range(acts):
        act = chance.randrange(7)
        name = chance.choice([n for n in files if n not in (MANIFEST, SIGNATURE)])
        if act == 0:
            files[name] = bent(chance, files[name].decode("utf-8", "replace")).encode("utf-8", "surrogatepass")
        elif act == 1:
            said[chance.choice(sorted(said))] = _any(chance, 2)
        elif act == 2:
            files[chance.choice(NAMES)] = b"x"
        elif act == 3:
            kinds.append((name, chance.choice(KINDS)))
        elif act == 4:
            sign = chance.random() < 0.5
        elif act == 5:
            files[f"chain/{WEEK}.jsonl"] = _bent_chain(chance, files[f"chain/{WEEK}.jsonl"], said)
        else:
            del files[name]
    _write(folder, files, _listed(said, files, kinds), sign)
    for name, kind in kinds:
        _bend_file(chance, folder, name, kind)
    return folder


def _said(files: dict[str, bytes]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(files[MANIFEST])
    found["key"] = signer(REHEARSAL_SECRET).public
    return found


def _listed(said: dict[str, Any], files: dict[str, bytes], kinds: list[tuple[str, str]]) -> dict[str, Any]:
    if isinstance(said.get("files"), dict):
        empty = {name for name, kind in kinds if kind in ("pipe", "device")}
        said["files"] = {
            name: {"bytes": 0, "sha256": sha256(b"").hexdigest()}
            if name in empty
            else {"bytes": len(data), "sha256": sha256(data).hexdigest()}
            for name, data in files.items()
            if name not in (MANIFEST, SIGNATURE)
        }
    return said


def _bent_chain(chance: Random, data: bytes, said: dict[str, Any]) -> bytes:
    """Lines of another form whose hashes fit: whoever can sign an export can chain it too."""
    lines, prev = data.splitlines(), "0" * 64
    at, made = chance.randrange(len(lines)), b""
    for number, line in enumerate(lines):
        envelope = json.loads(line)
        envelope.pop("hash")
        if number == at:
            member = chance.choice(("kind", "subject", "refs", "data", "device", "wall", "by"))
            value = _any(chance, 2)
            envelope[member] = value if isinstance(value, type(envelope[member])) else envelope[member]
        try:
            sealed, prev = seal({**envelope, "prev": prev})
        except Exception:  # what can't be sealed at all is no chain
            return data
        made += sealed
    said["head"] = prev
    return made


def _write(folder: Path, files: dict[str, bytes], said: dict[str, Any], sign: bool) -> None:
    folder.mkdir(parents=True)
    for name, data in files.items():
        path = folder / name if name and not name.startswith("/") else folder / "odd"
        if name in (MANIFEST, SIGNATURE) or ".." in name.split("/"):
            continue
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        except (OSError, ValueError):
            continue  # a name that this system can't write; the manifest still lists it
    try:
        content = canonical(said) + b"\n"
    except Exception:  # what has no canonical form can only be written otherwise
        content = b"{}\n"
    (folder / MANIFEST).write_bytes(content)
    (folder / SIGNATURE).write_bytes(signer(REHEARSAL_SECRET).sign(content) if sign else bytes(64))


def _link_folder(folder: Path, name: str) -> None:
    moved = folder.parent / "elsewhere"
    if not moved.exists() and (folder / name).is_dir():
        (folder / name).rename(moved)
        (folder / name).symlink_to(moved)


def _bend_file(chance: Random, folder: Path, name: str, kind: str) -> None:
    if kind == "link folder":
        _link_folder(folder, chance.choice(("texts", "chain")))
        return
    path = folder / chance.choice((name, name, name, MANIFEST, SIGNATURE, "week.json"))
    if not path.exists() or path.is_symlink():
        return
    kept = path.read_bytes() if path.is_file() else b""
    if path.is_dir():
        return
    path.unlink()
    if kind == "link out":
        outside = folder.parent / "secret"
        outside.write_bytes(kept)
        path.symlink_to(outside)
    elif kind == "link in":
        path.symlink_to(MANIFEST)
    elif kind == "broken link":
        path.symlink_to("nowhere")
    elif kind == "loop":
        path.symlink_to(path.name)
    elif kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "sparse":
        path.touch()
        os.truncate(path, 10**13)
    elif kind == "long":
        path.write_bytes(kept + b"x" * 100_000)
