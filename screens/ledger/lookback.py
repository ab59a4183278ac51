"""The look-back: every cycle and event that touched a scope, bath, lot, person or case, and the same left as CSV.

Places come from the disposable index beside the record (`data.trace`), read off the screen's thread; a first reading of
a long record says how far it has come, and goes on where it was when the app is closed meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from kivy.clock import Clock
from kivy.uix.widget import Widget

from data.disk import Disk
from data.exporters.csv_trace import csv_bytes
from data.home import EXPORTS
from data.trace import Trace, TracedCycle, look_back
from data.trace_index import KINDS
from protocols.clock import Stamp, local_date
from protocols.labels import LabelFault
from screens.background import PROGRESS_AFTER_S, Background, takes_long
from screens.desk import Told
from screens.heading import Head, HeadRow, Titled, under
from screens.ledger.traced import other_row, traced_block
from screens.moments import full_day_words
from screens.page import Page
from screens.posting import on_screen
from screens.setup.choosing import ChoosePage, DatePage, Option
from screens.shown import error_words, in_words
from screens.widgets.button import BigButton
from screens.widgets.card import SideKey
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_NEAR_D = (7, 30, 365)
# More cards than this nobody reads; the CSV holds them all. Own figure.
MOST = 60


class LookBackPage(Page):
    """One question at a time: what about, and since when."""

    key = "look-back"
    tab = "ledger"

    def __init__(self, shell: Shell, disk: Disk) -> None:
        super().__init__(shell)
        self._disk = disk
        self.background = Background("look-back", on_screen)
        self.kind, self.about, self.since = "", "", None
        self.found: Trace | None = None
        self._asked: Stamp | None = None
        self._come = (0, 0)
        self._head = Head(say("lookback.title"), back=shell.back)
        self._keys = {kind: SideKey(say(f"lookback.kind.{kind}"), size_hint_x=1) for kind in KINDS}
        for kind, key in self._keys.items():
            key.bind(on_command=self._asker(kind))
        self._when = BigButton("", small=True, look="plain")
        self._when.bind(on_command=lambda *_: self._ask_since())
        self._leave = BigButton(say("lookback.leave"), small=True)
        self._leave.bind(on_command=lambda *_: self._write())
        self._cycles, self._others = Titled(""), Titled("")
        self._progress = Words("", step="detail", role="quiet")
        self._leaves = Leaves()
        for widget in (HeadRow(self._head, list(self._keys.values())), self._progress, self._leaves):
            self.add_widget(widget)
        self._show([Words(say("lookback.empty"), role="quiet")])

    def entered(self, **what: Any) -> None:
        """Look back at what is asked for, or at the scope of a tag; coming back shows what was found before."""
        if "tag" in what:
            scope = self.desk.unit.scopes[what["tag"]]
            self.look(*(("bath", scope.hold.bath) if scope.hold is not None else ("scope", scope.tag)))
        elif what:
            self.look(what["kind"], what["about"])

    def refresh(self) -> None:
        """Show how far reading has come, when it takes longer than half a second."""
        slow = takes_long(self._asked, self.desk.now())
        at, of = self._come
        if not slow:
            self._progress.text = ""
        else:
            self._progress.text = say("lookback.reading", at=at + 1, of=of) if of else say("lookback.looking")

    def scanned(self, text: str) -> bool:
        """A scan asks: a scope's tag or label, else a known bath, a lot or its label, else it is taken for a case."""
        try:
            tag, lot = self.desk.scope_of(text), self.desk.label(text).lot
        except LabelFault as fault:
            self.shell.tell(Told(False, in_words(fault.args[0]), rule="label-unread"))
            return True
        bath, lot = self._known("bath", text), self._known("lot", lot or text) or lot
        kind = "scope" if tag else "bath" if bath else "lot" if lot else "case"
        self.look(kind, tag or bath or lot or text)
        return True

    # --- the question

    def look(self, kind: str, about: str) -> None:
        """Ask about one thing."""
        self.kind, self.about = kind, about
        for name, key in self._keys.items():
            shown = self.desk.unit.name_of(about) if kind == "person" else about
            key.set_words(shown if name == kind else say(f"lookback.kind.{name}"), name == kind)
        self._read()

    def _asker(self, kind: str) -> Callable[..., None]:
        def ask(*_: Any) -> None:
            if kind == "person":
                self.shell.over(ChoosePage(self.shell, say("lookback.ask.person"), self._people(), self._taker(kind)))
            else:
                typing = "case" if kind == "case" else "tag"
                self.shell.ask_text(say(f"lookback.ask.{kind}"), typing, lambda text: self._typed(kind, text))

        return ask

    def _taker(self, kind: str) -> Callable[[str], None]:
        return lambda about: self.look(kind, about)

    def _people(self) -> list[Option]:
        """Everybody who is or was on the list: a record outlives its people."""
        unit = self.desk.unit
        return [Option(p.id, p.name) for p in (*unit.people.values(), *unit.retired.values())]

    def _typed(self, kind: str, text: str) -> None:
        # The keys type capitals; what the unit knows by another spelling is found all the same.
        self.look(kind, self._known(kind, text) or text)

    def _known(self, kind: str, text: str) -> str:
        """The tag, label or lot of the unit that reads like the text whatever its capitals, "" for none."""
        unit = self.desk.unit
        names = {
            "scope": list(unit.scopes), "bath": [b.label for b in unit.baths.values()],
            "lot": [one.lot for one in (*unit.containers.values(), *unit.baths.values(), *unit.strips.values())],
        }.get(kind, [])  # fmt: skip
        return next((name for name in names if name.casefold() == text.casefold()), "")

    def _ask_since(self) -> None:
        today = local_date(self.desk.now().wall_ms, self.desk.unit.settings.zone)
        near = {str(days): today - timedelta(days=days) for days in _NEAR_D}
        options = [Option("", say("lookback.any_day"))]
        options += [Option(key, say("lookback.near", count=int(key)), full_day_words(day)) for key, day in near.items()]
        options.append(Option("other", say("lookback.other_day")))

        def chosen(key: str) -> None:
            if key == "other":
                self.shell.over(DatePage(self.shell, say("lookback.ask.since"), self._from_text, recent=True))
            else:
                self._from(near.get(key))

        self.shell.over(ChoosePage(self.shell, say("lookback.ask.since"), options, chosen))

    def _from_text(self, text: str) -> None:
        self._from(date.fromisoformat(text))

    def _from(self, since: date | None) -> None:
        self.since = since
        self._read()

    # --- the answer

    def _read(self) -> None:
        if not self.kind:
            return
        asked = (self.kind, self.about, self.since)
        self._asked, self._come = self.desk.now(), (0, 0)
        self.background.run(
            lambda: look_back(self._disk, *asked, self._come_to), lambda answer: self._got(asked, answer)
        )
        Clock.schedule_once(lambda _: self.refresh(), PROGRESS_AFTER_S)

    def _come_to(self, at: int, of: int) -> bool:
        self._come = (at, of)
        return not self.background.stopping.is_set()

    def _got(self, asked: tuple[Any, ...], answer: Any) -> None:
        if asked != (self.kind, self.about, self.since):
            return
        self._asked, self.found = None, answer if isinstance(answer, Trace) else None
        if self.found is None:
            self._show([Words(error_words(answer), role="over_text")])
        else:
            self._tell(self.found)
        self._leaves.to_top()
        self.refresh()

    def _tell(self, found: Trace) -> None:
        unit = self.desk.unit
        self._head.set_words(
            say("lookback.title"), say("lookback.count", cycles=len(found.cycles), others=len(found.others))
        )
        # The newest first: what was just done is what is asked about.
        cycles = [traced_block(cycle, unit, self._open) for cycle in found.cycles[-MOST:][::-1]]
        others = [other_row(event, unit) for event in found.others[-MOST:][::-1]]
        self._cycles.heading.text = say("lookback.cycles")
        self._others.heading.text = say("lookback.others")
        held = dict.fromkeys(cycle.scope for cycle in found.cycles if cycle.held)
        blocks: list[Widget] = [Words(say("lookback.held", tags=", ".join(held)), role="over_text")] if held else []
        if found.purged:
            weeks = ", ".join(stub.week for stub in found.purged)
            blocks.append(Words(say("lookback.purged", weeks=weeks), role="over_text"))
        left_out = max(0, len(found.cycles) - MOST, len(found.others) - MOST)
        blocks += [Words(say("lookback.newest", count=MOST), role="quiet")] if left_out else []
        blocks += [*under(self._cycles, cycles), *under(self._others, others)]
        some = bool(found.cycles or found.others)
        if not some:
            blocks.append(Words(say("lookback.nothing"), role="quiet"))
        self._show([*([self._leave] if some else []), *blocks])

    def _show(self, blocks: list[Widget]) -> None:
        since = say("lookback.since_day", day=full_day_words(self.since)) if self.since else say("lookback.any_day")
        self._when.set_words(since, say("lookback.change"))
        self._leaves.show([self._when, *blocks])

    def _open(self, cycle: TracedCycle) -> None:
        if cycle.week:
            self.shell.go("cycle", week=cycle.week, cycle=cycle.id)
        else:
            self.shell.go("steps", tag=cycle.scope)

    # --- CSV

    def _write(self) -> None:
        """Leave what was found in the home's folder of exports; it is a copy, and changes nothing."""
        found = self.found
        if found is None:
            return
        about = "".join(char if char.isalnum() else "-" for char in found.key)[:40]
        today = local_date(self.desk.now().wall_ms, self.desk.unit.settings.zone).isoformat()
        path = f"{EXPORTS}/look-back-{found.kind}-{about}-{today}.csv"
        disk = self._disk
        self.background.do(lambda: disk.replace(path, csv_bytes(found)), lambda answer: self._written(path, answer))

    def _written(self, path: str, answer: Any) -> None:
        words = say("lookback.left", path=path) if answer is None else say("told.disk", why=answer)
        self.shell.tell(Told(answer is None, words))
