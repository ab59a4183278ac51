"""Folders and certificate files that somebody may mean: sticks and shares as systems mount them.

May take long where a share has gone away, so it is asked off the screen's thread.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from data.plain_files import is_folder

# Where Linux desktops, macOS and Android put what is plugged in; on Linux one or two folders down.
MOUNTS = ("/run/media/*/*", "/media/*/*", "/media/*", "/mnt/*", "/Volumes/*", "/storage/*")
# Android's own names there, which are no sticks.
_NOT = frozenset(("self", "emulated"))
_MOST = 12
_CERTIFICATES = frozenset((".pem", ".crt", ".cer"))


def folders(patterns: Iterable[str] = MOUNTS) -> list[str]:
    """Promise the folders that can be written into, each once, in order; at most a dozen."""
    found: list[str] = []
    for pattern in patterns:
        with suppress(OSError):
            for path in sorted(Path("/").glob(pattern.removeprefix("/"))):
                inside = any(other.startswith(f"{path}/") for other in found)
                if path.name in _NOT or inside or str(path) in found or not is_folder(path):
                    continue
                if os.access(path, os.W_OK):
                    found.append(str(path))
    return found[:_MOST]


def certificate_files(places: Iterable[str]) -> list[str]:
    """Promise the certificate files that lie directly in these folders, at most a dozen."""
    found: list[str] = []
    for place in places:
        with suppress(OSError):
            found += [str(path) for path in sorted(Path(place).iterdir()) if path.suffix.lower() in _CERTIFICATES]
    return found[:_MOST]
