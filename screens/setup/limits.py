"""Limit sets: each of a kind side by side with its source, how sources disagree, and what was chosen by whom."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from kivy.uix.widget import Widget

from protocols.clock import parse_date
from protocols.limits import KINDS, LimitSet
from protocols.stock import Chosen
from screens.asking import WhoPage
from screens.heading import Head
from screens.moments import full_day_words, span_words
from screens.page import Page
from screens.setup.lists import ListPage
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.fact_row import FactRow
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell

_SPANS = frozenset(("limit_s_max", "warn_s", "hang_s_max"))
_DAY_S = 86_400


def value_words(name: str, value: float) -> str:
    """Promise a figure of a limit set with its unit."""
    return say(f"limit.{name}", value=span_words(value) if name in _SPANS else f"{value:g}")


class LimitsPage(ListPage):
    """A card for each kind of limit: the set that was chosen, or that the protocol's own figures hold."""

    key = "setup-limits"
    title = "setup.limits"
    empty = "setup.none"

    def cards(self) -> list[Card]:
        return [self._kind(kind) for kind in KINDS]

    def _kind(self, kind: str) -> Card:
        chosen = self.desk.unit.limits.get(kind)
        lines = [chosen_words(self.shell, chosen)] if chosen else [say("limit.own")]
        return self.card(
            kind, lambda: self.shell.go("setup-limit", kind=kind), "", "", say(f"limit.kind.{kind}"), lines=lines
        )


def chosen_words(shell: Shell, chosen: Chosen) -> str:
    """Promise which set was chosen, by whom and when."""
    known = shell.desk.door.shelf.limits.sets.get(chosen.id)
    title = shipped(known.title) if known is not None else chosen.id
    day = full_day_words(parse_date(chosen.day)) if chosen.day else say("fact.unknown")
    return say("limit.chosen", title=title, name=shell.desk.unit.name_of(chosen.by), day=day)


class LimitPage(Page):
    """The sets of one kind. The choosing lead reads the disagreement first, and once more in the question."""

    key = "setup-limit"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._kind = KINDS[0]
        self._shown: Any = None
        self._head = Head("", back=shell.back)
        self._leaves = Leaves()
        self.add_widget(self._head)
        self.add_widget(self._leaves)

    def entered(self, **what: Any) -> None:
        """Show the kind that is asked for."""
        self._kind = str(what.get("kind", self._kind))
        self._leaves.to_top()

    def refresh(self) -> None:
        """Show the sets, and which one holds."""
        chosen = self.desk.unit.limits.get(self._kind)
        if (self._kind, chosen) == self._shown:
            return
        self._shown = (self._kind, chosen)
        self._head.set_words(say(f"limit.kind.{self._kind}"))
        self._leaves.show(list(self._blocks(chosen)))

    def _blocks(self, chosen: Chosen | None) -> Iterator[Widget]:
        limits = self.desk.door.shelf.limits
        yield FactRow(say("limit.disagree"), shipped(limits.disagree[self._kind]))
        yield Words(chosen_words(self.shell, chosen) if chosen else say("limit.own"), bold=True)
        if chosen is not None:
            drop = BigButton(say("limit.drop"), small=True, look="plain")
            drop.bind(on_command=lambda *_: self._lead(lambda lead: self._drop(chosen, lead)))
            yield drop
        for one in limits.sets.values():
            if one.kind == self._kind:
                yield self._set(one, chosen)

    def _set(self, one: LimitSet, chosen: Chosen | None) -> Card:
        held = chosen is not None and chosen.id == one.id
        card = Card(leads=not held or one.assessed)
        by_source: dict[str, list[str]] = {}
        for name, figure in one.figures.items():
            by_source.setdefault(_source(figure.source, figure.how), []).append(value_words(name, figure.value))
        lines = [f"{', '.join(values)}: {source}" for source, values in by_source.items()]
        if held and one.assessed and chosen is not None and chosen.hang_s_max is not None:
            lines.append(value_words("hang_s_max", chosen.hang_s_max))
        if one.origin:
            lines.append(say(f"limit.from.{one.origin}"))
        lines += [_source(one.source, one.how)] if one.source else []
        lines += [shipped(one.says)] if one.says else []
        lines.append(say("limit.holds") if held else say("limit.choose"))
        card.tell("", "", shipped(one.title), lines=lines)
        card.bind(on_command=lambda *_: self._lead(lambda lead: self._choose(one, lead)))
        return card

    # --- choosing

    def _lead(self, then: Any) -> None:
        if self.desk.unit.lead(self.desk.by):
            then(self.desk.by)
        else:
            self.shell.over(WhoPage(self.shell, lambda who: then(who.id), leads=True))

    def _choose(self, one: LimitSet, lead: str) -> None:
        if one.assessed:
            self.shell.ask_text(say("limit.days"), "number", lambda days: self._sure(one, lead, {"storage_d": days}))
        else:
            self._sure(one, lead, {})

    def _sure(self, one: LimitSet, lead: str, more: dict[str, Any]) -> None:
        name, disagree = self.desk.unit.name_of(lead), self.desk.door.shelf.limits.disagree[self._kind]
        words = say("limit.sure", name=name, title=shipped(one.title), disagree=shipped(disagree))
        self.shell.confirm(words, say("limit.yes"), lambda: self._give(one.id, {"seen": True, **more}, lead))

    def _drop(self, chosen: Chosen, lead: str) -> None:
        words = say("limit.drop_sure", name=self.desk.unit.name_of(lead))
        self.shell.confirm(words, say("limit.drop"), lambda: self._give(chosen.id, {"drop": True}, lead))

    def _give(self, name: str, values: dict[str, Any], lead: str) -> None:
        self.shell.give("choose-limits", name, values, by=lead)


def _source(source: str, how: str) -> str:
    return say("figure.source", source=shipped(source), how=say(f"how.{how}"))
