"""Reading a file that others may have put there: only a plain file, never through a link, never more than asked for.

A stick or a share may hold a link to anywhere, a pipe that never ends, or a device. Opening follows no link in the last
part of the path and waits for nothing; what is not a plain file is named.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_FLAGS = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)


def read_plain(path: Path, most: int) -> bytes:
    """Promise the bytes of a plain file, cut to `most` and one byte more.

    Raises FileNotFoundError, or OSError with EINVAL for a link, a pipe, a device or a folder.
    """
    try:
        handle = os.open(path, _FLAGS)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.ENXIO, errno.EMLINK):
            raise OSError(errno.EINVAL, "it is a link or a pipe, no plain file", str(path)) from error
        raise
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is no plain file", str(path))
        return file.read(most + 1)


def is_folder(path: Path) -> bool:
    """Promise whether a folder is there; False too where the system can't tell, as of a share that went away.

    Of the errors that a look may end with, `Path.is_dir` takes only some for "no", and raises the others.
    """
    try:
        return stat.S_ISDIR(path.stat().st_mode)
    except (OSError, ValueError):
        return False


def plain_below(folder: Path, most: int) -> list[Path]:
    """Promise at most so many plain files at or below a folder, in order of their paths; links are passed by.

    Raises OSError where a folder can't be read.
    """

    def failed(error: OSError) -> None:
        raise error

    found: list[Path] = []
    for here, inner, names in os.walk(folder, onerror=failed):
        inner[:] = sorted(name for name in inner if not Path(here, name).is_symlink())
        found += [Path(here, name) for name in names if stat.S_ISREG(Path(here, name).lstat().st_mode)]
        if len(found) > most:
            break
    return sorted(found)[:most]
