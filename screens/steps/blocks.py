"""What is read on one scope's page, as blocks in the order needed: the step, its buttons, cautions, history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kivy.uix.widget import Widget

from protocols.cycle import State
from protocols.lane import Lane
from screens.history import History
from screens.offer import Choice, Offer, Typed
from screens.steps.act import Act, parted
from screens.steps.parts import Done, Running
from screens.telling import Telling, over_words, step_name
from screens.widgets.button import BigButton
from screens.widgets.caution import Caution
from screens.widgets.pips import Pips
from screens.widgets.sketch import StepSketch
from screens.widgets.step_dots import StepDots
from screens.widgets.text import Words
from screens.words import say

_ROWS_LOW = 2
# While something runs the coil is what helps; before, the drawing is.
_SKETCHED = (State.LOOK, State.PASS, State.COUNT, State.OUT, State.AIR_OFF)
_WAITS = ("soak", "machine run")


def _hurried(lane: Lane, offer: Offer, told: Telling) -> Offer:
    """Give the offer of a scope that is past the time to begin with that time on its button, where a line is free.

    On a low screen the time may stand on the next leaf; the button never does.
    """
    if told.level != "over" or lane.kind != "start" or not offer.choices or offer.choices[0].under:
        return offer
    hurried = replace(offer.choices[0], under=over_words(lane))
    return replace(offer, choices=(hurried, *offer.choices[1:]))


class Blocks:
    """Every block that a step may need; `low` says that the screen is so low that only what the step needs has room."""

    def __init__(self, choose: Callable[[Choice], None], type_value: Callable[[Typed], None]) -> None:
        """`choose` and `type_value` are called for the step's buttons; the page binds `setup` and `pick`."""
        self._sentences = {step: Words("", step=step, bold=True) for step in ("headline", "title")}
        self.detail = Words("", step="body", role="quiet")
        self.dots = StepDots()
        self.pips = Pips()
        self.running = Running()
        self.act = Act(choose, type_value)
        self.act_more = Act(choose, type_value)
        self.setup = BigButton(say("bench.setup"))
        self.pick = BigButton("", look="plain")
        self.cautions = Caution()
        self.sketch = StepSketch()
        self.done = Done()
        self.then = Words("", step="body")
        self.limit = Words("", step="title", bold=True)

    def sentence(self, low: bool) -> Words:
        """Give the block of the step's sentence, set smaller on a low screen."""
        return self._sentences["title" if low else "headline"]

    def show(self, lane: Lane, offer: Offer, told: Telling, low: bool, width_px: float) -> None:
        """Show the step, its buttons and what runs; `width_px` is what the buttons have."""
        offer = _hurried(lane, offer, told) if low else offer
        self.sentence(low).text = offer.title
        self.detail.text = offer.detail
        if offer.of:
            self.pips.needed, self.pips.each, self.pips.done = offer.of, offer.each, offer.done
        shown, more = parted(offer, low, width_px)
        self.act.show(shown, low)
        self.act_more.show(more)
        if offer.picks:
            chosen = next((p.words for p in offer.picks if p.chosen), say("steps.no_pick"))
            self.pick.set_words(
                chosen, say("steps.change_pick" if any(p.chosen for p in offer.picks) else "steps.why_pick")
            )
        if offer.cautions:
            self.cautions.set_words(offer.cautions[0], "\n".join(offer.cautions[1:]))
        if told.liquid:
            self.running.coil.liquid, self.running.coil.state = told.liquid, told.coil
            self.running.coil.share = lane.fraction
            self.running.figure.text, self.running.detail.text = told.figure, told.detail
            self.running.paint("over_text" if told.level == "over" else "ink")

    def show_done(self, lane: Lane, seen: History, zone: str, low: bool) -> None:
        """Show what has been done, and what follows."""
        order = lane.protocol.order(lane.cycle.flags)
        kinds = ["done"] * lane.position + ["now"]
        kinds += ["wait" if s.kind in _WAITS else "todo" for s in order[lane.position + 1 :]]
        if list(self.dots.kinds) != kinds:
            self.dots.kinds = kinds
        after = lane.protocol.following(lane.step.id, lane.cycle.flags)
        then = say("steps.then", step=step_name(lane.protocol.step(after))) if after else say("steps.last")
        rows = seen.rows(lane.cycle.id, lane.protocol, zone)
        if low:
            # A block that is higher than a leaf would lie under the bar that turns it.
            rows = rows[-_ROWS_LOW:]
        self.done.tell(say("steps.history_part" if seen.failed else "steps.done"), rows)
        self.then.text = then

    def in_order(self, lane: Lane, offer: Offer, told: Telling, low: bool) -> tuple[list[Widget], list[Widget]]:
        """Give the blocks that this step needs in order, and those that must be seen before the tap."""
        sentence = self.sentence(low)
        blocks: list[Widget] = [sentence]
        first: list[Widget] = [self.act, sentence]
        if not told.liquid and (lane.kind == "start" or lane.delay_in_s is not None):
            over = told.level == "over"
            self.limit.text = f"{over_words(lane)}, {told.detail}" if over else told.detail
            self.limit.paint("over_text" if over else "ink")
            blocks.insert(0, self.limit)
            first.append(self.limit)
        if offer.detail:
            blocks.append(self.detail)
            first.append(self.detail)
        blocks.append(self.dots)
        self.sketch.step = lane.step.id if lane.state in _SKETCHED and not low else ""
        if self.sketch.height > 0:
            blocks.append(self.sketch)
        if told.liquid:
            blocks.append(self.running)
            first.append(self.running)
        elif offer.of > 1:
            blocks.append(self.pips)
        blocks.append(self.act)
        if not offer.choices and not offer.typed:
            blocks.append(self.setup)
            first.append(self.setup)
        if offer.picks:
            blocks.append(self.pick)
            first.append(self.pick)
        if offer.of > 1 and not told.liquid:
            first.append(self.pips)
        if offer.cautions:
            blocks.append(self.cautions)
            first.append(self.cautions)
        if self.act_more.children:
            blocks.append(self.act_more)
        blocks += [self.done, self.then]
        first.append(self.then)
        return blocks, first
