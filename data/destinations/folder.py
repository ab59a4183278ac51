"""A folder as destination: a USB stick, a docked share."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

from data.destinations.errors import DeliveryError, DestinationAway
from data.disk import checked_path
from data.plain_files import is_folder, read_plain

_REMEDIES = {
    errno.ENOSPC: "free space there, then send again",
    errno.EDQUOT: "free space there, then send again",
    errno.EROFS: "it can only be read; take another, or unlock it",
    errno.EACCES: "make it writable for this app",
    errno.EPERM: "make it writable for this app",
}
# What the system says of a stick that was pulled out, or a share that went away.
_GONE = (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO, errno.ESTALE, errno.ENOTCONN, errno.EHOSTDOWN)


class FolderDestination:
    """An existing folder. It is never made: the mount point of an absent stick must not fill up instead of it."""

    def __init__(self, root: str | Path) -> None:
        self._root = Path(root).absolute()

    @property
    def label(self) -> str:
        return str(self._root)

    def read(self, path: str, bytes_max: int) -> bytes | None:
        full = self._full(path)
        try:
            return read_plain(full, bytes_max)
        except FileNotFoundError:
            return None
        except OSError as error:
            raise self._failed(f"reading {path}", error) from error

    def names(self, path: str) -> list[str]:
        full = self._full(path) if path else self._full(".at").parent
        try:
            return sorted(entry.name for entry in full.iterdir())
        except (FileNotFoundError, NotADirectoryError):
            return []
        except OSError as error:
            raise self._failed(f"looking into {path or 'it'}", error) from error

    def write(self, path: str, content: bytes) -> None:
        full = self._full(path)
        try:
            with full.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise self._failed(f"writing {path}", error) from error

    def make_folder(self, path: str) -> None:
        full = self._full(path)
        try:
            if not full.is_dir():
                full.mkdir(parents=True, exist_ok=True)
                self._sync(full.parent)
        except OSError as error:
            raise self._failed(f"making {path}", error) from error

    def rename(self, path: str, new: str) -> None:
        old_full, new_full = self._full(path), self._full(new)
        try:
            for folder in {entry.parent for entry in old_full.rglob("*")}:
                self._sync(folder)
            if new_full.exists():
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
            old_full.rename(new_full)
            self._sync(new_full.parent)
        except OSError as error:
            raise self._failed(f"renaming {path}", error) from error

    def remove(self, path: str) -> None:
        full = self._full(path)
        try:
            if full.exists():
                shutil.rmtree(full)
                self._sync(full.parent)
        except OSError as error:
            raise self._failed(f"removing {path}", error) from error

    def close(self) -> None:
        """Nothing is held open."""

    def _full(self, path: str) -> Path:
        if not is_folder(self._root):
            raise DestinationAway(f"{self._root} is not there; plug it in or make the folder, the week waits for it")
        return self._root / checked_path(path)

    @staticmethod
    def _sync(folder: Path) -> None:
        handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(handle)
        except OSError as error:
            # Some file systems of sticks and shares can't sync a folder; reading back is what decides.
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise
        finally:
            os.close(handle)

    def _failed(self, doing: str, error: OSError) -> DeliveryError:
        said = os.strerror(error.errno or 0) if error.errno else str(error)
        if error.errno in _GONE or not is_folder(self._root):
            return DestinationAway(
                f"{doing} in {self._root} failed ({said}); it may be gone: plug it in and send again"
            )
        remedy = _REMEDIES.get(error.errno or 0, "send again, or to another place")
        return DeliveryError(f"{doing} in {self._root} failed ({said}); {remedy}")
