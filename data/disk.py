"""The disk as the record needs it: few operations, each either done and durable, or not done and said so.

What is assumed of the storage below: a successful fsync means the bytes are there after a power cut; a write that was
not synced may be lost, cut short, or reordered; a rename within a folder is all or nothing; nothing protects against
bits that change later (the record's hashes find those). Paths are relative to the home folder, with '/'.
"""

from __future__ import annotations

from typing import Protocol

from protocols.errors import Defect, HomeBusy


class Disk(Protocol):
    """The promise; `RealDisk` keeps it on files, `MemoryDisk` in memory.

    Every operation raises DiskError when it was not done, and Defect for a path that leaves the home folder.
    """

    def read(self, path: str) -> bytes:
        """Promise all bytes of a file."""
        ...

    def read_from(self, path: str, offset: int) -> bytes:
        """Promise the bytes of a file from `offset` on, without reading those before it."""
        ...

    def exists(self, path: str) -> bool:
        """Promise whether there is a file of that path."""
        ...

    def size(self, path: str) -> int:
        """Promise the length of a file in bytes."""
        ...

    def names(self, folder: str) -> list[str]:
        """Promise the sorted names of the files in a folder, without those that start with a dot; [] for no folder."""
        ...

    def append(self, path: str, data: bytes) -> None:
        """Promise that the bytes are at the end of the file and durable, making file and folder where needed.

        Appending nothing makes durable what is already there.

        On DiskError the file is as it was. Where even that could not be ensured, the error says so, and every later
        append to any file is refused until the disk is opened again.
        """
        ...

    def replace(self, path: str, data: bytes) -> None:
        """Promise that the file holds exactly these bytes, durably; at any moment it holds the old or the new."""
        ...

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        """Promise that readers see these bytes at `offset`; after a power cut they may be lost or torn."""
        ...

    def truncate(self, path: str, size: int) -> None:
        """Promise that the file is cut to `size` bytes, durably."""
        ...

    def remove(self, path: str) -> None:
        """Promise that the file is gone, durably."""
        ...

    def lock(self, name: str, who: str) -> str | None:
        """Promise that this process alone owns the home, until `unlock` or its end.

        Gives the former owner where that ended without unlocking, else None. Raises HomeBusy naming a living owner,
        this process included.
        """
        ...

    def unlock(self) -> None:
        """Promise that another process may own the home now; does nothing when not locked."""
        ...

    def close(self) -> None:
        """Promise that no file is held open, and the lock given up."""
        ...


def checked_path(path: str) -> str:
    """Promise that a path stays in the home folder; raises Defect for any other."""
    if any(part in ("", ".", "..") for part in path.split("/")) or "\\" in path or "\0" in path:
        raise Defect(f"{path!r} is not a path within the home folder")
    return path


def busy(owner: str) -> HomeBusy:
    """Promise the error for a home that `owner` holds."""
    return HomeBusy(f"this home folder is in use by {owner}; close Basinbell there, or give another --home")
