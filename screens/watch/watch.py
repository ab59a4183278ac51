"""The Watch page: past the limit first, then who waits for a lead, the baths, what hangs, the load of the next hours.

It only looks: the one command it gives is a note on a scope, which silences no prompt.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from protocols.calibration import Calibration
from protocols.clock import Stamp, local
from screens.background import Background
from screens.heading import Head, Titled, under
from screens.offer import Typed
from screens.page import Page
from screens.plan_words import load_bars
from screens.planning import Asked, Planned
from screens.posting import on_screen
from screens.send.sending import Sending
from screens.watch import rows
from screens.watch.between_part import BetweenPart
from screens.watch.chart import LoadChart
from screens.watch.load import BIN_S, SPAN_S, Load, load_of
from screens.watch.others import OthersPart
from screens.watch.plan import PlanPart
from screens.watch.sightings import Sightings, look_back
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell


class WatchPage(Page):
    """What the shift lead must know of; every row as of now."""

    key = "watch"
    tab = "watch"

    def __init__(self, shell: Shell, sending: Sending) -> None:
        super().__init__(shell)
        self._seen = Sightings()
        self._looked_at = -1
        self._cards: dict[tuple[str, str], Card] = {}
        self._head = Head(say("watch.title"))
        self._titles = {
            name: Titled(say(f"watch.{name}"), role="over_text" if name == "past" else "ink")
            for name in ("past", "waiting", "baths", "stored")
        }
        self._load_title = Titled(say("watch.load", hours=round(SPAN_S / 3600)))
        self._ready_title = Titled(say("ready.title"))
        self._plan = PlanPart()
        self._between = BetweenPart(shell)
        self._calm = Words(say("watch.calm"), role="quiet")
        self._no_baths = Words(say("watch.no_baths"), role="quiet")
        self._no_stored = Words(say("watch.no_stored"), role="quiet")
        self._spent = Words("", step="detail", role="quiet")
        self._fault = Words("", step="detail", role="over_text")
        self._others = OthersPart(sending)
        self._week = BigButton(say("week.open"), small=True, look="plain")
        self._week.bind(on_command=lambda *_: self.shell.go("watch-week"))
        self._chart = LoadChart()
        self._crowd = Words("", step="body", bold=True)
        self._naive = Words("", step="detail", role="quiet")
        self._leaves = Leaves()
        self.background = Background("watch", on_screen)
        self.add_widget(self._head)
        self.add_widget(self._leaves)

    def entered(self, **what: Any) -> None:
        """Start to read whose taps the last ones were."""
        self._look_back()
        self._others.look(self.desk.now())
        if self.shell.planning is not None:
            self.shell.planning.ask(Asked(variants=True))

    def refresh(self) -> None:
        """Show everything as of now."""
        desk, unit = self.desk, self.desk.unit
        now, lanes = desk.now(), self.shell.lanes
        self._look_back()
        self._others.look(now)
        self._head.set_words(say("watch.title"), say("watch.now", time=desk.clock_face(now)))
        late = [self._scope(row, "over") for row in rows.past_limit(unit, now, lanes, self._seen)]
        held = [self._scope(row, "calm") for row in rows.waiting(unit, now, lanes, self._seen)]
        families = {name: shipped(desk.door.shelf.protocol(sha).spoken) for name, sha in unit.protocols.items()}
        baths = [self._bath(row) for row in rows.baths(unit, now, self._seen)]
        gone = rows.spent(unit)
        self._spent.text = say("watch.detergent_spent", labels=", ".join(gone)) if gone else ""
        hung = [self._hung(row) for row in rows.stored(unit, now, families)]
        planning = self.shell.planning
        planned = planning.newest(now) if planning is not None else None
        calibration = planning.calibration if planning is not None else Calibration()
        self._show_load(now.wall_ms, planned, now)
        self._plan.show(planned, calibration, lanes, now, unit.settings.zone)
        calm = [] if late or held else [self._calm]
        self._leaves.show(
            [
                *([self._fault] if self._fault.text else []),
                *under(self._titles["past"], late),
                *under(self._titles["waiting"], held),
                *self._between.urgent(now, families),
                *calm,
                *under(self._titles["baths"], baths, self._no_baths),
                *([self._spent] if gone else []),
                *under(self._load_title, [self._chart, self._crowd, self._naive, *self._plan.words]),
                *under(self._ready_title, self._plan.ready),
                *under(self._titles["stored"], hung, self._no_stored),
                *self._between.calm(now, families),
                *self._others.blocks(now, unit.settings.zone),
                self._week,
            ]
        )

    def left(self) -> None:
        """Forget cards of what is gone; the page may be away for hours."""
        self._cards.clear()
        self._between.forget()
        if self.shell.planning is not None:
            self.shell.planning.ask(Asked())
        self._leaves.show([])

    def _look_back(self) -> None:
        door = self.desk.door
        head = door.journal.head[0]
        # A record that can't be read back is not read again every second, only when something was added to it.
        if head == self._looked_at or self.background.busy:
            return
        self._looked_at = head
        unit, before = door.unit, self._seen
        self.background.run(lambda: look_back(door.journal, unit, before), self._looked)

    def _looked(self, answer: Any) -> None:
        if isinstance(answer, Sightings):
            self._seen, self._fault.text = answer, ""
        else:
            # The journal itself can't be read back; what goes on now is shown all the same.
            self._fault.text = say("watch.record", why=answer)
        if self.parent is not None:
            self.refresh()

    def _card(self, kind: str, name: str, **kwargs: Any) -> Card:
        card = self._cards.get((kind, name))
        if card is None:
            card = self._cards[kind, name] = Card(**kwargs)
            if kind == "scope":
                card.bind(on_command=lambda *_: self.shell.go("steps", tag=name), on_side=lambda *_: self._note(name))
            elif kind == "hung":
                card.bind(on_command=lambda *_: self.shell.go("scope", tag=name))
        return card

    def _scope(self, row: rows.ScopeRow, level: str) -> Card:
        card = self._card("scope", row.tag, side=say("watch.note"))
        mark = "disinfected" if row.disinfected else "not_disinfected"
        card.tell(row.tag, row.family, row.title, row.over, row.details, mark, level)
        return card

    def _bath(self, row: rows.BathRow) -> Card:
        card = self._card("bath", row.label, leads=False)
        level = {"blocked": "over"}.get(row.state, row.state)
        card.tell(row.label, "", row.title, "", row.details, "", level, row.share)
        return card

    def _hung(self, row: rows.StoredRow) -> Card:
        card = self._card("hung", row.tag)
        mark = "released" if row.released else "disinfected"
        card.tell(
            row.tag,
            row.family,
            row.title,
            "",
            row.details,
            mark,
            "over" if row.over else "near" if row.soon else "calm",
        )
        return card

    def _note(self, tag: str) -> None:
        lane = self.shell.lane(tag)
        what = "late" if lane is not None and lane.over_s > 0 else "other"
        typed = Typed(say("watch.note_for", tag=tag), "text", "text", "note", tag, {"what": what})
        self.shell.type_value(typed)

    def _show_load(self, now_ms: int, planned: Planned | None, now: Stamp) -> None:
        zone = self.desk.unit.settings.zone
        load = load_of(self.shell.lanes, self.desk.unit.baths.values())
        if planned is not None:
            load = Load(load_bars(planned, now, SPAN_S, BIN_S), planned.plan.left_out)

        def clock(after_s: float) -> str:
            return f"{local(now_ms + round(after_s * 1000), zone):%H:%M}"

        self._chart.tell(load.bars, [clock(SPAN_S * part / 4) for part in range(5)])
        stretches = [say("moment.from_to", start=clock(start), end=clock(end)) for start, end in load.crowded()]
        words = say("watch.crowd", stretches=", ".join(stretches[:3])) if stretches else say("watch.no_crowd")
        self._crowd.text = words
        left_out = say("watch.left_out", tags=", ".join(load.left_out)) if load.left_out else ""
        how = say("watch.naive") if planned is None else say("plan.load")
        self._naive.text = " ".join(part for part in (how, left_out) if part)
