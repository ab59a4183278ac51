"""Reading one signed export where it lies: its manifest, and its files as that lists them."""

from __future__ import annotations

from data.destinations import Destination
from data.exporters.manifest import (
    FILE_BYTES_MAX,
    MANIFEST,
    MANIFEST_BYTES_MAX,
    SIGNATURE,
    Manifest,
    read_manifest,
    require_file,
)
from data.signing import SIGNATURE_LENGTH


def manifest_at(place: Destination, folder: str) -> Manifest | None:
    """Promise the manifest in a folder, signed by its own key; None where there is none.

    Raises ExportRefused when it is not one, DeliveryError where the place can't be read.
    """
    content = place.read(f"{folder}/{MANIFEST}", MANIFEST_BYTES_MAX)
    if content is None:
        return None
    return read_manifest(content, place.read(f"{folder}/{SIGNATURE}", SIGNATURE_LENGTH) or b"")


def file_at(place: Destination, folder: str, manifest: Manifest, name: str) -> bytes:
    """Promise the bytes of a listed file, as they were signed. Raises as `manifest_at`."""
    content = place.read(f"{folder}/{name}", FILE_BYTES_MAX)
    require_file(manifest, name, content)
    return content or b""
