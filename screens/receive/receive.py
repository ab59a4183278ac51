"""The Receive page: tag, case, end of the procedure, pre-clean; as few taps as there are answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.uix.widget import Widget

from protocols.clock import local
from screens.page import Page
from screens.plan_words import advice_words
from screens.planning import Asked
from screens.receive.answers import AGO_MIN, Answers, ago_ms, asked_of
from screens.receive.taking import Taking
from screens.receive.tiles import tile, tile_rows
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Words
from screens.words import say, shipped

if TYPE_CHECKING:
    from screens.shell import Shell

OUT_OF_SERVICE = "out of service"


class Receive(Page):
    """Asks one thing after the other; the last press says how the pre-clean stands and gives the command."""

    key = "receive"
    tab = "bench"
    above_dp = 4.0

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.taking = Taking(shell)
        self._built: object = None
        self.title = Words("", step="headline", bold=True)
        self.how = Words("", step="body", role="quiet")
        self.warning = Words("", step="body", role="over_text", bold=True)
        self.leaves = Leaves()
        self.leave = BigButton(say("shell.back"), small=True, look="plain")
        self.leave.bind(on_command=lambda *_: self.shell.back())
        self.add_widget(Split(self.leaves, [self.title, self.how], [self.leave], side=0.6))

    @property
    def answers(self) -> Answers:
        """Give the answers so far."""
        return self.taking.answers

    # --- coming and going

    def entered(self, **what: Any) -> None:
        """Take up a tag that was scanned or pressed elsewhere."""
        if what.get("tag"):
            self.taking.take_tag(str(what["tag"]), ask=False)

    def left(self) -> None:
        """Forget the answers: they belong to one receipt."""
        self.taking.answers = Answers()
        if self.shell.planning is not None:
            self.shell.planning.ask(Asked())

    def unfinished(self) -> bool:
        """Say whether answers would be lost."""
        return self.answers.unfinished

    def back(self) -> bool:
        """Take the last answer back, one at a time."""
        said = self.answers
        if said.ended_said:
            said.ended_said, said.ended_ms = False, None
        elif said.case:
            self.taking.ask_case()
        elif said.tag:
            said.tag = ""
        else:
            return False
        return True

    def scanned(self, text: str) -> bool:
        """A known tag is the scope, anything else the case of the scope that is being received."""
        tag = self.taking.known(text)
        if tag is not None:
            self.taking.take_tag(tag, ask=False)
            return True
        if not self.answers.tag:
            return False
        self.taking.take_case(text)
        return True

    # --- showing

    def refresh(self) -> None:
        """Show what is to be answered next; nothing is rebuilt while the question stays the same."""
        said = self.answers
        self._warn()
        stage = "scope" if not said.tag else "case" if not said.case else "end" if not said.ended_said else "give"
        said_so_far = (said.tag, said.case, said.ended_ms, said.kind, said.by, said.wanted_ms)
        key = (stage, *said_so_far, self._tags(), round(self.width))
        if key == self._built:
            return
        self._built = key
        blocks = {"scope": self._scopes, "case": self._case, "end": self._ends, "give": self._gives}[stage]()
        self.leaves.to_top()
        self.leaves.show(blocks)

    def _warn(self) -> None:
        """Say what starting this scope now would do to the others; it is advice, and every button stays."""
        planning, said = self.shell.planning, self.answers
        if planning is None:
            return
        unit = self.desk.unit
        asked = asked_of(said, unit, self.desk.door.shelf)
        planning.ask(asked)
        planned = planning.advice(said.tag) if said.tag else None
        words = "" if planned is None else advice_words(planned, self.desk.now(), unit.settings.zone)
        self.warning.text = words
        if words and self.warning.parent is None:
            self.add_widget(self.warning, index=len(self.children))  # above all else
        elif not words and self.warning.parent is not None:
            self.remove_widget(self.warning)

    def _tags(self) -> tuple[tuple[str, bool], ...]:
        """Every scope that may come in, with whether it is out of service."""
        unit = self.desk.unit
        return tuple(
            (tag, scope.last is not None and scope.last.outcome == OUT_OF_SERVICE)
            for tag, scope in sorted(unit.scopes.items())
            if tag not in unit.cycles
        )

    def _head(self, title: str, how: str) -> None:
        self.title.text, self.how.text = title, how

    def _scopes(self) -> list[Widget]:
        tags = self._tags()
        if not tags:
            self._head(say("receive.none"), say("receive.none_how"))
            return []
        self._head(say("receive.which"), say("receive.which_how"))
        tiles = []
        for tag, out in tags:
            one = BigButton(tag, say("receive.out") if out else "", look="plain")
            one.disabled = out
            one.bind(on_command=lambda _, tag=tag: self.taking.take_tag(tag))
            tiles.append(one)
        blocks = tile_rows(self.width, tiles, [tag for tag, _ in tags], "button")
        typing = BigButton(say("receive.type"), look="plain")
        typing.bind(
            on_command=lambda *_: self.shell.ask_text(say("receive.which"), "tag", lambda text: self.shell.find(text))
        )
        return [*blocks, typing]

    def _case(self) -> list[Widget]:
        self._head(self._scope_words(), say("receive.case_how"))
        button = BigButton(say("receive.type_case"))
        button.bind(on_command=lambda *_: self.taking.ask_case())
        return [button]

    def _ends(self) -> list[Widget]:
        case = say("receive.case_line", case=self.answers.case)
        self._head(say("receive.ended"), f"{self._scope_words()}, {case}")
        words = [say("receive.ago", minutes=m) if m else say("receive.now") for m in AGO_MIN]
        tiles = [
            tile(w, lambda m=m: self.taking.take_end(ago_ms(m, self.desk.now())))
            for w, m in zip(words, AGO_MIN, strict=True)
        ]
        tiles.append(tile(say("receive.unknown"), lambda: self.taking.take_end(None)))
        tiles.append(tile(say("receive.type_time"), self.taking.ask_time))
        return tile_rows(self.width, tiles, [say("receive.unknown")], "title")

    def _gives(self) -> list[Widget]:
        said, unit = self.answers, self.desk.unit
        ended = say("receive.ended_unknown")
        if said.ended_ms is not None:
            ended = say("receive.ended_at", time=f"{local(said.ended_ms, unit.settings.zone):%H:%M}")
        self._head(self._scope_words(), f"{say('receive.case_line', case=said.case)}, {ended}")
        late = say("receive.delayed")
        yes = BigButton(say("receive.yes"), late if said.ended_ms is None else "")
        no = BigButton(say("receive.no"), late, look="plain")
        unknown = BigButton(say("receive.no_idea"), late, look="plain")
        for button, answer in ((yes, "yes"), (no, "no"), (unknown, "unknown")):
            button.bind(on_command=lambda _, answer=answer: self.taking.give(answer, self.warning.text))
        by = BigButton(say("receive.by"), said.by or say("receive.by_nobody"), look="plain")
        by.bind(on_command=lambda *_: self.taking.open_names())
        kind = BigButton(said.kind, say("steps.change_pick"), look="plain")
        kind.bind(on_command=lambda *_: self.taking.ask_kind())
        for button in (by, kind):
            button.set_step("title")
        rows: list[Widget] = [yes, ButtonRow([no, unknown]), ButtonRow([by, kind])]
        if self.shell.planning is not None:
            at = f"{local(said.wanted_ms, unit.settings.zone):%H:%M}" if said.wanted_ms else say("receive.wanted_none")
            wanted = BigButton(say("receive.wanted"), at, look="plain")
            wanted.set_step("title")
            wanted.bind(on_command=lambda *_: self.taking.ask_wanted())
            rows.append(wanted)
        return rows

    def _scope_words(self) -> str:
        unit = self.desk.unit
        scope = unit.scopes.get(self.answers.tag)
        sha = unit.protocols.get(scope.protocol) if scope else None
        family = shipped(self.desk.door.shelf.protocol(sha).family) if sha else ""
        return f"{self.answers.tag}  {family}".strip()
