"""A form: one large row for each thing to give, and one button that gives the command. Nothing typed is lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from kivy.uix.widget import Widget

from protocols.clock import parse_date
from screens.heading import Head
from screens.moments import full_day_words, span_words
from screens.page import Page
from screens.setup.choosing import ChoosePage, DatePage, Option
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to give. `kind` is a kind of `Shell.ask_text`, or choose, date, recent (a date up to today), switch.

    `options` gives what may be chosen, asked for when the row is pressed.
    """

    name: str
    words: str
    kind: str
    optional: bool = False
    options: Callable[[], Sequence[Option]] = tuple


class FormPage(Page):
    """Subclasses say which fields there are now, the words of the button, and what it does."""

    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.values: dict[str, Any] = {}
        self.above: Sequence[Widget] = ()
        self._rows: dict[str, BigButton] = {}
        self._head = Head("", back=shell.back)
        self._leaves = Leaves()
        self._submit = BigButton("", small=True)
        self._submit.bind(on_command=lambda *_: self._go_on())
        self.add_widget(Split(self._leaves, [self._head], [self._submit], side=0.75))

    # --- for subclasses

    def title(self) -> str:
        """Give the words at the head of the form."""
        raise NotImplementedError(f"{type(self).__name__} has no title")

    def fields(self) -> list[Field]:
        """Give the fields as they are now; one may depend on what was given before."""
        raise NotImplementedError(f"{type(self).__name__} has no fields")

    def submit_words(self) -> str:
        """Give the words of the button once all is given."""
        raise NotImplementedError(f"{type(self).__name__} has no button")

    def submit_under(self) -> str:
        """Give the small words of the button once all is given."""
        return say("form.all_given")

    def submit(self) -> None:
        """Give the command; called only once nothing is missing."""
        raise NotImplementedError(f"{type(self).__name__} does nothing")

    # --- the page

    def entered(self, **what: Any) -> None:
        """Begin with an empty form when asked to, else go on with what was given."""
        if what.get("fresh"):
            self.values = {}
            self._leaves.to_top()

    def left(self) -> None:
        """Forget what was given: the shell has asked first where anything would be lost."""
        self.values = {}

    def unfinished(self) -> bool:
        """Say whether something was given that leaving would lose."""
        return bool(self.values)

    def refresh(self) -> None:
        """Show every field with what was given, and what is still missing."""
        fields = self.fields()
        for field in fields:
            row = self._rows.get(field.name)
            if row is None:
                row = self._rows[field.name] = BigButton("", small=True, look="plain")
                row.bind(on_command=self._presser(field.name))
            row.set_words(*self._row_words(field))
        self._head.set_words(self.title())
        self._leaves.show([*self.above, *(self._rows[field.name] for field in fields)])
        missing = self._missing()
        if missing:
            left = say("form.left", count=len(missing)) if len(missing) > 1 else say("form.last")
            self._submit.set_words(say("form.next", what=missing[0].words), left)
        else:
            self._submit.set_words(self.submit_words(), self.submit_under())
        self._submit.look = "ink" if missing else "act"

    def _missing(self) -> list[Field]:
        return [f for f in self.fields() if not f.optional and f.kind != "switch" and not self._given(f)]

    def _given(self, field: Field) -> bool:
        # Nought is a figure like any other: what goes into the record must stand on the page.
        return self.values.get(field.name) not in (None, "")

    def _go_on(self) -> None:
        """One button leads through: it asks for what is missing next, and gives the command when nothing is."""
        missing = self._missing()
        if missing:
            self._ask(missing[0])
        else:
            self.submit()

    def finished(self, go: str, **what: Any) -> None:
        """Forget what was given, now that it is recorded, and show another page."""
        self.values = {}
        self.shell.go(go, **what)

    def put(self, name: str, value: Any) -> None:
        """Take a value into the form."""
        self.values[name] = value
        self.refresh()

    def _row_words(self, field: Field) -> tuple[str, str]:
        """What was given is what must be read back, so it is the large words once it is there."""
        value = self.values.get(field.name)
        if field.kind == "switch":
            return field.words, say("form.yes") if value else say("form.no")
        if not self._given(field):
            return field.words, say("form.optional") if field.optional else say("form.give")
        return self._shown(field, value), field.words

    @staticmethod
    def _shown(field: Field, value: Any) -> str:
        if field.kind == "choose":
            return next((option.words for option in field.options() if option.key == value), str(value))
        if field.kind == "minutes":
            return span_words(value)
        if field.kind == "number":
            return f"{value:g}"
        return full_day_words(parse_date(value)) if field.kind in ("date", "recent") else str(value)

    def _typed(self, field: Field) -> str:
        """Give what was typed for a field before, as it was typed."""
        value = self.values.get(field.name, "")
        if field.kind == "minutes" and value != "":
            return f"{value / 60:g}"
        return f"{value:g}" if field.kind == "number" and value != "" else str(value)

    def _presser(self, name: str) -> Callable[..., None]:
        def press(*_: Any) -> None:
            field = next(f for f in self.fields() if f.name == name)
            self._ask(field)

        return press

    def _ask(self, field: Field) -> None:
        def take(value: Any) -> None:
            self.put(field.name, value)

        if field.kind == "switch":
            take(not self.values.get(field.name))
        elif field.kind == "choose":
            self.shell.over(ChoosePage(self.shell, field.words, field.options(), take))
        elif field.kind in ("date", "recent"):
            self.shell.over(DatePage(self.shell, field.words, take, recent=field.kind == "recent"))
        else:
            self.shell.ask_text(field.words, field.kind, take, start=self._typed(field))
