"""The app leaves the front and comes back: alarms take its place meanwhile. Needs no window.

While the app is not in front, Android stops its clock. So on leaving, an alarm is set for every call to come, and on
coming back all are taken away, because then the app calls itself. A restart of the device loses its alarms; for that
a mark lies beside the record as long as scopes are under way, and the system's own receiver shows what it says.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from data.disk import Disk
from protocols.errors import BasinbellError
from screens.desk import Desk
from screens.foreseen import reminders
from screens.prompting import Prompting
from screens.senses.alarms import Alarms
from screens.senses.promise import LOG
from screens.setup.preferences import load, save
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

MARK = "under-way"


class Away:
    """Follows the app's way out of the front and back; `beat` belongs in the shell's `on_beat`."""

    def __init__(self, alarms: Alarms, prompting: Prompting, disk: Disk) -> None:
        self._alarms = alarms
        self._prompting = prompting
        self._disk = disk
        self._marked: bool | None = None

    def started(self) -> None:
        """Take away what an earlier run of the app left armed, and see whether alarms would come."""
        self._alarms.ready()
        self.back()

    def left(self, desk: Desk) -> None:
        """Arm an alarm for every call to come. Must be quick, and must not fail: the system waits for it."""
        if not self._alarms.needed:
            return
        moment_ms = self._alarms.moment()
        try:
            self._alarms.arm(reminders(self._prompting.crier, desk, desk.now()), moment_ms)
            desk.door.touch()
        except BasinbellError as error:
            LOG.error("no alarms were set on leaving: %s", error)

    def back(self) -> None:
        """Take every alarm away, and see anew whether they would come: the person may have been in the settings."""
        self._alarms.clear()
        self._alarms.check()

    def beat(self, desk: Desk) -> None:
        """Keep the mark of scopes under way as the record has it."""
        if not self._alarms.needed:
            return
        under_way = bool(desk.unit.cycles)
        if under_way != self._marked:
            self._marked = self._mark(under_way)

    def _mark(self, under_way: bool) -> bool | None:
        try:
            if under_way:
                self._disk.replace(MARK, f"{say('alarms.restarted')}\n{say('alarms.restarted.how')}\n".encode())
            elif self._disk.exists(MARK):
                self._disk.remove(MARK)
        except BasinbellError as error:
            LOG.warning("the mark of scopes under way could not be kept: %s", error)
            return None
        return under_way


def ask_once(alarms: Alarms, shell: Shell, disk: Disk) -> None:
    """Ask the person once on this handheld, with the reason, to allow alarms; not before there is a scope to call for.

    Later the Bench says what is missing, and Setup leads to the same question.
    """
    preferences = load(disk)
    if not alarms.needed or alarms.can() or preferences.alarms_asked or not shell.desk.unit.scopes:
        return
    try:
        save(disk, replace(preferences, alarms_asked=True))
    except BasinbellError as error:
        LOG.warning("that it was asked could not be kept: %s", error)
    shell.confirm(say("alarms.ask"), say("alarms.allow"), alarms.ask, say("alarms.later"))
