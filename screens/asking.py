"""Pages that are put over another page: a question before a serious command, the typing page, who somebody is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.widget import Widget

from protocols.numerals import plain_number
from protocols.unit import Person
from screens import theme
from screens.page import Page
from screens.widgets.button import BigButton
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.key_room import KeyRoom, row
from screens.widgets.keypad import Keypad
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Fitted, Words, line_height_px
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

# Keypad for each kind of value, and the longest text of it.
_KEYS = {
    "number": ("figures", 8),
    "minutes": ("figures", 4),
    "clock": ("figures", 5),
    "tag": ("tags", 24),
    "case": ("tags", 24),
    "name": ("names", 40),
    "text": ("words", 60),
    "pick": ("tags", 24),
    "pin": ("figures", 12),
}


class AskPage(Page):
    """Asks once more. The answer that changes something lies away from where the finger that asked was."""

    with_tabs = False

    def __init__(self, shell: Shell, words: str, yes: str, then: Callable[[], object], no: str = "") -> None:
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        self._then = then
        self.add_widget(Widget())
        self.add_widget(Words(words, step="headline", bold=True))
        self.add_widget(Widget())
        self.yes = BigButton(yes, look="over")
        self.no = BigButton(no or say("shell.no"), look="plain")
        self.yes.bind(on_command=lambda *_: self._answer())
        self.no.bind(on_command=lambda *_: shell.close_over(self))
        self.add_widget(self.no)
        self.add_widget(self.yes)

    def _answer(self) -> None:
        self.shell.close_over(self)
        self._then()


class TypePage(Page):
    """The typing page: what is typed, large, over the keypad. Done gives the value once."""

    with_tabs = False

    def __init__(
        self, shell: Shell, words: str, kind: str, then: Callable[[Any], None], unit: str = "", start: str = ""
    ) -> None:
        margin = dp(theme.MARGIN_DP)
        super().__init__(shell, padding=(margin, dp(4), margin, dp(4)))
        self._kind, self._then, self._unit, self._start = kind, then, unit, start
        keys, longest = _KEYS[kind]
        self._title = Question(words)
        self._shown = Fitted("", step="headline", bold=True, halign="center")
        self._keypad = Keypad(kind=keys, longest=longest, text=start)
        self._keypad.bind(on_typed=lambda *_: self._typed(), on_done=lambda _, text: self._done(text))
        self.leave = BigButton(say("shell.back"), small=True, look="plain")
        self.leave.bind(on_command=lambda *_: shell.back())
        self._field = _Field(self._shown)
        self.add_widget(KeyRoom(self._keypad, self._lay))

    def _lay(self, low: bool) -> tuple[Sequence[Widget], Sequence[Widget]]:
        """On a low screen figures leave room for all at their side; letters take the width, and leave a line above."""
        letters = low and self._keypad.kind != "figures"
        self._title.high = low
        self.leave.size_hint_x = 1 if letters else 0.3
        if letters:
            return [self.leave, self._title], [self._field, self._keypad]
        top = row(self.leave, self._field)
        return ([top, self._title], [Widget(), self._keypad]) if low else ([], [self._title, top, self._keypad])

    def refresh(self) -> None:
        """Show what is typed so far."""
        text = "*" * len(self._keypad.text) if self._kind == "pin" else self._keypad.text
        self._shown.text = f"{text} {self._unit}".strip() if text else self._unit or "…"

    def _typed(self) -> None:
        # What was wrong stands there until something else is typed, however often the page is refreshed meanwhile.
        self._title.ask()
        self.refresh()

    def unfinished(self) -> bool:
        """Say whether something was typed."""
        return bool(self._keypad.text) and self._keypad.text != self._start

    def scanned(self, text: str) -> bool:
        """A scan is typed whole, and done; nobody scans a PIN."""
        if self._kind == "pin":
            return False
        self._keypad.text = text
        self._done(text)
        return True

    def _done(self, text: str) -> None:
        text = text.strip(" ")
        if not text:
            self._title.correct(say("shell.type_more"))
            return
        value: Any = text
        if self._kind in ("number", "minutes"):
            value = plain_number(text.replace(",", "."))  # a scanner may send a comma
            if value is None:
                self._title.correct(say("shell.not_a_number", text=text))
                return
            if self._kind == "minutes":
                value = round(value * 60)
        self.shell.close_over(self)
        self._then(value)


class Question(Widget):
    """What is asked for, above the keys, as large as the room that the keys leave allows; or what was wrong with it."""

    def __init__(self, words: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._asked = words
        self._words = {step: Words("", step=step, bold=True) for step in ("title", "body", "detail", "mark")}
        self._shown = self._words["title"]
        self._role = "ink"
        # Beside keys it stands at the top, above them near to what is typed.
        self.high = False
        self._again = Clock.create_trigger(self._arrange, -1)
        for name in ("pos", "size"):
            self.fbind(name, self._again)
        self.ask()

    def ask(self) -> None:
        """Show the question."""
        self._tell(self._asked, "ink")

    def correct(self, words: str) -> None:
        """Show what is wrong with what was typed, in place of the question."""
        self._tell(words, "over_text")

    def _tell(self, words: str, role: str) -> None:
        if self._shown.text == words and self._role == role:
            return
        self._shown.text, self._role = words, role
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        text = self._shown.text
        for words in self._words.values():
            words.width, words.text = max(1.0, self.width), text
            words.texture_update()
            self._shown = words
            if words.texture_size[1] <= self.height:
                break
        self._shown.paint(self._role)
        if self.children != [self._shown]:
            self.clear_widgets()
            self.add_widget(self._shown)
        self._shown.pos = (self.x, self.y + (self.height - self._shown.texture_size[1] if self.high else 0))


class _Field(Drawn):
    """The ground on which the typed text stands."""

    def __init__(self, text: Fitted) -> None:
        super().__init__(size_hint_x=0.7)
        self._text = text
        self.add_widget(text)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def _arrange(self, *_: Any) -> None:
        pad = dp(theme.PAD_DP)
        self._text.width = max(1.0, self.width - 2 * pad)
        # Where keys leave only a line, what is typed is as large as that line.
        self._text.height = min(line_height_px("headline"), max(1.0, self.height))
        self._text.never_above(self._text.height / 1.2)
        self._text.pos = (self.x + pad, self.y + (self.height - self._text.height) / 2.0)

    def draw(self) -> None:
        """Draw a ground of its own colour with a line below, unlike any button."""
        brush("rail")
        card(self.x, self.y, self.width, self.height, dp(6))
        brush("ink")
        stroke([self.x + dp(6), self.y + dp(2), self.far_x - dp(6), self.y + dp(2)], dp(2.5))


class WhoPage(Page):
    """The people of the unit as tiles; `then` gets the one pressed, once they have shown who they are.

    `proof` False is for choosing whom something is about, not who gives a command.
    """

    with_tabs = False

    def __init__(
        self,
        shell: Shell,
        then: Callable[[Person], None],
        leads: bool = False,
        words: str = "",
        proof: bool = True,
    ) -> None:
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        self._then, self._proof, self._leads = then, proof, leads
        unit = self.desk.unit
        people: Sequence[Person] = [p for p in unit.people.values() if unit.lead(p.id) or not leads]
        title = words or say("shell.who_leads") if people else say("shell.no_lead")
        leaves = Leaves()
        leaves.show([self._tile(p) for p in people])
        leave = BigButton(say("shell.back"), look="plain", small=True)
        leave.bind(on_command=lambda *_: shell.back())
        self.add_widget(Split(leaves, [Words(title, step="headline", bold=True)], [leave], side=0.5))

    def _tile(self, person: Person) -> BigButton:
        tile = BigButton(person.name, say(f"role.{person.role}"), look="plain")
        tile.bind(on_command=lambda *_: self._chosen(person))
        return tile

    def scanned(self, text: str) -> bool:
        """A badge is its person's tile."""
        person = self.desk.by_badge(text)
        if person is None or (self._leads and not self.desk.unit.lead(person.id)):
            return False
        self._chosen(person)
        return True

    def _chosen(self, person: Person) -> None:
        self.shell.close_over(self)
        if self._proof:
            self.shell.identify(person, self._then)
        else:
            self._then(person)
