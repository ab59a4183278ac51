"""Kivy's frame around the shell: the clock of one second, pausing and resuming."""

from __future__ import annotations

import gc
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window

from data.disk import Disk
from data.system_clock import SystemClock
from protocols.errors import ClockError
from screens import theme, words
from screens.app import build
from screens.away import Away, ask_once
from screens.posting import on_screen, turns
from screens.prompting import Prompting
from screens.senses.choose import Senses
from screens.senses.pick_android import FolderPicker
from screens.setup.preferences import Preferences, follow, load
from screens.shell import Shell
from screens.surviving import Surviving

if TYPE_CHECKING:
    from screens.practice.trainer import Trainer

# The app draws at most so often (see `app`); a call is never asked for more often than that.
FRAME_S = 1 / 30
# By then the first page is drawn, also on a slow device. Own figure.
SHOWN_S = 0.5
Apply = Callable[[Preferences], None]


class BasinbellApp(App):
    """Shows the shell and calls `tick` once a second; what a second means is asked of the door's clock."""

    title = "Basinbell"

    def __init__(
        self,
        make: Callable[[Apply], Shell],
        senses: Senses,
        disk: Disk,
        once_shown: Callable[[Shell], None] = lambda shell: None,
        **kwargs: Any,
    ) -> None:
        """`make` builds the shell; it is built anew for another theme or language: pages take them up when built.

        `disk` is the home, for this handheld's preferences and the mark of scopes under way. `once_shown` gets the
        shell when its first page stands on the screen: for what no start should wait for.
        """
        super().__init__(**kwargs)
        self._make = make
        self._once_shown = once_shown
        self._senses = senses
        self._prompting = Prompting(senses)
        self._away = Away(senses.alarms, self._prompting, disk)
        self._disk = disk
        self._picker = FolderPicker(on_screen)
        self._surviving = Surviving(lambda told: self._shell.tell(told))
        self._between: Any = None
        self._trainer: Trainer | None = None
        follow(load(disk), senses)
        self._shell = self._made()

    def _made(self) -> Shell:
        trainer = self._trainer
        shell = self._make(self._follow) if trainer is None else build(trainer.desk, trainer.disk)
        shell.failing = self._prompting.failing
        shell.look_failed = self._surviving.look_failed
        shell.on_beat.append(self._prompting.beat)
        shell.on_beat.append(self._call_between)
        shell.senses = self._senses
        if trainer is not None:
            trainer.lead_through(shell)
            return shell
        shell.practise = self._practise
        shell.on_beat.append(lambda made: self._away.beat(made.desk))
        if self._senses.alarms.needed:
            shell.alarms, shell.pick_folder = self._senses.alarms, self._picker.pick
        return shell

    def _shown(self) -> None:
        shell = self._shell
        if self._trainer is None:
            Clock.schedule_once(lambda _: self._once_shown(shell), SHOWN_S)

    def _practise(self, pace: int) -> None:
        from screens.practice.trainer import Trainer

        # Not within the press that asked for it: its button is still at work.
        Clock.schedule_once(lambda _: self._change_over(Trainer(SystemClock(), pace, self._end_practice)), 0)

    def _end_practice(self) -> None:
        Clock.schedule_once(lambda _: self._change_over(None), 0)

    def _change_over(self, trainer: Trainer | None) -> None:
        """Go into practice or out of it: another record, another shell, a crier that knows nothing of the former."""
        former, self._trainer = self._trainer, trainer
        self._prompting = Prompting(self._senses)
        self._exchange()
        self._shell.land()
        if former is not None:
            former.close()

    def _follow(self, preferences: Preferences) -> None:
        before = theme.name_in_use(), words.language()
        follow(preferences, self._senses)
        # So that the Bench says at once what was switched off.
        self._prompting.crier.check()
        if (theme.name_in_use(), words.language()) != before:
            # Not within the press that asked for it: its button is still at work.
            Clock.schedule_once(lambda _: self._rebuild(), 0)

    def _rebuild(self) -> None:
        self._exchange()
        for key in ("bench", "setup", "setup-handheld"):
            self._shell.go(key)

    def _exchange(self) -> None:
        Window.clearcolor = theme.rgba("ground")
        old, self._shell = self._shell, self._made()
        Window.remove_widget(old)
        Window.add_widget(self._shell)
        self.root = self._shell
        self._shown()

    def build(self) -> Shell:
        """Give the root to Kivy."""
        Window.clearcolor = theme.rgba("ground")
        return self._shell

    def on_start(self) -> None:
        """Land where the record says, then look at the clock once a second."""
        turns.watch(Clock)
        self._surviving.begin()
        self._away.started()
        self._shell.land()
        ask_once(self._senses.alarms, self._shell, self._disk)
        # Through the app: the shell may be another one by then.
        self._tick = Clock.schedule_interval(lambda _: self._shell.tick(), 1.0)
        self._shell.tick()
        self._shown()

    def _call_between(self, _: Shell) -> None:
        """Wake the crier when it has something to say before the next second."""
        if self._between is not None:
            self._between.cancel()
            self._between = None
        wait_s = self._prompting.next_in_s(self._shell)
        if wait_s is not None and wait_s < 1.0:
            # At once would be within this very beat, again and again; the next frame is soon enough.
            self._between = Clock.schedule_once(self._cry, max(wait_s, FRAME_S))

    def _cry(self, _: float) -> None:
        # Kivy may wake a few milliseconds early; a prompt that is not due yet is then waited for once more.
        with suppress(ClockError):  # the shell says so at its next look
            self._shell.see()
        self._prompting.beat(self._shell)
        self._call_between(self._shell)

    def on_pause(self) -> bool:
        """Stay in memory: everything done is on the disk already, and alarms call from here on."""
        # Android may throw all pictures away meanwhile. Kivy 2.3.1 makes them anew from what the collector lists, and
        # what was frozen at the start it does not list: the screen would stay empty.
        gc.unfreeze()
        if self._trainer is None:
            self._away.left(self._shell.desk)
        return True

    def on_resume(self) -> None:
        """Draw all again and look at the clock: any length of time may have passed."""
        self._away.back()
        Window.canvas.ask_update()
        self._shell.tick()

    def on_stop(self) -> None:
        """Leave alarms behind: a closed app must not mean that nobody is called. Nothing of a practice is left."""
        turns.unwatch()
        self._surviving.end()
        if self._trainer is not None:
            self._trainer.close()
            return
        self._away.left(self._shell.desk)
