"""What commands share: exit codes, where the record lies, and a word for wrong use."""

import os
import sys
from contextlib import contextmanager
from pathlib import Path

FINE, FINDING, WRONG_USE = 0, 1, 2


def default_home():
    """Promise the home folder where none is named: the user's data folder, as the XDG convention has it."""
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "basinbell"


@contextmanager
def new_home(folder):
    """Promise a locked disk on a folder without a record; SystemExit(2) when it holds one already."""
    from data.home import LOCK
    from data.real_disk import RealDisk

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SystemExit(wrong_use(f"{folder} is there already and not empty; name a new folder"))
    folder.mkdir(parents=True, exist_ok=True)
    disk = RealDisk(folder)
    disk.lock(LOCK, "main.py")
    try:
        yield disk
    finally:
        disk.close()


@contextmanager
def memory(disk):
    """Promise a disk that nothing has to lock."""
    yield disk


def wrong_use(message):
    """Promise exit code 2, having said why."""
    print(f"main.py: {message}", file=sys.stderr)
    return WRONG_USE
