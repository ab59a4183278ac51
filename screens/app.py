"""The app: opens the record, readies the senses, then the window; everything that needs Kivy is imported here or below.

Order matters: whether there is a display is decided before Kivy is imported, sounds are loaded before the window is
made (Kivy 2.3.1 on Linux may hang otherwise), and the record is opened before both, so that a record in use or damaged
is said in one plain line.
"""

from __future__ import annotations

import gc
import logging
import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from data.disk import Disk
from data.door import Door
from data.opening import owned_door
from data.place import on_android, remade_folder
from data.real_disk import RealDisk
from data.system_clock import SystemClock
from protocols.clock import Stamp
from protocols.errors import ClockError, DeviceError, DiskError, ProtocolFault
from screens.desk import Desk
from screens.last_hand import last_hand
from screens.lead_pages import lead_pages
from screens.refusals import Refusals
from screens.senses.bridge import boot_name
from screens.setup.preferences import Preferences

if TYPE_CHECKING:
    from screens.page import Page
    from screens.send.sending import Sending
    from screens.shell import Shell

# Video drivers of SDL that need no display server.
_OWN_SURFACE = frozenset({"offscreen", "kmsdrm", "directfb", "rpi"})
_WIDE, _HIGH = 412, 892


def has_display(environment: Mapping[str, str], platform: str) -> bool:
    """Promise whether a window can be made, as far as the environment says; nothing of Kivy is imported for it."""
    if platform in ("darwin", "win32") or "ANDROID_ARGUMENT" in environment or "ANDROID_ROOT" in environment:
        return True
    if environment.get("SDL_VIDEODRIVER", "") in _OWN_SURFACE:
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


def open_app(home: Path) -> bool:
    """Run the app on a home folder until it is closed; False where the record could not be opened for use.

    Then one line on standard error and a page of its own say why; what can be read of a damaged record is shown.
    """
    disk = RealDisk(home)
    with ExitStack() as stack:
        try:
            _make(home)
            clock = SystemClock(boot_name=boot_name) if on_android() else SystemClock()
            door, _ = stack.enter_context(owned_door(disk, clock, "the app"))
        except (DeviceError, ProtocolFault) as error:
            print(error, file=sys.stderr, flush=True)
            _ready_kivy()
            from screens.trouble.app import TroubleApp

            TroubleApp(disk, error, str(home)).run()
            return False
        by = _only_person(door) or last_hand(door.unit, door.found.tail, door.clock.read())
        _run(door, disk, by)
    return True


def _make(home: Path) -> None:
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DiskError(f"{home} can't be made ({error.strerror}); name another folder with --home") from error


def open_demo() -> None:
    """Run the app on an invented bench under way, in a folder that is deleted at the end."""
    from data.opening import shipped_shelf
    from data.rehearse.scene import TECHNICIAN
    from screens.demo import BENCH, SPARE, SetBackClock, length_s, set_bench

    with tempfile.TemporaryDirectory(prefix="basinbell-demo-") as folder:
        clock = SystemClock()
        plan, back_s = length_s(shipped_shelf(), BENCH, clock.read().wall_ms)
        demo_clock = SetBackClock(clock, back_s)
        disk = RealDisk(Path(folder))
        with owned_door(disk, demo_clock, "the demonstration", "demo") as (door, _):
            set_bench(door, demo_clock.advance, BENCH, SPARE, plan, back_s, demo_clock)
            demo_clock.arrive()
            _run(door, disk, TECHNICIAN)


def _only_person(door: Door) -> str:
    people = list(door.unit.people.values())
    alone = len(people) == 1 and people[0].pin is None and not door.unit.settings.pins_required
    return people[0].id if alone else ""


def _ready_kivy() -> Path:
    """Set all that Kivy reads when it is imported; gives the folder of what may be lost."""
    cache = remade_folder()
    defaults = {
        "KIVY_NO_ARGS": "1",  # else Kivy reads the command line as its own
        "KIVY_HOME": str(cache / "kivy"),
        "KIVY_NO_FILELOG": "1",
        "KIVY_NO_ENV_CONFIG": "1",
        "KIVY_LOG_MODE": "PYTHON",
    }
    for name, value in defaults.items():
        os.environ.setdefault(name, value)
    (cache / "kivy").mkdir(parents=True, exist_ok=True)
    # Kivy tells much at each start; only what went wrong is for the person who started the app.
    told = logging.StreamHandler()
    told.setLevel(logging.ERROR)
    logging.getLogger().addHandler(told)
    from kivy.config import Config

    Config.set("graphics", "maxfps", "30")
    Config.set("graphics", "multisamples", "0")
    Config.set("graphics", "width", str(_WIDE))
    Config.set("graphics", "height", str(_HIGH))
    Config.set("kivy", "exit_on_escape", "0")
    Config.set("input", "mouse", "mouse,disable_multitouch")
    return cache


def _run(door: Door, disk: Disk, by: str) -> None:
    gc.disable()  # until the first page is shown: what a start makes is there to stay
    cache = _ready_kivy()
    from kivy.utils import platform

    from screens.senses.choose import senses_for

    senses = senses_for(platform, cache / "sounds")
    senses.chime.preload(max(1, len(door.unit.scopes)))
    try:
        from screens.frame import BasinbellApp

        desk = Desk(door, by)
        refusals = Refusals(disk)
        refusals.hear(desk)
        # Both outlive the shell, which is built anew when the theme changes.
        sending = sending_of(desk, disk)

        try:
            BasinbellApp(
                lambda apply: counted(build(desk, disk, apply, sending), refusals),
                senses,
                disk,
                lambda shell: shown(shell, disk),
            ).run()
        finally:
            sending.stop()
            refusals.write()
    finally:
        gc.enable()
        senses.close()


# Each page by its key: its module and class, imported when it is first shown, so that the Bench is there soon.
_PAGES = {
    "bench": ("screens.bench.bench", "Bench"),
    "steps": ("screens.steps.steps", "Steps"),
    "receive": ("screens.receive.receive", "Receive"),
}
_TABS = ("bench", "watch", "ledger", "send", "setup")


def build(
    desk: Desk, disk: Disk, apply: Callable[[Preferences], None] = lambda preferences: None,
    sending: Sending | None = None,
) -> Shell:  # fmt: skip
    """Promise the shell with every page of the app. Needs a window. `apply` follows changed preferences.

    Weeks leave by `sending`, once a second asked whether it is time; a new one without it.
    """
    from screens.shell import Shell

    leaving = sending or sending_of(desk, disk)
    own = {key: _maker(*where) for key, where in _PAGES.items()}
    shell = Shell(desk, {**own, **lead_pages(disk, apply, leaving)}, _TABS)
    shell.on_beat.append(_timed(leaving.beat))
    return shell


def sending_of(desk: Desk, disk: Disk) -> Sending:
    """Promise what sends this record's weeks."""
    from screens.posting import on_screen
    from screens.send.sending import Sending

    return Sending(disk, desk.door, on_screen)


def counted(shell: Shell, refusals: Refusals) -> Shell:
    """Promise the same shell, whose refusals are written down now and then."""
    shell.on_beat.append(_timed(refusals.beat))
    return shell


def _timed(beat: Callable[[Stamp], None]) -> Callable[[Shell], None]:
    def ask(shell: Shell) -> None:
        # A clock in doubt is said by the shell's own look.
        with suppress(ClockError):
            beat(shell.desk.now())

    return ask


def shown(shell: Shell, disk: Disk) -> None:
    """Do what no start should wait for, once the first page stands on the screen."""
    # What is there by now stays: no later collection has to walk through it (until a pause, see the frame).
    gc.freeze()
    gc.enable()
    planned(shell, disk)


def planned(shell: Shell, disk: Disk) -> None:
    """Give the shell a planner, which reads the unit's own hand times from the ledger on `disk`."""
    from screens.planning import Planning
    from screens.posting import on_screen, turns

    shell.planning = Planning(shell.desk, disk, on_screen, turns.give_way)


def _maker(module: str, name: str) -> Callable[[Shell], Page]:
    def make(shell: Shell) -> Page:
        page: Page = getattr(import_module(module), name)(shell)
        return page

    return make


def display_refusal() -> str:
    """Promise why the app can't open a window here, or "" when it can."""
    if has_display(os.environ, sys.platform):
        return ""
    return (
        "there is no display here, so the app can't open; try `python3 main.py rehearse`, which needs none, or set "
        "DISPLAY or WAYLAND_DISPLAY"
    )
