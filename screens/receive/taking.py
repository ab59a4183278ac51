"""Taking the answers to a receipt: typed, pressed or scanned, until the command is given."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from protocols.clock import Stamp
from protocols.value_types import TEXT_MAX
from screens.desk import Told
from screens.offer import Pick
from screens.receive.answers import Answers, kind_of, last_ms, next_ms
from screens.steps.choosing import PickPage
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_OTHER = "\0other"

# A time of day as it was typed, as of a moment and in a zone: the wall time in milliseconds, None for no time.
Moment = Callable[[str, Stamp, str], "int | None"]


class Taking:
    """Holds the `answers` of one receipt; each method takes one, or lets it be typed or picked."""

    def __init__(self, shell: Shell) -> None:
        self.answers = Answers()
        self._shell, self._desk = shell, shell.desk

    def known(self, text: str) -> str | None:
        """Give the tag of the unit that a text names, or None."""
        return next((tag for tag in self._desk.unit.scopes if tag.casefold() == text.strip().casefold()), None)

    def take_tag(self, tag: str, ask: bool = True) -> None:
        """Take the scope; one that is in a cycle leads to its page. `ask` goes on to the case at once.

        What was said of another scope is never taken for this one: the person is asked before it is forgotten.
        """
        said = self.answers
        if said.tag in ("", tag) or not said.unfinished:
            self._begin(tag, ask)
        else:
            self._shell.confirm(say("shell.lose"), say("shell.leave"), lambda: self._begin(tag, ask), say("shell.stay"))

    def _begin(self, tag: str, ask: bool) -> None:
        unit = self._desk.unit
        if self.answers.tag not in ("", tag) or tag in unit.cycles:
            self.answers = Answers()
        if tag in unit.cycles:
            self._shell.go("steps", tag=tag)
            self._shell.tell(Told(True, say("receive.in_cycle", tag=tag)))
            return
        self.answers.tag = tag
        self.answers.take_over(unit.scopes[tag].used)
        sha = unit.protocols.get(unit.scopes[tag].protocol)
        self.answers.kind = kind_of(self._desk.door.shelf.protocol(sha).family if sha else "")
        if ask and not self.answers.case:
            self.ask_case()
        self._shell.look()

    def ask_case(self) -> None:
        """Let the case be typed."""
        title = f"{self.answers.tag}: {say('receive.case')}"
        self._shell.ask_text(title, "case", self.take_case, start=self.answers.case)

    def take_case(self, text: str) -> None:
        """Take the case, unless it is the tag of a scope."""
        if self.known(text) is not None:
            self._shell.tell(Told(False, say("receive.tag_not_case", text=text), say("receive.case_how")))
            return
        self.answers.case = text
        self._shell.look()

    def take_end(self, ended_ms: int | None) -> None:
        """Take the end of the procedure as wall time in milliseconds, None for unknown."""
        self.answers.ended_said, self.answers.ended_ms = True, ended_ms
        self._shell.look()

    def ask_time(self) -> None:
        """Let the end of the procedure be typed as a time of day."""
        self._ask_clock("receive.ended", last_ms, self.take_end)

    def ask_wanted(self) -> None:
        """Let the time by which the scope is wanted be typed."""
        self._ask_clock("receive.wanted_when", next_ms, self._take_wanted)

    def _take_wanted(self, wanted_ms: int) -> None:
        self.answers.wanted_ms = wanted_ms
        self._shell.look()

    def _ask_clock(self, words: str, moment_of: Moment, take: Callable[[int], None]) -> None:
        def typed(text: str) -> None:
            moment = moment_of(text, self._desk.now(), self._desk.unit.settings.zone)
            if moment is None:
                self._shell.tell(Told(False, say("receive.bad_time", text=text)))
            else:
                take(moment)

        self._shell.ask_text(say(words), "clock", typed)

    def ask_kind(self) -> None:
        """Let the kind of procedure be typed."""
        self._shell.ask_text(say("receive.kind"), "text", self._take_kind)

    def _take_kind(self, text: str) -> None:
        self.answers.kind = text
        self._shell.look()

    def open_names(self) -> None:
        """Let the person who pre-cleaned be picked."""
        names = self._desk.seen.precleaners()
        picks = [Pick("by", name, name, name == self.answers.by) for name in names]
        picks += [Pick("by", "", say("receive.by_nobody"), not self.answers.by)]
        picks += [Pick("by", _OTHER, say("receive.by_other"), False)]
        self._shell.over(PickPage(self._shell, picks, self._take_name))

    def _take_name(self, _: str, key: str) -> None:
        if key == _OTHER:
            self._shell.ask_text(say("receive.by"), "name", lambda text: self._take_name("by", text))
            return
        self.answers.by = key
        self._shell.look()

    def give(self, precleaned: str, advice: str) -> None:
        """Give the command; `advice` is what the page warned of, "" for nothing."""
        said = self.answers
        values = said.values(precleaned, self._desk.now(), self._desk.unit.settings.zone)
        if advice:
            # What was advised is kept, whatever the person does: it blocks nothing.
            values["advice"] = advice[:TEXT_MAX]
        told = self._shell.give("receive", said.tag, values)
        if told.done:
            tag, self.answers = said.tag, Answers()
            self._shell.go("steps", tag=tag)
