"""The record lies where no other app reads and no update of the app writes."""

from pathlib import Path

import pytest

from data.home import LOCK
from data.opening import open_door, shipped_shelf
from data.place import home_folder, on_android, remade_folder
from data.real_disk import RealDisk
from data.system_clock import SystemClock
from protocols.clock import FakeClock, parse_wall
from protocols.event import Command

# As python-for-android sets it: Context.getFilesDir(). The app's code is unpacked into `app` in there, and that folder
# is emptied when the app is updated (its PythonUtil.unpackAsset). Read in its source, version 2026.05.09.
PRIVATE = "/data/user/0/org.basinbell.handheld/files"
CODE = Path(PRIVATE) / "app"


def test_on_android_the_record_lies_in_the_private_folder_and_outside_the_code():
    environment = {"ANDROID_PRIVATE": PRIVATE, "XDG_DATA_HOME": "/elsewhere", "HOME": "/elsewhere"}
    assert on_android(environment)
    for folder in (home_folder(environment), remade_folder(environment)):
        assert folder.is_relative_to(PRIVATE)
        assert not folder.is_relative_to(CODE)
    # The app's Java looks for the mark of scopes under way in this folder, by this name.
    assert home_folder(environment) == Path(PRIVATE) / "basinbell"


@pytest.mark.parametrize(
    ("environment", "home"),
    [({"XDG_DATA_HOME": "/d"}, "/d/basinbell"), ({}, str(Path.home() / ".local/share/basinbell"))],
)
def test_elsewhere_the_record_lies_where_the_xdg_convention_has_it(environment, home):
    # XDG Base Directory Specification 0.8: $XDG_DATA_HOME, and $HOME/.local/share where that is not set.
    assert str(home_folder(environment)) == home
    assert not on_android(environment)


def test_an_update_of_the_app_leaves_the_record_and_its_running_times(tmp_path):
    environment = {"ANDROID_PRIVATE": str(tmp_path)}
    code = tmp_path / "app"
    code.mkdir()
    (code / "main.pyc").write_bytes(b"old")
    clock = FakeClock(parse_wall("2026-11-25T10:42:00+01:00"))
    for version in (b"old", b"new"):
        disk = RealDisk(home_folder(environment))
        disk.lock(LOCK, "the app")
        door = open_door(disk, clock, shipped_shelf(), "handheld")
        if version == b"old":
            door.give(Command("add-person", "joss", {"name": "Joss", "role": "administrator"}, "joss"))
        before = door.now()
        assert list(door.unit.people) == ["joss"]
        disk.close()
        for file in code.iterdir():  # what the update does
            file.unlink()
        (code / "main.pyc").write_bytes(b"new")
        clock.advance(30)
    assert door.now().proven_ms - before.proven_ms == 30_000


def test_where_the_kernel_tells_no_boot_id_the_count_of_boots_names_the_boot(tmp_path):
    missing = tmp_path / "missing"
    first, second = SystemClock(missing, lambda: "boot-17"), SystemClock(missing, lambda: "boot-17")
    assert first.read().boot == second.read().boot == "boot-17"
    # The same elapsed clock for both: a soak goes on being proven when the app was ended and opened again.
    assert 0 <= second.read().elapsed_ms - first.read().elapsed_ms < 60_000
    assert first.read().elapsed_ms > 0
    assert SystemClock(missing, lambda: "").read().boot.startswith("start-")
