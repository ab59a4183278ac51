"""One scope's page: the step in a sentence, its buttons, what its tap states, cautions, what has been done."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

from kivy.clock import Clock
from kivy.metrics import dp, sp

from protocols.clock import Stamp, longest_s
from protocols.lane import Lane
from protocols.prompts import Level
from protocols.receipt import UNDO_S
from protocols.states import State
from screens.desk import Told
from screens.offer import Choice, Offer, Typed
from screens.page import Page
from screens.steps.blocks import Blocks
from screens.steps.choosing import PickPage, WrongPage
from screens.steps.parts import Head
from screens.telling import over_words, tell
from screens.widgets.banner import Banner
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

# Below this height (dp, at normal type size) of the part that is read, the sentence is set smaller and rare choices go
# to the next leaf, so that the button stays on the screen. Own figure.
_LOW_DP = 400.0


class Steps(Page):
    """The page of one scope; `entered(tag=...)` says which."""

    key = "steps"
    tab = "bench"
    above_dp = 4.0

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.tag = ""
        self._picked: dict[str, str] = {}
        self._lane: Lane | None = None
        self._offer: Offer | None = None
        self._other = ""
        self.head = Head()
        self.banner = Banner()
        self.banner.bind(on_command=lambda *_: self.shell.go("steps", tag=self._other))
        self.blocks = Blocks(self._choose, self._type)
        self.blocks.setup.bind(on_command=lambda *_: self.shell.go("setup"))
        self.blocks.pick.bind(on_command=lambda *_: self._open_picks())
        self.leaves = Leaves()
        self._shown_low: bool | None = None
        # The room is known only once the page is on the screen, and changes when the handheld is turned.
        self._measured = Clock.create_trigger(lambda _: self._measure(), -1)
        self.leaves.fbind("height", self._measured)
        self.undo = BigButton("", look="plain")
        self.undo.bind(on_command=lambda *_: self._undo())
        self.wrong = BigButton(say("wrong.title"), look="plain")
        self.wrong.bind(on_command=lambda *_: self._open_wrong())
        for button in (self.undo, self.wrong):
            button.set_step("body")
        self.foot = ButtonRow([self.undo, self.wrong])
        self.frame = Split(self.leaves, [self.head], [self.foot])
        self.add_widget(self.frame)

    def entered(self, **what: Any) -> None:
        """Show the scope of `tag`; without one the scope shown last."""
        tag = str(what.get("tag", self.tag))
        if tag != self.tag:
            self._picked = {}
        self.tag = tag
        self.leaves.to_top()

    def scanned(self, text: str) -> bool:
        """Where the step begins in a bath, the label of one picks it, or is told why not; a bottle's, its strips.

        Everything else is not for this page.
        """
        lane, unit = self._lane, self.desk.unit
        if lane is None or not lane.step.bath or lane.state not in (State.LOOK, State.OUT):
            return False
        bath = next((known for known in unit.baths if known.casefold() == text.casefold()), "")
        bottle = next((b.label for b in unit.strips.values() if b.label.casefold() == text.casefold()), "")
        why_not = self.desk.bath_refused(lane, bath) if bath else ""
        if why_not:
            self.shell.tell(Told(False, why_not))
        elif bath:
            self._picked["bath"] = bath
        elif bottle and lane.step.bath == "disinfectant" and not unit.strips[bottle].closed:
            self._picked["strips"] = bottle
        else:
            return False
        return True

    @property
    def _low(self) -> bool:
        """Whether the screen is so low, for its type size, that only what the step needs has room."""
        return self.leaves.height < dp(_LOW_DP) * sp(1) / dp(1)

    def _measure(self) -> None:
        if self.parent is not None and self._shown_low not in (None, self._low):
            self.refresh()

    # --- showing

    def refresh(self) -> None:
        """Show the scope as of now."""
        self._shown_low = self._low
        self.desk.seen.more()
        now, zone = self.desk.now(), self.desk.unit.settings.zone
        lane = self.shell.lane(self.tag)
        step = None if lane is None else lane.cycle.step
        if self._lane is not None and step != self._lane.cycle.step:
            self._picked = {}
            self.leaves.to_top()
        self._lane = lane
        self._show_banner(now, zone)
        if lane is None:
            self._show_nothing()
            return
        told = tell(lane, now, zone)
        offer = self._offer = self.desk.offer(lane, self._picked)
        self.head.tell(lane, self.desk.seen.ended(lane.cycle.id), zone)
        self.blocks.show(lane, offer, told, self._low, self.leaves.width)
        self.blocks.show_done(lane, self.desk.seen, zone, self._low)
        self._show_undo(lane, now)
        self.leaves.show(*self.blocks.in_order(lane, offer, told, self._low))

    def _show_banner(self, now: Stamp, zone: str) -> None:
        """Name the most urgent other scope that wants hands now."""
        due = [x for x in self.shell.lanes if x.scope != self.tag and x.level is not None and x.level >= Level.READY]
        other = due[0] if due else None
        self._other = other.scope if other else ""
        if other is not None:
            told = tell(other, now, zone)
            when = over_words(other) if told.level == "over" else told.figure
            self.banner.level = "over" if told.level == "over" else "ready"
            self.banner.set_words(other.scope, say("steps.due", what=told.title, when=when))
        self.frame.set_above([self.head, self.banner] if other is not None else [self.head])

    def _show_undo(self, lane: Lane | None, now: Stamp) -> None:
        """Undo is there only while it is possible, with the seconds that are left; its place stays free otherwise."""
        back = lane.cycle.undo if lane is not None else None
        left = UNDO_S - longest_s(back.at, now) if back is not None else 0.0
        possible = left > 0
        if possible:
            words = say("steps.undo", seconds=ceil(left))
            if self.undo.words != words:
                self.undo.set_words(words)
        self.undo.opacity = 1 if possible else 0
        self.undo.disabled = not possible

    def _show_nothing(self) -> None:
        self._offer = None
        self.head.empty(self.tag)
        sentence = self.blocks.sentence(low=False)
        sentence.text = say("steps.gone", tag=self.tag)
        self._show_undo(None, self.desk.now())
        self.leaves.show([sentence])

    # --- taps

    def _choose(self, choice: Choice) -> None:
        if self._lane is not None:
            self.shell.choose(choice, self._after(choice.subject), self._answered)

    def _type(self, typed: Typed) -> None:
        if self._lane is not None:
            self.shell.type_value(typed, self._after(typed.subject), self._answered)

    def _after(self, subject: str) -> int | None:
        """The last event of the scope that this page has shown; a command on a bath stands on its own."""
        return self._lane.cycle.last_seq if self._lane is not None and subject == self.tag else None

    def _answered(self, told: Told) -> None:
        """Leave the page when the command has ended the cycle."""
        if told.done and self.tag not in self.desk.unit.cycles:
            self.shell.go("bench")
            self.shell.tell(Told(True, self._end_words()))

    def _end_words(self) -> str:
        last = self.desk.unit.scopes[self.tag].last
        if last is None:
            return say("steps.undone", tag=self.tag)
        return say({"completed": "steps.ended", "voided": "steps.voided"}.get(last.outcome, "steps.out"), tag=self.tag)

    def _undo(self) -> None:
        self._answered(self.shell.give("undo", self.tag, after=self._after(self.tag)))

    def _open_picks(self) -> None:
        if self._offer is not None:
            self.shell.over(PickPage(self.shell, self._offer.picks, self._pick))

    def _pick(self, name: str, key: str) -> None:
        self._picked[name] = key
        self.shell.look()
        chosen = next((p for p in self._offer.picks if p.key == key), None) if self._offer else None
        if chosen is not None and chosen.why_not:
            del self._picked[name]
            self.shell.tell(Told(False, chosen.why_not))
            self.shell.look()

    def _open_wrong(self) -> None:
        if self._lane is not None:
            self.shell.over(WrongPage(self.shell, self._lane, self._answered))
