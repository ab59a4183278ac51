"""Alarms promise that the system calls what the app can't while it is not in front, or to say why they can't.

Needed where a system stops an app that is not in front, which is Android; elsewhere the app goes on and calls itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from screens.senses.promise import YES, Can, Level, attempt, no


@dataclass(frozen=True)
class Reminder:
    """One call to come: in how many ms from the moment of `Alarms.moment`, for which prompt, how urgent, its words.

    `first` marks the first call of a prompt at its level: it must come even while the device sleeps deeply.
    """

    in_ms: int
    key: str
    level: Level
    title: str
    words: str
    first: bool


class Clockwork(Protocol):
    """The alarms of one system. Every call may raise whatever the system raises."""

    def can(self) -> Can:
        """Say whether an alarm would come at its time and be seen."""
        ...

    def elapsed_ms(self) -> int:
        """Give the time on the clock by which alarms are set: it counts sleep, and nobody can set it."""
        ...

    def arm(self, place: int, at_ms: int, number: int, reminder: Reminder, sound: bool, buzz: bool) -> None:
        """Set the alarm at a place; its notice takes the place of an earlier one of the same number."""
        ...

    def ready(self) -> None:
        """Make ready what a notice after a restart of the device needs."""
        ...

    def clear(self) -> None:
        """Take back every alarm, those of an earlier run of the app too, and every notice."""
        ...

    def ask(self) -> None:
        """Open the page on which the person allows what is missing."""
        ...


def clockwork_for(system: str) -> Clockwork | None:
    """Give the alarms of a system, named as Kivy names it; None where none are needed."""
    if system == "android":
        from screens.senses.alarms_android import AndroidAlarms

        return AndroidAlarms()
    return None


class Alarms:
    """Arms and clears; what an alarm sounds and shakes follows the person's own switches."""

    def __init__(self, clockwork: Clockwork | None, sound: Callable[[], bool], buzz: Callable[[], bool]) -> None:
        """Take the alarms of this system and how to see whether sounds and vibration are switched on."""
        self._clockwork = clockwork
        self._sound, self._buzz = sound, buzz
        self._answer = YES

    @property
    def needed(self) -> bool:
        """Say whether this system stops an app that is not in front."""
        return self._clockwork is not None

    def can(self) -> Can:
        """Say whether alarms would come, as of the last `check`."""
        return self._answer

    def check(self) -> Can:
        """Ask the system anew, as at the start and after the person was in its settings."""
        works = self._clockwork
        self._answer = YES if works is None else attempt("asking for alarms", works.can, why="no_alarms")
        return self._answer

    def moment(self) -> int:
        """Give the time from which reminders are counted, in ms; 0 where it can't be had or is not needed."""
        found = [0]
        works = self._clockwork
        if works is not None:
            attempt("reading the alarm clock", lambda: _done(lambda: found.append(works.elapsed_ms())))
        return found[-1]

    def arm(self, reminders: Sequence[Reminder], moment_ms: int) -> Can:
        """Set an alarm for each reminder, in place of all before. What is refused for one is refused for none else."""
        works = self._clockwork
        if works is None:
            return YES
        sound, buzz = self._sound(), self._buzz()
        answer = self.clear()
        numbers = {key: number for number, key in enumerate(dict.fromkeys(r.key for r in reminders), 1)}
        place = 0
        for reminder in reminders:
            given = (place, moment_ms + reminder.in_ms, numbers[reminder.key], reminder, sound, buzz)
            armed = attempt("setting an alarm", lambda given=given: _done(works.arm, *given), why="no_alarms")
            # Places have no gap: that is how a later run of the app finds them all.
            place += 1 if armed else 0
            answer = armed if answer else answer
        return answer

    def ready(self) -> Can:
        """Make ready what a notice after a restart of the device needs."""
        works = self._clockwork
        return YES if works is None else attempt("readying notices", lambda: _done(works.ready), why="no_alarms")

    def clear(self) -> Can:
        """Take back every alarm and notice."""
        works = self._clockwork
        return YES if works is None else attempt("clearing alarms", lambda: _done(works.clear), why="no_alarms")

    def ask(self) -> Can:
        """Open the page on which the person allows what is missing."""
        works = self._clockwork
        return no("no_alarms") if works is None else attempt("opening the settings", lambda: _done(works.ask))


def _done(action: Callable[..., object], *given: object) -> Can:
    action(*given)
    return YES
