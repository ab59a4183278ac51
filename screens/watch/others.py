"""The unit's other handhelds as of their last exports, each with its age: what was under way there then."""

from __future__ import annotations

from typing import Any

from kivy.uix.widget import Widget

from data.others import Other, ScopeSeen, Unread
from protocols.clock import Stamp, local, longest_s
from protocols.errors import BasinbellError
from screens.background import Background
from screens.heading import Titled, under
from screens.moments import day_and_time, span_words
from screens.posting import on_screen
from screens.send.sending import Sending
from screens.shown import error_words, step_words
from screens.widgets.card import Card
from screens.words import say

# How often others' exports are looked at while somebody watches, and from which age a card stands out. Own figures.
LOOK_S, OLD_S = 120.0, 86_400.0
# More scopes than this on one card are more than a glance takes in: own figure.
_MOST = 6


class OthersPart:
    """Keeps the cards of other handhelds; looks at their exports on a thread of its own."""

    def __init__(self, sending: Sending) -> None:
        self._sending = sending
        self._title = Titled(say("others.title"))
        self._cards: dict[str, Card] = {}
        self._found: list[Other | Unread] = []
        self._fault = ""
        self._looked: Stamp | None = None
        self.background = Background("others", on_screen)

    def look(self, now: Stamp) -> None:
        """Look at the exports, if the last look is long enough ago."""
        if self.background.busy or (self._looked is not None and longest_s(self._looked, now) < LOOK_S):
            return
        self._looked = now
        job = self._sending.way.others(self._found, self._sending.state.asks)
        if job is not None:
            self.background.run(job, self._came)

    def _came(self, answer: Any) -> None:
        if isinstance(answer, BasinbellError):
            # What was seen before stays, with its age; why it can't be brought up to date is said beside it.
            self._fault = error_words(answer)
        else:
            self._found, self._fault = answer, ""

    def blocks(self, now: Stamp, zone: str) -> list[Widget]:
        """Give the section's blocks, none where there are no other handhelds."""
        cards: list[Widget] = [self._card(one, now, zone) for one in self._found]
        if cards and self._fault:
            fault = self._kept("")
            fault.tell("", "", say("others.away", why=self._fault))
            cards.append(fault)
        return under(self._title, cards)

    def _kept(self, name: str) -> Card:
        if name not in self._cards:
            self._cards[name] = Card(leads=False)
        return self._cards[name]

    def _card(self, one: Other | Unread, now: Stamp, zone: str) -> Card:
        card = self._kept(f"{one.device} {getattr(one, 'key', '')}")
        if isinstance(one, Unread):
            card.tell("", "", one.device, "", [say("others.unread", why=one.why)], "", "over")
            return card
        age_s = max(0.0, (now.wall_ms - one.as_of_ms) / 1000)
        lines = [say("others.as_of", when=day_and_time(one.as_of_ms, zone), age=span_words(age_s))]
        shown = [_scope(scope, one.as_of_ms, zone) for scope in one.scopes[:_MOST]]
        if len(one.scopes) > _MOST:
            shown.append(say("chart.more", count=len(one.scopes) - _MOST))
        lines.append(say("others.in_work", scopes=", ".join(shown)) if shown else say("others.none"))
        if one.baths:
            lines.append(say("others.baths", labels=", ".join(one.baths)))
        name = say("others.name", device=one.device, unit=one.unit)
        card.tell("", "", name, "", lines, "", "near" if age_s > OLD_S else "calm")
        return card


def _scope(scope: ScopeSeen, as_of_ms: int, zone: str) -> str:
    since, then = local(scope.since_ms, zone), local(as_of_ms, zone)
    when = f"{since:%H:%M}" if since.date() == then.date() else day_and_time(scope.since_ms, zone)
    if scope.waits:
        return say("others.waits", tag=scope.tag, when=when)
    return say("others.scope", tag=scope.tag, step=step_words(scope.step), when=when)
