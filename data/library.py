"""The shipped protocols, chemistries and limit sets, read from the plain files beside the code.

They lie in `protocols/library/` as TOML and are found by path, so that the same code works from a checkout,
from an installed package and from the files unpacked on a handheld.
"""

from __future__ import annotations

from pathlib import Path

import protocols
from protocols.errors import DiskError

CLAIMS_FILE = "chemistries.toml"
LIMITS_FILE = "limits.toml"
DURATIONS_FILE = "durations.toml"
# What of the folder is no protocol.
_OTHERS = (CLAIMS_FILE, LIMITS_FILE, DURATIONS_FILE)


def library_folder() -> Path:
    """Promise the folder of the shipped files."""
    return Path(next(iter(protocols.__path__))) / "library"


def shipped_protocol_texts() -> dict[str, str]:
    """Promise the text of every shipped protocol by file name, in the order of the names.

    Raises DiskError when the folder holds none or a file can't be read.
    """
    folder = library_folder()
    names = sorted(path.name for path in folder.glob("*.toml") if path.name not in _OTHERS)
    if not names:
        raise DiskError(f"no protocols in {folder.name}; install the app again")
    return {name: _text(folder / name) for name in names}


def shipped_claims_text() -> str:
    """Promise the text of the shipped chemistry claims. Raises DiskError when it can't be read."""
    return _text(library_folder() / CLAIMS_FILE)


def shipped_limits_text() -> str:
    """Promise the text of the shipped limit sets. Raises DiskError when it can't be read."""
    return _text(library_folder() / LIMITS_FILE)


def shipped_durations_text() -> str:
    """Promise the text of the shipped guesses of how long hands are busy. Raises DiskError when it can't be read."""
    return _text(library_folder() / DURATIONS_FILE)


def _text(path: Path) -> str:
    # Bytes, not text mode: the content hash of a protocol must not depend on the platform's line ends.
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise DiskError(f"the shipped file {path.name} can't be read ({error}); install the app again") from error
