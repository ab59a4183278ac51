"""The chemistry claims: every figure with its source, what may be used by hand and why the rest may not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from kivy.uix.widget import Widget

from protocols.claims import claim_of, claims_of
from protocols.clock import parse_date
from protocols.model import Claim, Figure
from screens.heading import Head
from screens.moments import full_day_words
from screens.page import Page
from screens.setup.claim_words import FIGURES, conditions, figure_words, source_words, why_not
from screens.setup.lists import ListPage
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.fact_row import FactRow
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell

_ORDER = {"manual": 0, "machine": 2, "sterilant": 3, "unsuitable": 4}


class ChemistriesPage(ListPage):
    """Every claim: those that can be used by hand first."""

    key = "setup-chemistries"
    title = "setup.chemistries"
    empty = "setup.none"

    def cards(self) -> list[Card]:
        unit, shelf = self.desk.unit, self.desk.door.shelf
        found = claims_of(unit, shelf.claims).values()
        ordered = sorted(found, key=lambda c: (_ORDER[c.use] + (c.use == "manual" and not c.enabled), c.title))
        return [self._claim(claim) for claim in ordered]

    def _claim(self, claim: Claim) -> Card:
        confirmed = self.desk.unit.claims.get(claim.id)
        state = why_not(claim) or say("claim.ready")
        if confirmed is not None:
            day = full_day_words(parse_date(confirmed.day))
            state = say("claim.confirmed", name=self.desk.unit.name_of(confirmed.by), day=day)
        return self.card(
            claim.id, lambda: self.shell.go("setup-claim", claim=claim.id), "", "", shipped(claim.title),
            lines=[conditions(claim), state],
        )  # fmt: skip


class ClaimPage(Page):
    """One claim with every figure, its source and how it is known; a lead confirms it by the label in hand."""

    key = "setup-claim"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._claim = ""
        self._shown: Any = None
        self._leaves = Leaves()
        self._confirm = BigButton(say("claim.confirm"), small=True)
        self._confirm.bind(on_command=lambda *_: self.shell.go("setup-confirm", claim=self._claim, fresh=True))
        self.add_widget(Head(say("claim.title"), back=shell.back))
        self.add_widget(self._leaves)

    def entered(self, **what: Any) -> None:
        """Show the claim that is asked for; coming back shows the one from before."""
        if what.get("claim", self._claim) != self._claim:
            self._claim = what["claim"]
            self._leaves.to_top()

    def refresh(self) -> None:
        """Show the claim as it holds for the unit."""
        unit = self.desk.unit
        claim = claim_of(unit, self.desk.door.shelf, self._claim)
        if claim is None or (claim, unit.claims.get(self._claim)) == self._shown:
            return
        self._shown = (claim, unit.claims.get(self._claim))
        manual = claim.use == "manual"
        if self._confirm.parent is not None:
            self.remove_widget(self._confirm)
        if manual:
            self.add_widget(self._confirm)
        self._leaves.show(list(self._blocks(claim)))

    def _blocks(self, claim: Claim) -> Iterator[Widget]:
        yield Words(shipped(claim.title), step="title", bold=True)
        why = why_not(claim)
        if why:
            yield Words(say("claim.not_by_hand", why=why), role="over_text")
        confirmed = self.desk.unit.claims.get(claim.id)
        if confirmed is not None:
            name, day = self.desk.unit.name_of(confirmed.by), full_day_words(parse_date(confirmed.day))
            yield FactRow(say("claim.label"), confirmed.label, say("claim.confirmed", name=name, day=day))
        for name in FIGURES:
            figure: Figure | None = getattr(claim, name)
            if figure is not None:
                yield FactRow(
                    say(f"figure.{name}"), figure_words(name, figure), source_words(figure), figure.how == "memory"
                )
        if claim.strip_type:
            yield FactRow(say("claim.strips"), shipped(claim.strip_type))
        flags = [say(f"claim.{name}") for name in ("needs_activation", "single_use") if getattr(claim, name)]
        if flags:
            yield FactRow(say("claim.also"), ", ".join(flags))
        for name in ("gloves", "exposure", "never_for", "cautions"):
            told = getattr(claim, name)
            lines = (told,) if isinstance(told, str) else told
            if any(lines):
                yield FactRow(say(f"claim.about.{name}"), "\n".join(map(shipped, lines)), bad=name == "never_for")
