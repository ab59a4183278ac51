"""Where a home's weeks go, and which certificates are trusted for it; never a name or a password."""

from __future__ import annotations

from typing import NamedTuple

from data.disk import Disk
from protocols.errors import DiskError

# Where weeks were last sent to, as a person gave it, and a file of certificates to trust instead of the system's.
SEND_TO, SEND_TRUST = "send-to", "send-trust"
# Another folder in which the exports of the unit's other handhelds lie, such as a gathered one.
OTHERS_FROM = "others-from"


class Place(NamedTuple):
    """A destination's address, "" for none yet, and the file of certificates for it, "" for the system's."""

    to: str = ""
    certificates: str = ""


def place_of(disk: Disk) -> Place:
    """Promise where this home's weeks go; nowhere where that can't be read."""
    return Place(_line(disk, SEND_TO), _line(disk, SEND_TRUST))


def keep_place(disk: Disk, place: Place) -> None:
    """Promise that weeks go there from now on. Raises DiskError."""
    disk.replace(SEND_TO, place.to.encode() + b"\n")
    if place.certificates:
        disk.replace(SEND_TRUST, place.certificates.encode() + b"\n")
    elif disk.exists(SEND_TRUST):
        disk.remove(SEND_TRUST)


def others_from(disk: Disk) -> str:
    """Promise the folder in which other handhelds' exports are looked for; "" for where weeks go."""
    return _line(disk, OTHERS_FROM)


def keep_others_from(disk: Disk, folder: str) -> None:
    """Promise that other handhelds are looked for there from now on. Raises DiskError."""
    disk.replace(OTHERS_FROM, folder.encode() + b"\n")


def _line(disk: Disk, path: str) -> str:
    try:
        return disk.read(path).decode("utf-8", "replace").strip() if disk.exists(path) else ""
    except DiskError:
        return ""
