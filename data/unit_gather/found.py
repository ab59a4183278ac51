"""Exports as they lie in folders, and the check that each must pass before anything of it is taken."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from data.exporters.chain_files import CHAIN, require_chain
from data.exporters.csv_text import rows_in
from data.exporters.csv_week import CONTENTS
from data.exporters.manifest import (
    MANIFEST,
    MANIFEST_BYTES_MAX,
    SIGNATURE,
    ExportRefused,
    Manifest,
    read_manifest,
    require_file,
)
from data.plain_files import is_folder, read_plain
from data.signing import PUBLIC_LENGTH, SIGNATURE_LENGTH
from data.unit_gather.tables import require_table
from protocols.errors import CommandFault, DiskError

# Exports lie two folders below a destination, three below a folder of such; nobody looks through a whole disk.
_DEPTH_MAX = 5
TABLES = ("cycles.csv", "events.csv", "baths.csv", "tests.csv")


@dataclass(frozen=True, slots=True)
class Export:
    """One export in a folder, its manifest and signature checked; `Export.read` checks each file as it is read.

    `said` is the manifest's own text and `signature` that of it, as they were checked.
    """

    folder: Path
    manifest: Manifest
    said: bytes
    signature: bytes

    @property
    def source(self) -> str:
        """Promise the handheld: its name and the beginning of its key, since two may have one name."""
        return source_of(self.manifest)

    def read(self, name: str) -> bytes:
        """Promise the bytes of a listed file, as they were signed. Raises ExportRefused or DiskError."""
        content = _plain(self.folder, name, self.manifest.files[name][0])
        require_file(self.manifest, name, content)
        return content


def _plain(folder: Path, name: str, most: int) -> bytes:
    """A plain file of an export, at most one byte longer than it may be. Raises ExportRefused or DiskError."""
    path = folder / name
    if path.parent != folder and path.parent.is_symlink():
        raise ExportRefused(f"{name} lies behind a link; ask for the export again")
    try:
        return read_plain(path, most)
    except FileNotFoundError as error:
        raise ExportRefused(f"{name} is missing; ask for the export again") from error
    except OSError as error:
        if error.errno in (errno.EINVAL, errno.ENOTDIR, errno.EISDIR, errno.ENAMETOOLONG):
            raise ExportRefused(f"{name} is no plain file ({error.strerror}); ask for the export again") from error
        raise DiskError(f"reading {path} failed ({error.strerror or error}); make it readable") from error


def source_of(manifest: Manifest) -> str:
    """Promise the name of a handheld among others."""
    return f"{manifest.device}-{manifest.key[:16]}"


def exports_below(start: Path) -> Iterator[Path]:
    """Promise the folders at or below `start` that hold a manifest, in order of name; names with a dot are passed by.

    Raises DiskError for a folder that is not there or can't be read.
    """
    if not is_folder(start):
        raise DiskError(f"{start} is no folder; name one that holds exports")
    base = len(start.parts)

    def failed(error: OSError) -> None:
        raise DiskError(f"looking through {error.filename} failed ({error.strerror}); make it readable") from error

    for folder, inner, files in os.walk(start, onerror=failed):
        here = Path(folder)
        if MANIFEST in files or CONTENTS in files:
            yield here
            inner.clear()
        elif len(here.parts) - base >= _DEPTH_MAX:
            inner.clear()
        inner[:] = sorted(name for name in inner if not name.startswith("."))


def open_export(folder: Path, keys: dict[str, str] | None) -> Export:
    """Promise an export whose manifest is signed by its own key, and where `keys` are given, by the one known there.

    `keys` maps a device to its public key. Raises ExportRefused or DiskError.
    """
    content = _plain(folder, MANIFEST, MANIFEST_BYTES_MAX)
    signature = _plain(folder, SIGNATURE, SIGNATURE_LENGTH)
    manifest = read_manifest(content, signature)
    if keys is not None and keys.get(manifest.device) != manifest.key:
        known = keys.get(manifest.device)
        said = f"the key known for it is {known[:16]}..." if known else "no key is known for it"
        raise ExportRefused(f"device {manifest.device} signed with the key {manifest.key[:16]}..., {said}")
    return Export(folder, manifest, content, signature)


def require_whole(export: Export) -> dict[str, bytes]:
    """Promise that every file is as signed, the chain whole, and each table as long as the manifest counts.

    Gives the tables and the chain's files, as they were checked. Raises ExportRefused or DiskError.
    """
    manifest = export.manifest
    missing = [name for name in TABLES if name not in manifest.files]
    if missing:
        raise ExportRefused(f"the manifest lists no {', '.join(missing)}; gather it with the version that wrote it")
    checked = {}
    for name in manifest.files:
        content = export.read(name)
        if name.startswith(f"{CHAIN}/"):
            checked[name] = content
        elif name in TABLES:
            checked[name] = content
            rows = rows_in(content)
            if rows != manifest.counts.get(name.removesuffix(".csv")):
                raise ExportRefused(f"{name} has {rows} rows, the manifest counts otherwise")
            require_table(name, content)
    require_chain(manifest, checked)
    return checked


def read_keys(path: Path) -> dict[str, str]:
    """Promise the public keys in a file, by device: a line each, `device key`, as main.py key prints them.

    Empty lines and those that begin with # say nothing. Raises CommandFault naming the line, or DiskError.
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise DiskError(f"{path} can't be read ({error}); name a file of lines: device key") from error
    keys = {}
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        parts = line.split()
        if len(parts) != 2 or len(parts[1]) != 2 * PUBLIC_LENGTH or not set(parts[1]) <= set("0123456789abcdef"):
            raise CommandFault(f"{path}, line {number}: not a device and its public key of 64 hex digits")
        keys[parts[0]] = parts[1]
    return keys
