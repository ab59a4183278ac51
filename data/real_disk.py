"""The disk promise on real files."""

from __future__ import annotations

import errno
import fcntl
import os
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

from data.disk import busy, checked_path
from protocols.errors import DiskError
from protocols.reasons import aside

# Enough for a journal, a head and a few exports; a handheld that runs for months opens a new segment every week.
_OPEN_FILES_MAX = 8

_REMEDIES = {
    errno.ENOSPC: "disk-full",
    errno.EDQUOT: "disk-full",
    errno.EROFS: "disk-read-only",
    errno.EACCES: "disk-rights",
    errno.EPERM: "disk-rights",
    errno.EIO: "disk-worn",
    errno.ENOENT: "disk-incomplete",
}


class RealDisk:
    """The disk promise on files under `root`. The folder is made at the first write."""

    def __init__(self, root: str | Path) -> None:
        self.root = Path(root)
        self._appending: dict[str, int] = {}
        self._scribbling: dict[str, int] = {}
        self._unsure: str | None = None
        self._lock: int | None = None

    def read(self, path: str) -> bytes:
        return self.read_from(path, 0)

    def read_from(self, path: str, offset: int) -> bytes:
        full = self._full(path)
        try:
            with full.open("rb") as file:
                file.seek(offset)
                return file.read()
        except OSError as error:
            _fail("reading", path, error)

    def exists(self, path: str) -> bool:
        return self._full(path).is_file()

    def size(self, path: str) -> int:
        try:
            return self._full(path).stat().st_size
        except OSError as error:
            _fail("measuring", path, error)

    def names(self, folder: str) -> list[str]:
        try:
            with os.scandir(self._full(folder)) as entries:
                return sorted(entry.name for entry in entries if entry.is_file() and not entry.name.startswith("."))
        except FileNotFoundError:
            return []
        except OSError as error:
            _fail("listing", folder, error)

    def append(self, path: str, data: bytes) -> None:
        if self._unsure is not None:
            # For all files: a new segment must not follow one whose end is not known.
            raise DiskError(aside("disk-unsure", path=self._unsure))
        fd = self._appending.get(path)
        if fd is None:
            fd = self._open_to_append(path)
        written = 0
        try:
            while written < len(data):
                written += os.write(fd, data[written:] if written else data)
            os.fsync(fd)
        except OSError as error:
            self._restore(path, fd, written, error)

    def replace(self, path: str, data: bytes) -> None:
        full = self._full(path)
        part = full.with_name(f".{full.name}.part")
        try:
            self._make_folder(full.parent)
            fd = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
            try:
                _write_all(fd, data)
                os.fsync(fd)
            finally:
                os.close(fd)
            part.rename(full)
            self._forget(path)
            _sync_folder(full.parent)
        except OSError as error:
            with suppress(OSError):
                part.unlink()
            _fail("writing", path, error)

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        try:
            fd = self._scribbling.get(path)
            if fd is None:
                full = self._full(path)
                self._make_folder(full.parent)
                fd = os.open(full, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
                _keep(self._scribbling, path, fd)
            while data:
                written = os.pwrite(fd, data, offset)
                data, offset = data[written:], offset + written
        except OSError as error:
            _fail("writing", path, error)

    def truncate(self, path: str, size: int) -> None:
        try:
            fd = os.open(self._full(path), os.O_RDWR | os.O_CLOEXEC)
            try:
                os.ftruncate(fd, size)
                os.fsync(fd)
            finally:
                os.close(fd)
        except OSError as error:
            _fail("cutting", path, error)

    def remove(self, path: str) -> None:
        full = self._full(path)
        try:
            self._forget(path)
            full.unlink()
            _sync_folder(full.parent)
        except OSError as error:
            _fail("removing", path, error)

    def lock(self, name: str, who: str) -> str | None:
        full = self._full(name)
        try:
            self._make_folder(full.parent)
            fd = os.open(full, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as error:
            _fail("opening", name, error)
        try:
            # The system gives the lock up when its process ends, however it ends; only the text stays behind.
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            former = os.pread(fd, 200, 0).decode("utf-8", "replace").strip()
            os.ftruncate(fd, 0)
            os.pwrite(fd, f"process {os.getpid()} ({who})\n".encode("utf-8", "replace"), 0)
        except BlockingIOError:
            owner = os.pread(fd, 200, 0).decode("utf-8", "replace").strip() or "another process"
            os.close(fd)
            raise busy(owner) from None
        except OSError as error:
            os.close(fd)
            _fail("locking", name, error)
        self._lock = fd
        return former or None

    def unlock(self) -> None:
        if self._lock is not None:
            with suppress(OSError):
                os.ftruncate(self._lock, 0)
            os.close(self._lock)
            self._lock = None

    def close(self) -> None:
        for path in [*self._appending, *self._scribbling]:
            self._forget(path)
        self._unsure = None
        self.unlock()

    def _full(self, path: str) -> Path:
        return self.root / checked_path(path)

    def _open_to_append(self, path: str) -> int:
        full = self._full(path)
        try:
            self._make_folder(full.parent)
            new = not full.exists()
            fd = os.open(full, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)
            # An empty one was made by somebody who ended before its name was durable.
            if new or not os.fstat(fd).st_size:
                try:
                    _sync_folder(full.parent)
                except OSError:
                    os.close(fd)
                    if new:
                        with suppress(OSError):
                            full.unlink()
                    raise
        except OSError as error:
            _fail("opening", path, error)
        _keep(self._appending, path, fd)
        return fd

    def _restore(self, path: str, fd: int, written: int, cause: OSError) -> NoReturn:
        """Take back the bytes that this append has written, then raise what stopped it."""
        try:
            os.ftruncate(fd, os.lseek(fd, 0, os.SEEK_END) - written)
            # Without this sync a power cut could bring back what was just reported as not recorded.
            os.fsync(fd)
        except OSError as error:
            self._unsure = path
            raise DiskError(aside("disk-unrestored", path=path, cause=_cause(cause), again=_cause(error))) from cause
        _fail("appending", path, cause)

    def _forget(self, path: str) -> None:
        for files in (self._appending, self._scribbling):
            fd = files.pop(path, None)
            if fd is not None:
                os.close(fd)

    @staticmethod
    def _make_folder(folder: Path) -> None:
        if not folder.is_dir():
            RealDisk._make_folder(folder.parent)
            folder.mkdir(0o700, exist_ok=True)
            _sync_folder(folder.parent)


def _keep(files: dict[str, int], path: str, fd: int) -> None:
    if len(files) >= _OPEN_FILES_MAX:
        os.close(files.pop(next(iter(files))))
    files[path] = fd


def _write_all(fd: int, data: bytes) -> None:
    while data:
        data = data[os.write(fd, data) :]


def _sync_folder(folder: Path) -> None:
    fd = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _fail(doing: str, path: str, error: OSError) -> NoReturn:
    remedy = aside(_REMEDIES.get(error.errno or 0, "disk-again"))
    what = aside(f"disk-{doing}", path=path)
    raise DiskError(aside("disk-failed", doing=what, cause=_cause(error), remedy=remedy)) from error


def _cause(error: OSError) -> str:
    return os.strerror(error.errno or 0)
