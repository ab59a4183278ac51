"""A cycle that a look-back found as a card with its ribbon of time on one line; an event outside a cycle in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from data.ribbon import MOVING, Bar, Stretch
from data.trace import TracedCycle
from data.trace_text import told
from protocols.clock import local, parse_date, parse_wall
from protocols.event import Event
from protocols.unit import Unit
from screens.ledger.facts import ended_words
from screens.moments import day_and_time, full_day_words, span_words
from screens.shown import do_words, in_words
from screens.telling import bath_title
from screens.widgets.card import Card
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.fact_row import FactRow
from screens.widgets.text import Fitted, line_height_px, width_px
from screens.words import has, say, shipped

_BAR_DP = 14.0
# What a start begins to run, by the kind of its timer; a soak's liquid follows from its data.
_RUNS = {"air": "air", "run": "machine"}
_ENDS = ("lift", "run-end", "interrupt")


def bars_of(cycle: TracedCycle) -> list[Bar]:
    """Promise the stages of a cycle in order, ended or not, with what ran by itself in them."""
    if not cycle.received:
        return []  # purged: only what was added to it since is still here
    bars: list[Bar] = []
    at_ms, running = parse_wall(cycle.own[0].wall), ("", 0)
    for event in _standing(cycle.own):
        stage, moment_ms = event.data["stage"], parse_wall(event.wall)
        if not bars or bars[-1].stage != stage:
            bars.append(Bar(stage, at_ms, moment_ms))
        bars[-1].end_ms = at_ms = max(at_ms, moment_ms)
        if event.kind == "start":
            running = (_what_runs(event.data), moment_ms)
        elif running[0] and (event.kind in _ENDS or (event.kind == "check" and event.data.get("dry"))):
            bars[-1].runs.append(Stretch(running[0], running[1], moment_ms))
            running = ("", 0)
    return bars


def _standing(events: tuple[Event, ...]) -> Iterator[Event]:
    undone = {e.data["undoes"] for e in events if e.kind == "undo"}
    ended = next((e.seq for e in events if e.data.get("ends")), None)
    for event in events:
        within = ended is None or event.seq <= ended
        if event.kind in MOVING and event.seq not in undone and event.data.get("stage") and within:
            yield event


def _what_runs(data: Any) -> str:
    kind = (data.get("timer") or {}).get("kind", "")
    if kind == "soak":
        return "disinfectant" if (data.get("soak") or {}).get("test") else "detergent"
    return _RUNS.get(kind, "")


class StageLine(Drawn):
    """A whole cycle on one bar: stages with a gap between, what ran full, disinfectant as a double line."""

    def __init__(self, bars: list[Bar], zone: str, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self._bars, self._zone = bars, zone
        self.height = dp(_BAR_DP + 4) + line_height_px("mark")
        for name in ("pos", "size"):
            self.fbind(name, self._place)

    def _ends(self) -> tuple[int, int]:
        start, end = self._bars[0].start_ms, self._bars[-1].end_ms
        return start, max(end, start + 1)

    def _x(self, moment_ms: int) -> float:
        start, end = self._ends()
        return float(self.x + (min(max(moment_ms, start), end) - start) / (end - start) * self.width)

    def _place(self, *_: Any) -> None:
        self.clear_widgets()
        start, end = self._ends()
        texts = [
            f"{local(start, self._zone):%H:%M}",
            span_words((end - start) / 1000),
            f"{local(end, self._zone):%H:%M}",
        ]
        runs = [run for bar in self._bars for run in bar.runs if run.kind == "disinfectant"]
        if runs:
            texts[1] = say(
                "lookback.disinfected", length=texts[1], start=f"{local(runs[-1].start_ms, self._zone):%H:%M}"
            )
        for text, halign in zip(texts, ("left", "center", "right"), strict=True):
            wide = width_px(text, "mark") + dp(4)
            x = {"left": self.x, "center": self.x + (self.width - wide) / 2.0, "right": self.far_x - wide}[halign]
            label = Fitted(text, step="mark", role="quiet", halign=halign, size_hint_x=None)
            label.size, label.pos = (max(1.0, wide), line_height_px("mark")), (x, self.y)
            self.add_widget(label)

    def draw(self) -> None:
        """Draw the stages and what ran in them."""
        low, high = self.far_y - dp(_BAR_DP), dp(_BAR_DP)
        brush("rule")
        stroke([self.x, low + high / 2.0, self.far_x, low + high / 2.0], dp(1.0))
        for bar in self._bars:
            brush("todo")
            self._piece(bar.start_ms, bar.end_ms, low + high * 0.34, high * 0.32)
        for run in (run for bar in self._bars for run in bar.runs):
            brush("fill")
            if run.kind == "disinfectant":
                self._piece(run.start_ms, run.end_ms, low, high * 0.38)
                self._piece(run.start_ms, run.end_ms, low + high * 0.62, high * 0.38)
            else:
                self._piece(run.start_ms, run.end_ms, low + high * 0.14, high * 0.72)

    def _piece(self, start_ms: int, end_ms: int, low: float, high: float) -> None:
        left, right = self._x(start_ms), self._x(end_ms)
        card(left, low, max(dp(1.5), right - left - dp(1.5)), high, min(high / 2.0, dp(2)))


def traced_block(cycle: TracedCycle, unit: Unit, go: Any) -> BoxLayout:
    """Promise the card and ribbon of a cycle; pressing the card calls `go` with the cycle.

    One whose end left with a purged week leads nowhere: its scope may be in another cycle by now.
    """
    zone, here = unit.settings.zone, unit.cycles.get(cycle.scope)
    under_way = here is not None and here.id == cycle.id
    shown = Card(leads=under_way or bool(cycle.week))
    shown.bind(on_command=lambda *_: go(cycle))
    ended = cycle.ended
    outcome = ended_words(cycle.outcome) if has(f"ended.{cycle.outcome.replace(' ', '_')}") else cycle.outcome
    moment = ended.wall if ended is not None else cycle.received
    when = day_and_time(parse_wall(moment), zone) if moment else ""
    title = say("lookback.since" if under_way else "ledger.ended", outcome=outcome, when=when) if moment else outcome
    lines = [
        say("lookback.case", case=cycle.case) if cycle.case else "",
        say("lookback.baths", baths=", ".join(cycle.baths)) if cycle.baths else "",
        say("lookback.strips", strips=", ".join(_strip(*one) for one in cycle.strips)) if cycle.strips else "",
        say("lookback.by", names=", ".join(unit.name_of(person) for person in cycle.people)) if cycle.people else "",
        _held(cycle.held, unit),
    ]
    shown.tell(cycle.scope, "", title, "", [line for line in lines if line], level="over" if cycle.held else "calm")
    block = BoxLayout(orientation="vertical", size_hint_y=None, spacing=dp(2))
    block.bind(minimum_height=block.setter("height"))
    block.add_widget(shown)
    bars = bars_of(cycle)
    if bars:
        block.add_widget(StageLine(bars, zone))
    return block


def _strip(result: str, bottle: str) -> str:
    return f"{say(f'fact.strip.{result}')} {bottle}"


def _held(events: Sequence[Event], unit: Unit) -> str:
    """Why a failed strip holds the scope, and what a lead decided; "" where none does."""
    if not events:
        return ""
    strip, *decided = events
    when = day_and_time(parse_wall(strip.wall), unit.settings.zone)
    said = [say("lookback.held_since", when=when, why=in_words(strip.data["holds_why"]))]
    said += [
        say("lookback.decided", decision=_decision(event.data["decision"]), name=unit.name_of(event.by),
            reason=event.data["reason"])
        for event in decided
    ]  # fmt: skip
    return "; ".join(said)


def _decision(decision: str) -> str:
    return next((say(key) for key in (f"stored.{decision}", f"decide.{decision}") if has(key)), decision)


# How a value of an event is put into words; any other stands as it is.
_WORDED: Mapping[str, Callable[[str], str]] = {
    "title": bath_title, "type": shipped, "decision": _decision, "reason": in_words,
    "expires": lambda day: full_day_words(parse_date(day)), "holds": lambda tags: say("lookback.holds", tags=tags),
    "what": lambda what: say(f"word.{what}") if has(f"word.{what}") else what,
    "result": lambda result: say(f"fact.strip.{result}") if has(f"fact.strip.{result}") else result,
}  # fmt: skip


def other_row(event: Event, unit: Unit) -> FactRow:
    """Promise an event that belongs to no cycle."""
    when = day_and_time(parse_wall(event.wall), unit.settings.zone)
    about = say(
        "lookback.event", what=f"{do_words(event.kind)} {event.subject}", when=when, name=unit.name_of(event.by)
    )
    parts = [_WORDED[name](value) if name in _WORDED else value for name, value in told(event)]
    return FactRow(about, ", ".join(parts) or say("lookback.no_more"))
