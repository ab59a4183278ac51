"""The Send page: where weeks go, which wait, how far the one on its way has come, what has arrived, and why not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.widget import Widget

from data.destinations.document_tree import shown
from data.receipts import Receipt
from data.send_progress import Progress
from protocols.clock import parse_wall
from screens import theme
from screens.desk import Told
from screens.heading import Head
from screens.moments import day_and_time
from screens.page import Page
from screens.send.sending import Sending
from screens.send.where import Where
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Words
from screens.words import has, say

if TYPE_CHECKING:
    from screens.shell import Shell

# The three parts of carrying a week on the bar: made, written, read back (twice). Own figures.
_PARTS = {"making": (0.0, 0.4), "writing": (0.4, 0.3), "there": (0.4, 0.3), "checking": (0.7, 0.3)}


def share_of(progress: Progress | None) -> float:
    """Promise how much of a week is done, 0 to 1, as far as its last step tells."""
    if progress is None or not progress.of:
        return 0.0
    start, length = _PARTS[progress.doing]
    return start + length * progress.number / progress.of


# Each card costs layout whenever something changes, and nobody leafs through years: half a year. Own figure.
_SHOWN = 26


class SendPage(Page):
    """Every week of the record that waits or has arrived at the present place, the waiting ones first."""

    key = "send"
    tab = "send"

    def __init__(self, shell: Shell, sending: Sending) -> None:
        margin = dp(theme.MARGIN_DP)
        super().__init__(shell, padding=(margin, dp(6), margin, dp(4)))
        self.sending = sending
        self.where = Where(shell, sending, self.shell.look)
        self._cards: dict[str, Card] = {}
        self._head = Head(say("send.title"))
        self._place = Card(leads=False)
        self._change = BigButton("", small=True, look="plain")
        self._sign_in = BigButton(say("send.sign_in"), small=True, look="plain")
        self._certificate = BigButton(say("send.certificate"), small=True, look="plain")
        self._others = BigButton("", small=True, look="plain")
        self.now = BigButton(say("send.now"))
        self._rest = Words("", step="detail", role="quiet")
        self._leaves = Leaves()
        for button, act in (
            (self._change, self.where.place), (self._sign_in, self.where.sign_in),
            (self._certificate, self.where.certificate), (self._others, self.where.others), (self.now, self._send_now),
        ):  # fmt: skip
            button.bind(on_command=lambda *_, act=act: act())
        self.add_widget(Split(self._leaves, [self._head], [self.now], side=0.6))

    @property
    def background(self) -> Any:
        """Give the work that goes on for this page."""
        return self.where.background if self.where.background.busy else self.sending.background

    def entered(self, **what: Any) -> None:
        """Look which weeks wait."""
        self.sending.look()

    def refresh(self) -> None:
        """Show everything as of now."""
        sending, state = self.sending, self.sending.state
        sending.look()
        to = sending.way.place.to
        self._head.set_words(say("send.title"), say("send.busy", week=state.week) if state.week else "")
        self._show_place()
        self._change.set_words(say("send.change") if to else say("send.choose"))
        server = to.startswith("https://")
        blocks: list[Widget] = [self._place]
        if server and (state.asks or state.trouble):
            blocks += [self._sign_in, self._certificate]
        weeks = self._weeks() if to else []
        calm = server and not (state.asks or state.trouble)
        after = [self._change, *([self._certificate, self._sign_in] if calm else []), self._others]
        self._others.set_words(say("others.choose"), self.sending.way.seen_from or say("others.choose.same"))
        self._leaves.show([*blocks, *weeks, *after])
        count = len(state.waiting)
        under = say("send.waits", count=count, of=len(self.desk.door.journal.segments())) if count != 1 else ""
        self.now.set_words(say("send.now"), under if count > 1 else say(f"send.{'one' if count else 'none'}_waits"))
        self.now.disabled = not to or sending.busy

    def _show_place(self) -> None:
        state, place = self.sending.state, self.sending.way.place
        if not place.to:
            self._place.tell("", "", say("send.no_place"), "", [say("send.no_place.detail")])
            return
        if state.asks:
            line, level = say("send.asks"), "near"
        elif state.trouble:
            line, level = say("send.trouble", why=state.trouble), "over"
        elif state.away:
            line, level = say("send.away"), "calm"
        else:
            line, level = say("send.there") if self.sending.seen else say("send.unseen"), "calm"
        trusts = [say("send.trusts", file=place.certificates)] if place.certificates else []
        kind = say("send.kind_server" if place.to.startswith("https://") else "send.kind_folder")
        self._place.tell("", "", kind, "", [shown(place.to), line, *trusts], "", level)

    def _weeks(self) -> list[Widget]:
        state = self.sending.state
        receipts = dict(self.sending.receipts())
        waiting = list(state.waiting)
        newest = self.desk.door.journal.segments()[-1:]
        found: list[Widget] = []
        weeks = list(dict.fromkeys((*waiting, *receipts)))
        for week in self._most_pressing(weeks):
            if week not in self._cards:
                self._cards[week] = Card(leads=False)
            card = self._cards[week]
            title = say("send.week_open" if [week] == newest else "send.week", week=week)
            if week == state.week:
                card.tell("", "", title, "", [self._doing(state.progress)], "", "calm", share_of(state.progress))
            elif week in state.failed:
                card.tell("", "", title, "", [say("send.failed", why=state.failed[week])], "", "over")
            else:
                card.tell("", "", title, "", [self._standing(week in waiting, receipts.get(week))])
            found.append(card)
        if len(weeks) > len(found):
            self._rest.text = say("send.rest", count=len(weeks) - len(found))
            found.append(self._rest)
        return found

    def _most_pressing(self, weeks: list[str]) -> list[str]:
        """The weeks to show, in their order where all are: first the one on its way and those that were not taken."""
        if len(weeks) <= _SHOWN:
            return weeks
        state = self.sending.state
        pressing = [week for week in weeks if week == state.week or week in state.failed]
        return list(dict.fromkeys((*pressing, *weeks)))[:_SHOWN]

    def _standing(self, waits: bool, receipt: Receipt | None) -> str:
        if receipt is None:
            return say("send.waiting")
        when = day_and_time(parse_wall(receipt.at), self.desk.unit.settings.zone)
        return say("send.arrived_open" if waits else "send.arrived", when=when)

    def _doing(self, progress: Progress | None) -> str:
        if progress is None:
            return say("send.starting")
        doing = "writing" if progress.doing == "there" else progress.doing
        name = f"send.form.{progress.what}"
        what = say(name) if has(name) else progress.what
        return say(f"send.{doing}", what=what, number=progress.number, of=progress.of)

    def _send_now(self) -> None:
        # Where it can't be seen what waits, that is said of the place; nothing says then that all has arrived.
        if not self.sending.busy and not self.sending.send_now() and not self.sending.state.trouble:
            self.shell.tell(Told(True, say("send.nothing")))
        self.shell.look()
