"""A disk to try things on: reads come from a real one, what is written stays in memory and is forgotten."""

from __future__ import annotations

from data.disk import Disk
from protocols.errors import DiskError


class DryDisk:
    """The disk promise over another disk, which is only read; durable means nothing here. Takes no lock."""

    def __init__(self, below: Disk) -> None:
        self._below = below
        self._written: dict[str, bytearray | None] = {}

    def read(self, path: str) -> bytes:
        return self.read_from(path, 0)

    def read_from(self, path: str, offset: int) -> bytes:
        if path not in self._written:
            return self._below.read_from(path, offset)
        return bytes(self._own(path)[offset:])

    def exists(self, path: str) -> bool:
        return self._written[path] is not None if path in self._written else self._below.exists(path)

    def size(self, path: str) -> int:
        return len(self._own(path)) if path in self._written else self._below.size(path)

    def names(self, folder: str) -> list[str]:
        names = set(self._below.names(folder))
        for path, content in self._written.items():
            inside, _, name = path.rpartition("/")
            if inside == folder and not name.startswith("."):
                names = names - {name} if content is None else names | {name}
        return sorted(names)

    def append(self, path: str, data: bytes) -> None:
        self._own(path, make=True).extend(data)

    def replace(self, path: str, data: bytes) -> None:
        self._written[path] = bytearray(data)

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        content = self._own(path, make=True)
        content.extend(bytes(max(0, offset - len(content))))
        content[offset : offset + len(data)] = data

    def truncate(self, path: str, size: int) -> None:
        del self._own(path)[size:]

    def remove(self, path: str) -> None:
        self._own(path)
        self._written[path] = None

    def lock(self, name: str, who: str) -> str | None:
        return None

    def unlock(self) -> None:
        """Nothing was locked."""

    def close(self) -> None:
        self._written.clear()

    def _own(self, path: str, make: bool = False) -> bytearray:
        if path not in self._written:
            if not self._below.exists(path) and not make:
                raise DiskError(f"reading {path} failed (there is no such file)")
            self._written[path] = bytearray(self._below.read(path) if self._below.exists(path) else b"")
        content = self._written[path]
        if content is None:
            if not make:
                raise DiskError(f"reading {path} failed (there is no such file)")
            content = self._written[path] = bytearray()
        return content
