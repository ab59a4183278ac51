"""A disk with faults on demand: what the record must survive, without real power cuts."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import TypeVar

from data.memory_disk import MemoryDisk
from protocols.errors import DiskError

Answer = TypeVar("Answer")

# So many scribbles may still be unsynced at a crash; the system has written older ones back by then.
_SCRIBBLES_PENDING = 6


class PowerCut(Exception):
    """The handheld lost power in the middle of an operation; go on with `crash`."""


class FaultyDisk:
    """The disk promise over a MemoryDisk, which it breaks where told to.

    Operations are counted from 1, reading ones included. How one fails:
    - clean: nothing happened;
    - short: half the bytes of an append or scribble are there, and could not be taken back;
    - whole: all bytes of an append are there, and could not be taken back;
    - power: the power goes during the operation, `PowerCut` is raised.
    After short and whole, appends are refused until `reopen`, as the promise says.
    """

    def __init__(self, inner: MemoryDisk | None = None) -> None:
        self.inner = inner or MemoryDisk()
        self.operations = 0
        self.fired = False
        self._synced = {path: bytearray(data) for path, data in self.inner.files.items()}
        self._scribbles: list[tuple[str, bytes, int]] = []
        self._unsynced: tuple[str, bytes] | None = None
        self._fail_at, self._for_good, self._how = 0, False, "clean"
        self._unsure = False
        self._full = False

    def fail(self, at: int, for_good: bool = False, how: str = "clean") -> None:
        """Promise that operation `at` fails, and all after it where `for_good`."""
        self._fail_at, self._for_good, self._how, self.fired = at, for_good, how, False

    def fill(self) -> None:
        """Promise that nothing more can be written until `mend`."""
        self._full = True

    def mend(self) -> None:
        """Promise that operations succeed again; what was left unsure stays so until `reopen`."""
        self._fail_at, self._full = 0, False

    @property
    def unsure(self) -> bool:
        """Whether bytes of a failed append may be there, so that appends are refused until `reopen`."""
        return self._unsure

    def reopen(self) -> None:
        """Promise the disk as another process would find it."""
        self._unsure = False
        self.inner.unlock()

    def crash(self, seed: int) -> MemoryDisk:
        """Promise what is there after a power cut now: all that was synced, and of the rest what the seed leaves."""
        chance = random.Random(seed)
        disk = MemoryDisk({path: bytes(data) for path, data in self._synced.items()}, self.inner.owner)
        for path, data, offset in self._scribbles:
            kept = chance.choice((0, len(data), chance.randrange(len(data) + 1)))
            if kept:
                disk.scribble(path, data[:kept], offset)
        if self._unsynced is not None:
            path, data = self._unsynced
            disk.append(path, data[: chance.randrange(len(data) + 1)])
        return disk

    def read(self, path: str) -> bytes:
        return self._do(lambda: self.inner.read(path))

    def read_from(self, path: str, offset: int) -> bytes:
        return self._do(lambda: self.inner.read_from(path, offset))

    def exists(self, path: str) -> bool:
        return self._do(lambda: self.inner.exists(path))

    def size(self, path: str) -> int:
        return self._do(lambda: self.inner.size(path))

    def names(self, folder: str) -> list[str]:
        return self._do(lambda: self.inner.names(folder))

    def append(self, path: str, data: bytes) -> None:
        if self._unsure:
            raise DiskError("nothing more is recorded until the disk is opened again")
        try:
            self._write(lambda: self.inner.append(path, data))
        except PowerCut:
            self._unsynced = (path, data)
            raise
        except DiskError:
            if self.fired and self._how in ("short", "whole") and not self._full:
                self._unsure = True
                self.inner.append(path, data if self._how == "whole" else data[: len(data) // 2])
                self._unsynced = (path, data)
            raise
        synced = self._synced.setdefault(path, bytearray())
        synced += data
        if len(synced) == self.inner.size(path):
            self._unsynced = None if self._unsynced is not None and self._unsynced[0] == path else self._unsynced
        else:
            self._sync(path)  # an earlier write had left bytes that this sync makes durable too

    def replace(self, path: str, data: bytes) -> None:
        self._write(lambda: self.inner.replace(path, data))
        self._sync(path)

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        try:
            self._write(lambda: self.inner.scribble(path, data, offset))
        except DiskError:
            if self.fired and self._how == "short":
                self.inner.scribble(path, data[: len(data) // 2], offset)
            raise
        self._scribbles.append((path, data, offset))
        if len(self._scribbles) > _SCRIBBLES_PENDING:
            path, data, offset = self._scribbles.pop(0)
            older = MemoryDisk({path: bytes(self._synced.get(path, b""))})
            older.scribble(path, data, offset)
            self._synced[path] = older.files[path]

    def truncate(self, path: str, size: int) -> None:
        self._do(lambda: self.inner.truncate(path, size))
        self._sync(path)

    def remove(self, path: str) -> None:
        self._do(lambda: self.inner.remove(path))
        self._synced.pop(path, None)

    def lock(self, name: str, who: str) -> str | None:
        return self._do(lambda: self.inner.lock(name, who))

    def unlock(self) -> None:
        self.inner.unlock()

    def close(self) -> None:
        self.inner.close()

    def _sync(self, path: str) -> None:
        self._synced[path] = bytearray(self.inner.read(path))
        if self._unsynced is not None and self._unsynced[0] == path:
            self._unsynced = None

    def _write(self, operation: Callable[[], None]) -> None:
        if self._full:
            raise DiskError("writing failed (no space left); free space on the handheld, then do it again")
        self._do(operation)

    def _do(self, operation: Callable[[], Answer]) -> Answer:
        self.operations += 1
        if self._fail_at and (self.operations == self._fail_at or (self._for_good and self.operations > self._fail_at)):
            self.fired = True
            if self._how == "power":
                raise PowerCut
            raise DiskError(f"operation {self.operations} failed as told")
        return operation()
