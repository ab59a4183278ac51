"""What commands share: exit codes, where the record lies, and a word for wrong use."""

import sys
from contextlib import contextmanager

from data.place import home_folder

FINE, FINDING, WRONG_USE = 0, 1, 2


class WrongUse(Exception):
    """A command can't begin as it was given: said on standard error, exit code 2."""


@contextmanager
def new_home(folder):
    """Promise a locked disk on a folder without a record; WrongUse when it holds anything already."""
    from data.home import LOCK
    from data.real_disk import RealDisk

    made_folder(folder)
    try:
        held = any(folder.iterdir())
    except OSError as error:
        raise WrongUse(f"{folder} can't be looked into ({error.strerror}); name another folder") from error
    if held:
        raise WrongUse(f"{folder} is there already and not empty; name a new folder")
    disk = RealDisk(folder)
    disk.lock(LOCK, "main.py")
    try:
        yield disk
    finally:
        disk.close()


def made_folder(folder):
    """Promise that a folder is there. Raises WrongUse where it can't be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WrongUse(f"{folder} can't be made ({error.strerror}); name another folder") from error


def record_home(options, remedy="name its folder with --home"):
    """Promise the folder of the record that a command works on. Raises WrongUse when it holds none."""
    from data.plain_files import is_folder

    home = options.home or home_folder()
    if not is_folder(home / "journal"):
        raise WrongUse(f"{home} holds no record; {remedy}")
    return home


def named_file(path):
    """Promise the bytes of a file that was named. Raises WrongUse when it can't be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise WrongUse(f"{path} can't be read ({error.strerror}); name a file") from error


@contextmanager
def memory(disk):
    """Promise a disk that nothing has to lock."""
    yield disk


def wrong_use(message):
    """Promise exit code 2, having said why."""
    print(f"main.py: {message}", file=sys.stderr)
    return WRONG_USE


def mark_practice(home, table=None):
    """Say first that a record is practice. Raises PracticeRecord where a table of it is to leave the home."""
    from data.plain_files import is_folder
    from data.practice import MARK, PRACTICE, is_practice_home, require_real

    if is_folder(home) and is_practice_home(home):
        if table is not None:
            require_real(PRACTICE, f"{table} is not written")
        print(MARK)
