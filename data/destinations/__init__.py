"""Where exports go: the few operations that sending needs of a place, each done or refused by name.

Paths are relative to the destination's own folder, with '/'. Nothing here knows what an export is.
"""

from __future__ import annotations

from typing import Protocol

from data.destinations.credentials import Credentials
from data.destinations.document_tree import SCHEME, DocumentTreeDestination
from data.destinations.folder import FolderDestination
from protocols.errors import CommandFault

__all__ = ["Credentials", "Destination", "FolderDestination", "destination"]


class Destination(Protocol):
    """A place that keeps files. Every operation raises a DeliveryError when it was not done."""

    @property
    def label(self) -> str:
        """Promise the name of the place for people and receipts, without credentials."""
        ...

    def read(self, path: str, bytes_max: int) -> bytes | None:
        """Promise the content of a file, cut to `bytes_max` and one byte more; None where there is none."""
        ...

    def names(self, path: str) -> list[str]:
        """Promise the names of what lies directly in a folder, "" for the place itself, in order; [] where none is."""
        ...

    def write(self, path: str, content: bytes) -> None:
        """Promise that the place said it holds the file; a cut-off write may leave a part of it."""
        ...

    def make_folder(self, path: str) -> None:
        """Promise that the folder is there, its parents included."""
        ...

    def rename(self, path: str, new: str) -> None:
        """Promise that a folder has its new name, whole; nothing may be there under it."""
        ...

    def remove(self, path: str) -> None:
        """Promise that a folder, with all in it, is gone, or was not there."""
        ...

    def close(self) -> None:
        """Promise that no connection is held."""
        ...


def destination(to: str, credentials: Credentials, certificates: str = "") -> Destination:
    """Promise the destination that a text names: a folder, one picked on Android, or WebDAV at an https address.

    `certificates` is a file of certificates to trust instead of the system's. Raises CommandFault for http and others.
    """
    if to.startswith(SCHEME):
        return DocumentTreeDestination(to)
    if to.startswith("https://"):
        # Here, because HTTP is much to load at the start for who sends to a folder.
        from data.destinations.webdav import WebDavDestination

        return WebDavDestination(to, credentials, certificates)
    if "://" in to:
        raise CommandFault(f"{to.split('://')[0]}:// is no way to send; name a folder, or WebDAV as https://...")
    return FolderDestination(to)
