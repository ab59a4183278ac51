"""Pictures of the real pages at telling moments of a rehearsed shift, rendered without a screen.

The app's own shell stands on the rehearsal's door; nothing is drawn for the picture that a technician would not see.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from data.disk import Disk
from data.door import Door
from data.ledger import Ledger, catch_up
from data.rehearse.scene import TECHNICIAN
from protocols.cycle import State
from protocols.errors import DeviceError
from protocols.lane import Lane
from protocols.prompts import Level

WIDE_DP, HIGH_DP = 412, 892
# Sharp enough for a page that is read on paper or on a large screen.
DENSITY = 2


class NoPictures(DeviceError):
    """This machine can't render the pages, so no picture was made; the rehearsal's record is not touched by it."""


@dataclass(frozen=True)
class Moment:
    """One picture wanted: its file name, its page, and when: the tag to show, "" for none, None for not yet."""

    name: str
    page: str
    when: Callable[[list[Lane]], str | None]


def _first(lanes: list[Lane], fits: Callable[[Lane], bool]) -> str | None:
    return next((lane.scope for lane in lanes if fits(lane)), None)


def _counting(lane: Lane) -> bool:
    return lane.state is State.COUNT and lane.step.stage == "clean" and lane.cycle.done == 1


MOMENTS = (
    Moment("bench-busy", "bench", lambda lanes: "" if sum(x.state is State.IN for x in lanes) >= 2 else None),
    Moment("bench-over", "bench", lambda lanes: "" if _first(lanes, lambda x: x.level == Level.VERY_LATE) else None),
    Moment("steps-flush", "steps", lambda lanes: _first(lanes, _counting)),
    Moment("steps-brush", "steps", lambda lanes: _first(lanes, lambda x: x.state is State.PASS and x.cycle.passes > 0)),
    Moment(
        "steps-soak", "steps", lambda lanes: _first(lanes, lambda x: x.state is State.IN and 0.4 < x.fraction < 0.7)
    ),
    Moment(
        "steps-ready", "steps", lambda lanes: _first(lanes, lambda x: x.state is State.IN and x.level == Level.READY)
    ),
    Moment("watch", "watch", lambda lanes: "" if _first(lanes, lambda x: x.over_s > 0) and len(lanes) > 2 else None),
)


class Pictures:
    """Takes each wanted picture once, the first time its moment comes. `look` is called as the shift's time passes."""

    def __init__(self, folder: Path) -> None:
        """Promise an offscreen window and the folder. Raises NoPictures where nothing can be rendered."""
        self.folder = folder
        self.taken: list[Path] = []
        self._wanted = list(MOMENTS)
        self._shell: Any = None
        self._window = _offscreen_window()
        folder.mkdir(parents=True, exist_ok=True)

    def look(self, door: Door, disk: Disk) -> None:
        """Take the pictures whose moment it is now."""
        if not self._wanted:
            return
        from protocols.lane import lanes

        found = lanes(door.unit, door.shelf, door.now())
        for moment in list(self._wanted):
            tag = moment.when(found)
            if tag is not None:
                self._wanted.remove(moment)
                self._take(door, disk, moment.name, moment.page, {"tag": tag} if tag else {})

    def ledger(self, door: Door, disk: Disk) -> None:
        """Take the Ledger at the end of the shift."""
        catch_up(Ledger(disk), door.journal)
        self._take(door, disk, "ledger", "ledger", {})

    def _take(self, door: Door, disk: Disk, name: str, page: str, what: dict[str, str]) -> None:
        from screens.app import build
        from screens.desk import Desk

        shell = build(Desk(door, TECHNICIAN), disk)
        self._window.add_widget(shell)
        try:
            shell.land()
            shell.go(page, **what)
            self._settle(shell)
            self.taken.append(_save(self._window, self.folder / f"{name}.png"))
        finally:
            self._window.remove_widget(shell)

    def _settle(self, shell: Any) -> None:
        """Let the layout come to rest, and what the page and the planner work out off the screen's thread arrive."""
        from kivy.base import EventLoop

        for _ in range(2):
            for _ in range(12):
                EventLoop.idle()
            shell.tick()
            for reader in (shell.page, shell.planning):
                if hasattr(reader, "background"):
                    reader.background.finish()
        for _ in range(12):
            EventLoop.idle()


def _offscreen_window() -> Any:
    cache = tempfile.mkdtemp(prefix="basinbell-pictures-")
    os.environ.update(
        {
            "KIVY_NO_ARGS": "1",
            "KIVY_HOME": cache,
            "KIVY_NO_FILELOG": "1",
            "KIVY_NO_ENV_CONFIG": "1",
            "KIVY_NO_CONSOLELOG": "1",
            "KIVY_METRICS_DENSITY": str(DENSITY),
            "KIVY_METRICS_FONTSCALE": "1",
            "SDL_VIDEODRIVER": "offscreen",
        }
    )
    from kivy.config import Config

    # An offscreen surface never grows, so it is made in its final size.
    Config.set("graphics", "width", str(WIDE_DP * DENSITY))
    Config.set("graphics", "height", str(HIGH_DP * DENSITY))
    Config.set("graphics", "multisamples", "0")
    Config.set("graphics", "maxfps", "0")
    try:
        from kivy.base import EventLoop
        from kivy.core.window import Window
    except SystemExit as error:
        raise NoPictures("no window could be made offscreen; install libegl1, libgl1-mesa-dri and libmtdev1") from error
    if Window is None:
        raise NoPictures("no window could be made offscreen; install libegl1, libgl1-mesa-dri and libmtdev1")
    from screens import theme

    Window.clearcolor = theme.rgba("ground")
    EventLoop.start()
    Window.size = (WIDE_DP * DENSITY, HIGH_DP * DENSITY)
    return Window


def _save(window: Any, path: Path) -> Path:
    """Write what is drawn now as a PNG. Raises NoPictures when it is one colour all over: then nothing was drawn."""
    from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels
    from kivy.graphics.texture import Texture

    window.dispatch("on_draw")
    width, height = window.width, window.height
    pixels = bytes(glReadPixels(0, 0, width, height, GL_RGBA, GL_UNSIGNED_BYTE))
    if pixels == pixels[:4] * (width * height):
        raise NoPictures(f"{path.name} came out blank: the machine's OpenGL draws nothing")
    texture = Texture.create(size=(width, height), colorfmt="rgba")
    texture.blit_buffer(pixels, colorfmt="rgba", bufferfmt="ubyte")
    texture.save(str(path), flipped=True)
    return path
