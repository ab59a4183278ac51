"""The Bench page: what to do now, when hands are needed in the next half hour, a lane a scope, Receive scope."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from protocols.clock import Stamp
from protocols.lane import Lane
from protocols.states import State
from screens import plan_words, theme
from screens.bench.first import next_by, single
from screens.bench.flow import Flow
from screens.bench.parts import DoNow, Heading
from screens.offer import Choice
from screens.page import Page
from screens.taps import ask_who
from screens.telling import clash, failing_words, needs, over_words, since_words, tell
from screens.widgets.button import BigButton
from screens.widgets.lane import Lane as LaneRow
from screens.widgets.split import Split
from screens.widgets.still import Still
from screens.widgets.text import Words
from screens.widgets.timeline import Timeline
from screens.wipe import WipePage
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.planning import Planned
    from screens.shell import Shell

_TEN_MIN_S = 600
# A page this high has room for one more row of what is coming beside its lanes. Own figure.
_HIGH_DP = 700.0
# Both buttons below the lanes open something and give no command of a cycle: 9 mm, so that more lanes are seen.
_FOOT_DP = theme.TARGET_OTHER_DP


class Bench(Page):
    """The technician's page for the whole day."""

    key = "bench"
    tab = "bench"
    above_dp = 4.0

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._now: Stamp | None = None
        self._choice: tuple[Choice, int] | None = None
        self._first: Lane | None = None
        self._why = ""
        self._strip_shown: object = None
        self.heading = Heading(say("bench.title"))
        self.heading.person.bind(on_command=lambda *_: self._change_person())
        self.heading.wipe.bind(on_command=lambda *_: shell.over(WipePage(shell)))
        self.senseless = Words("", step="mark", role="over_text", bold=True)
        self.empty_title = Words("", step="headline", bold=True)
        self.empty_how = Words("", step="body")
        self.do_now = DoNow()
        self.do_now.head.bind(on_command=lambda *_: self._open_first())
        self.do_now.button.bind(on_command=lambda *_: self._press())
        self.strip = Timeline()
        heads = [self.senseless, self.empty_title, self.empty_how, Still(self.do_now), Still(self.strip)]
        self.flow = Flow(heads, self._make_row, self._fill_row)
        self.receive = BigButton(say("bench.receive"), look="ink", least_height=dp(_FOOT_DP))
        self.receive.bind(on_command=lambda *_: self._receive())
        self.turn = BigButton("", look="plain", least_height=dp(_FOOT_DP))
        self.turn.bind(on_command=lambda *_: self.flow.turn())
        for button in (self.receive, self.turn):
            button.set_step("title")
        self.foot = BoxLayout(size_hint_y=None, height=self.receive.height, spacing=dp(theme.GAP_DP))
        self.receive.fbind("needed_height", self._level_foot)
        self.turn.fbind("needed_height", self._level_foot)
        for name in ("more", "turned"):
            self.flow.fbind(name, self._show_turn)
        self.add_widget(Split(self.flow, [Still(self.heading)], [Still(self.foot)]))
        self._show_turn()
        self.fbind("height", self._level_strip)

    def _level_strip(self, *_: Any) -> None:
        self.strip.rows_most = 4 if self.height > dp(_HIGH_DP) else 3

    def entered(self, **what: Any) -> None:
        """Show the first screenful again."""
        self.flow.to_top()

    def refresh(self) -> None:
        """Show the bench as of now."""
        now, unit = self.desk.now(), self.desk.unit
        self._now = now
        self.heading.time.text = self.desk.clock_face(now)
        person = unit.people.get(self.desk.by)
        self.heading.person.tell(person.name if person else say("bench.nobody"), say("bench.change"))
        self.heading.unit.text = unit.settings.name
        self.senseless.text = self._what_fails()
        lanes = self.shell.lanes
        self._say_empty(bool(lanes), bool(unit.scopes))
        zone = unit.settings.zone
        planned = self.shell.planning.newest(now) if self.shell.planning is not None else None
        self._first, slot = next_by(lanes, planned, now)
        self._why = plan_words.why(planned, slot, now, zone) if planned is not None and slot is not None else ""
        self._show_first(now)
        self._show_strip(planned, now, zone)
        self.flow.show([lane for lane in lanes if lane is not self._first])

    def _show_strip(self, planned: Planned | None, now: Stamp, zone: str) -> None:
        """Show when hands are needed; what has not moved by a pixel, and means the same, is not even worked out."""
        lanes = self.shell.lanes
        self.strip.height = self.strip.height if lanes else 0
        self.strip.opacity = 1 if lanes else 0
        if not lanes:
            return
        face, pixel = self.desk.clock_face(now), now.longest_ms // max(1, round(self.strip.pixel_s * 1000))
        shown = (self.desk.unit.seq, planned, face, pixel, self.strip.width, [lane.level for lane in lanes])
        if shown == self._strip_shown:
            return
        self._strip_shown = shown
        if planned is not None:
            coming = plan_words.needs_by_plan(planned, lanes, now)
            clashing = plan_words.clash_by_plan(planned, lanes, now, zone) or clash(needs(lanes), now, zone)
        else:
            coming = needs(lanes)
            clashing = clash(coming, now, zone)
        marks = [(float(s), self.desk.clock_face(_later(now, s))) for s in (_TEN_MIN_S, 2 * _TEN_MIN_S)]
        self.strip.tell(coming, clashing, [(0.0, say("bench.now")), *marks])

    def _what_fails(self) -> str:
        """What a prompt can't do now, so that nobody waits for a sound that will not come."""
        said = [failing_words(name, why) for name, why in self.shell.failing()]
        fault = self.desk.door.journal.witness_fault
        if fault:
            said.append(say("bench.witness", why=fault))
        return ". ".join(said)

    def _say_empty(self, busy: bool, has_scopes: bool) -> None:
        if busy:
            self.empty_title.text = self.empty_how.text = ""
        elif has_scopes:
            self.empty_title.text, self.empty_how.text = say("bench.empty"), say("bench.empty_how")
        else:
            self.empty_title.text, self.empty_how.text = say("bench.no_scopes"), say("bench.no_scopes_how")
        words = say("bench.receive") if has_scopes or busy else say("bench.setup")
        if self.receive.words != words:
            self.receive.set_words(words)

    # --- the one thing to do now

    def _show_first(self, now: Stamp) -> None:
        lane = self._first
        self._choice = None
        if lane is None:
            self.do_now.clear()
            return
        zone = self.desk.unit.settings.zone
        told = tell(lane, now, zone)
        self.do_now.level = told.level
        offer = self.desk.offer(lane)
        choice = single(offer)
        words, under = say("bench.open", tag=lane.scope), ""
        if choice is not None:
            self._choice = (choice, lane.cycle.last_seq)
            words, under = choice.words, "; ".join(offer.states) or choice.under
        over = over_words(lane) if told.level == "over" else told.figure
        timed = lane.state is State.WAITING or lane.kind or lane.strip_in_s is not None
        detail = told.detail if timed else since_words(lane, zone)
        if self._why and told.level != "over":
            detail = f"{detail}, {self._why}" if detail else self._why
        self.do_now.tell(lane.scope, told.title, detail, over, told.mark)
        self.do_now.offer(words, under)

    def _press(self) -> None:
        if self._choice is None:
            self._open_first()
            return
        choice, after = self._choice
        self.shell.choose(choice, after)

    def _open_first(self) -> None:
        if self._first is not None:
            self.shell.go("steps", tag=self._first.scope)

    # --- lanes

    def _make_row(self) -> LaneRow:
        row = LaneRow()
        row.bind(on_command=lambda pressed: self.shell.go("steps", tag=pressed.tag))
        return row

    def _fill_row(self, row: LaneRow, lane: Lane) -> None:
        if self._now is None:
            return
        told = tell(lane, self._now, self.desk.unit.settings.zone)
        row.tag, row.family = lane.scope, shipped(lane.protocol.spoken)
        row.step, row.figure, row.detail = told.title, told.figure, told.detail
        row.level, row.mark, row.with_coil = told.level, told.mark, bool(told.liquid)
        if told.liquid:
            row.coil.liquid, row.coil.state, row.coil.share = told.liquid, told.coil, lane.fraction

    def _show_turn(self, *_: Any) -> None:
        """The button that turns to more lanes stands beside Receive scope, and only while there are more."""
        more = int(self.flow.more)
        wanted = [self.turn, self.receive] if more or self.flow.turned else [self.receive]
        if wanted[0] is self.turn:
            words = say("bench.more", count=more) if more else say("bench.top")
            if self.turn.words != words:
                self.turn.set_words(words)
        if list(reversed(self.foot.children)) != wanted:
            self.foot.clear_widgets()
            for button in wanted:
                self.foot.add_widget(button)
            self._level_foot()

    def _level_foot(self, *_: Any) -> None:
        # As high as the one whose words need most: two heights side by side look like two kinds of button.
        shown = [button for button in (self.turn, self.receive) if button.parent is not None]
        tallest = max([dp(_FOOT_DP), *(button.needed_height for button in shown)])
        for button in shown:
            button.least_height = tallest
        self.foot.height = tallest

    def _receive(self) -> None:
        self.shell.go("receive" if self.desk.unit.scopes else "setup")

    def _change_person(self) -> None:
        if self.desk.unit.people:
            ask_who(self.shell)
        else:
            self.shell.go("setup")


def _later(now: Stamp, seconds: int) -> Stamp:
    return Stamp(now.proven_ms, now.longest_ms, now.wall_ms + seconds * 1000)
