"""The part of the Watch about scopes between their cycles: its headings, its cards, and where each leads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.uix.widget import Widget

from protocols.clock import Stamp
from screens.heading import Titled, under
from screens.watch import between
from screens.watch.between import Row
from screens.widgets.card import Card
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class BetweenPart:
    """Builds the blocks of each section as of now; cards are kept while they are wanted."""

    def __init__(self, shell: Shell) -> None:
        self._shell = shell
        self._cards: dict[tuple[str, str], Card] = {}
        names = ("acknowledge", "offered", "not_in", "service", "due")
        self._titles = {name: Titled(say(f"watch.title.{name}")) for name in names}
        self._in_use = Words("", role="quiet")
        self._more = Words("", step="detail", role="quiet")

    def urgent(self, now: Stamp, families: dict[str, str]) -> list[Widget]:
        """Promise what stands above the baths: soaks to be looked at, cycles not confirmed, scopes not come in."""
        unit = self._shell.desk.unit
        return [
            *self._section("acknowledge", between.to_acknowledge(unit), side=True),
            *self._section("offered", between.offered(unit, now)),
            *self._section("not_in", between.not_come_in(unit, now, families)),
        ]

    def calm(self, now: Stamp, families: dict[str, str]) -> list[Widget]:
        """Promise what stands below: in use, not in service, due."""
        unit = self._shell.desk.unit
        self._in_use.text = between.in_use(unit)
        rows, self._more.text = between.due(unit, now)
        return [
            *([self._in_use] if self._in_use.text else []),
            *self._section("service", between.not_in_service(unit, now, families)),
            *self._section("due", rows),
            *([self._more] if self._more.text else []),
        ]

    def forget(self) -> None:
        """Let the cards of what is gone go."""
        self._cards.clear()

    def _section(self, name: str, rows: list[Row], side: bool = False) -> list[Widget]:
        return under(self._titles[name], [self._card(name, row, side) for row in rows])

    def _card(self, section: str, row: Row, side: bool) -> Card:
        key = (section, f"{row.name} {row.title}" if section == "due" else row.name)
        card = self._cards.get(key)
        if card is None:
            card = self._cards[key] = Card(side=say("watch.seen") if side else "")
            card.bind(on_command=lambda *_: self._open(row), on_side=lambda *_: self._seen(row))
        # What is due says in its title what it is about; a tag in large letters is a scope's.
        card.tell("" if section == "due" else row.name, row.family, row.title, row.over, row.details, "", row.level)
        return card

    def _open(self, row: Row) -> None:
        self._shell.go(row.page, **({"tag": row.name} if row.page in ("scope", "steps") else {}))

    def _seen(self, row: Row) -> None:
        """Whoever came in says that they have looked at it; anybody else is asked to sign in as them first."""
        shift, desk = self._shell.desk.unit.shift, self._shell.desk
        if shift is None:
            return
        incoming = desk.unit.people.get(shift.incoming)
        if incoming is None or desk.by == shift.incoming:
            self._shell.give("acknowledge", row.name)
        else:
            self._shell.identify(incoming, lambda person: self._shell.give("acknowledge", row.name, by=person.id))
