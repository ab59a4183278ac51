"""The app's own keypad: every key on one plane, each at least 9 mm, for gloved typing."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import BooleanProperty, NumericProperty, OptionProperty, StringProperty
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, outline, stroke
from screens.widgets.keypad_keys import KINDS, Key, columns_for, key_rows
from screens.widgets.press import Pressable
from screens.widgets.text import Fitted
from screens.words import say


class KeyCap(Pressable, Drawn):
    """One key of the keypad."""

    redraw_on = ("held", "disabled")

    def __init__(self, key: Key, char_step: str, **kwargs: Any) -> None:
        self.key = key
        super().__init__(size_hint=(None, None), **kwargs)
        if key.action:
            words = say(f"keypad.{key.action}")
        else:
            words = say("keypad.space") if key.char == " " else key.char
        single = len(words) == 1
        role = "act_ink" if key.action == "done" else "ink"
        self._words = Fitted(words, step=char_step if single else "title", role=role, bold=True, halign="center")
        self.add_widget(self._words)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def _arrange(self, *_: Any) -> None:
        inset = dp(3)
        self._words.width = max(1.0, self.width - 2 * inset)
        lift = dp(9) if self.key.action == "erase" else 0.0
        self._words.pos = (self.x + inset, self.y + (self.height - self._words.height) / 2.0 - lift)

    def draw(self) -> None:
        """Draw the cap; a held one is framed, erase carries a drawn arrow to the left."""
        done = self.key.action == "done"
        brush("act" if done else "panel")
        card(self.x, self.y, self.width, self.height, dp(9))
        brush("act_ink" if done and self.held else "ink" if self.held else "rule")
        edge = dp(3.5) if self.held else dp(theme.RULE_DP)
        if self.held or not done:
            outline(self.x, self.y, self.width, self.height, dp(9), edge)
        if self.key.action == "erase":
            brush("ink")
            x, y, reach, wing = self.mid_x, self.mid_y + dp(11), dp(11), dp(6)
            stroke([x + reach, y, x - reach, y], dp(2.6))
            stroke([x - reach + wing, y + wing, x - reach, y, x - reach + wing, y - wing], dp(2.6))


class Keypad(Widget):
    """Types into `text`; dispatches `on_typed` with the text after each key and `on_done` with it at the end.

    `kind` is tags (letters, figures, hyphen), words (letters, figures, space), names (letters, hyphen,
    space) or figures. `longest` is the
    number of characters after which keys type nothing more. `low` sets the figures, which else are higher, as low as
    the other keys. A scanner that acts as a keyboard may call `press_char` as well.
    """

    __events__ = ("on_typed", "on_done")
    text = StringProperty("")
    kind = OptionProperty("tags", options=list(KINDS))
    longest = NumericProperty(24)
    low = BooleanProperty(False)

    def __init__(self, **kwargs: Any) -> None:
        self._caps: list[list[KeyCap]] = []
        self._built = ("", 0)
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        for name in ("pos", "size", "kind", "low"):
            self.fbind(name, self._arrange)
        self._arrange()

    def on_typed(self, text: str) -> None:
        """Do nothing by itself; the page binds it."""

    def on_done(self, text: str) -> None:
        """Do nothing by itself; the page binds it."""

    def press_char(self, char: str) -> bool:
        """Type a character; answer False when there is no such key or the text is full."""
        known = any(cap.key.char == char for row in self._caps for cap in row)
        if not known or len(self.text) >= self.longest:
            return False
        self.text += char
        self.dispatch("on_typed", self.text)
        return True

    def _press(self, cap: KeyCap) -> None:
        if cap.key.action == "done":
            self.dispatch("on_done", self.text)
        elif cap.key.action == "erase":
            if self.text:
                self.text = self.text[:-1]
                self.dispatch("on_typed", self.text)
        else:
            self.press_char(cap.key.char)

    def _arrange(self, *_: Any) -> None:
        gap, least = dp(theme.GAP_DP), dp(theme.TARGET_OTHER_DP)
        columns = columns_for(self.kind, self.width, least, gap)
        if self._built != (self.kind, columns):
            self._build(columns)
        high = dp(theme.TARGET_CYCLE_DP) * 0.8 if self.kind == "figures" and not self.low else least
        self.height = len(self._caps) * (high + gap) - gap
        wide = (self.width - (columns - 1) * gap) / columns
        for number, row in enumerate(self._caps):
            x, y = self.x, self.y + self.height - (number + 1) * high - number * gap
            for cap in row:
                cap.size = (max(1.0, cap.key.span * wide + (cap.key.span - 1) * gap), high)
                cap.pos = (x, y)
                x += cap.width + gap

    def _build(self, columns: int) -> None:
        self.clear_widgets()
        char_step = "tag" if self.kind == "figures" else "headline"
        self._caps = [[KeyCap(key, char_step) for key in row] for row in key_rows(self.kind, columns)]
        for row in self._caps:
            for cap in row:
                cap.bind(on_command=self._press)
                self.add_widget(cap)
        self._built = (self.kind, columns)
