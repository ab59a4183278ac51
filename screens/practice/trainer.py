"""The trainer: practice as a session of the app, in a folder of its own that is deleted at its end."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from data.disk import Disk
from data.opening import owned_door
from data.practice import PRACTICE
from data.real_disk import RealDisk
from data.rehearse.scene import LEAD, TECHNICIAN, ZONE, Place, fresh_bath, must, opening
from protocols.clock import Clock, local_date
from protocols.event import Command
from screens.desk import Desk
from screens.practice.bar import PracticeBar
from screens.practice.clock import PacedClock
from screens.practice.lessons import lesson, waits_s
from screens.practice.pages import PracticePage, pace_words
from screens.words import say

if TYPE_CHECKING:
    from data.door import Door
    from screens.shell import Shell

SCOPES = (
    Place("B5", "bronchoscope-1", "bronchoscopy"),
    Place("G7", "gastroscope", "gastroscopy"),
    Place("L2", "laryngoscope", "laryngoscopy"),
)


class Trainer:
    """One practice: its record, its clock, the bar over its shell. `close` deletes everything of it."""

    def __init__(self, real: Clock, pace: int, ended: Callable[[], None], disk: Disk | None = None) -> None:
        """`ended` is called when the person ends it; `disk` takes the place of a temporary folder in tests."""
        self.clock = PacedClock(real, pace)
        self._ended = ended
        self._folder = None if disk is not None else tempfile.TemporaryDirectory(prefix="basinbell-practice-")
        self.disk = disk if disk is not None else RealDisk(Path(self._folder.name if self._folder else ""))
        self._owned = owned_door(self.disk, self.clock, "practice", PRACTICE)
        self.door, _ = self._owned.__enter__()
        set_up(self.door)
        self.desk = Desk(self.door, TECHNICIAN)
        self.bar = PracticeBar()
        self._shell: Shell | None = None

    def lead_through(self, shell: Shell) -> None:
        """Put the bar over a shell on this record and keep it right, once a second and after every page."""
        self._shell = shell
        shell.practise = None
        shell.put_over_all(self.bar)
        self.bar.bind(on_command=lambda *_: self._open(shell))
        shell.on_beat.append(lambda _: self.look())
        shell.on_look.append(self.look)
        self.look()

    def look(self) -> None:
        """Say what is next, and let time pass fast while there is nothing to do but wait."""
        shell = self._shell
        if shell is None or shell.page is None:
            return
        lanes = shell.lanes
        if self.clock.pace > 1:
            self.clock.hurry(waits_s(lanes))
        said = lesson(shell.page.key, shell.asks, lanes, self.door.unit, _shown(shell))
        self.bar.tell(
            say("practice.mark_at", pace=pace_words(self.clock.pace)),
            say(f"practice.{said.key}", tag=said.tag),
            say(f"practice.{said.key}.why", tag=said.tag),
        )

    def _open(self, shell: Shell) -> None:
        shell.over(PracticePage(shell, self))

    def end(self) -> None:
        """The person has practised enough."""
        self._ended()

    def close(self) -> None:
        """Promise that nothing of this practice is left."""
        self._owned.__exit__(None, None, None)
        if self._folder is not None:
            self._folder.cleanup()


def set_up(door: Door) -> None:
    """Promise an invented unit that calls itself PRACTICE, with people, scopes, strips and a bath."""
    now = door.now().wall_ms
    commands = opening(door.unit, list(SCOPES), local_date(now, ZONE))
    commands.append(Command("set-unit", "unit", {"name": say("practice.unit")}, LEAD))
    commands.append(fresh_bath("disinfectant", "H1", 1, now))
    commands.append(fresh_bath("detergent", "W1", 2, now))
    for command in commands:
        must(door.give(command))


def _shown(shell: Shell) -> str:
    return str(getattr(shell.page, "tag", ""))
