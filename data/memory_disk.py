"""The disk promise in memory: rehearsals without a home folder, and tests."""

from __future__ import annotations

import os

from data.disk import busy, checked_path
from protocols.errors import DiskError


class MemoryDisk:
    """Files as byte arrays by path. Nothing is ever unsynced here; the faulty disk of the tests adds that."""

    def __init__(self, files: dict[str, bytes] | None = None, former_owner: str | None = None) -> None:
        """Promise a disk holding these files; `former_owner` is what an unclean end left in the lock."""
        self.files = {checked_path(path): bytearray(data) for path, data in (files or {}).items()}
        self.owner: str | None = None
        self._former_owner = former_owner

    def read(self, path: str) -> bytes:
        return bytes(self._file(path))

    def read_from(self, path: str, offset: int) -> bytes:
        return bytes(self._file(path)[offset:])

    def exists(self, path: str) -> bool:
        return checked_path(path) in self.files

    def size(self, path: str) -> int:
        return len(self._file(path))

    def names(self, folder: str) -> list[str]:
        start = f"{checked_path(folder)}/"
        names = [path[len(start) :] for path in self.files if path.startswith(start)]
        return sorted(name for name in names if "/" not in name and not name.startswith("."))

    def append(self, path: str, data: bytes) -> None:
        self.files.setdefault(checked_path(path), bytearray()).extend(data)

    def replace(self, path: str, data: bytes) -> None:
        self.files[checked_path(path)] = bytearray(data)

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        file = self.files.setdefault(checked_path(path), bytearray())
        if len(file) < offset:
            file.extend(bytes(offset - len(file)))
        file[offset : offset + len(data)] = data

    def truncate(self, path: str, size: int) -> None:
        file = self._file(path)
        del file[size:]
        file.extend(bytes(size - len(file)))

    def remove(self, path: str) -> None:
        self._file(path)
        del self.files[path]

    def lock(self, name: str, who: str) -> str | None:
        checked_path(name)
        if self.owner is not None:
            raise busy(self.owner)
        self.owner = f"process {os.getpid()} ({who})"
        former, self._former_owner = self._former_owner, None
        return former

    def unlock(self) -> None:
        self.owner = None

    def close(self) -> None:
        self.unlock()

    def _file(self, path: str) -> bytearray:
        try:
            return self.files[checked_path(path)]
        except KeyError:
            raise DiskError(f"reading {path} failed (no such file); check that the home folder is complete") from None
