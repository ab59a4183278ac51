"""The big button: the full width of a gloved thumb, at least 15 mm high."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp
from kivy.properties import NumericProperty, OptionProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, outline
from screens.widgets.press import Pressable
from screens.widgets.text import Words

_LOOKS = {
    # look: (ground role, words role, outline role or none)
    "act": ("act", "act_ink", None),
    "plain": ("panel", "ink", "rule"),
    "ink": ("ready", "ready_ink", None),
    "over": ("over", "over_ink", None),
    "on_over": ("panel", "over_text", None),
    "on_ready": ("panel", "ink", None),
}


class BigButton(Pressable, Drawn):
    """A button of a cycle: `words` large, `under` small below; it grows when words need more lines.

    `look` is act (the main command), plain (a second command), ink, over, or on_over and on_ready for a
    button that lies on a panel of that colour. `small=True` gives the 9 mm button for things outside a cycle.
    """

    look = OptionProperty("act", options=list(_LOOKS))
    least_height = NumericProperty(0.0)
    needed_height = NumericProperty(0.0)
    redraw_on = ("look", "held", "disabled")

    def __init__(self, words: str = "", under: str = "", small: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("least_height", dp(theme.TARGET_OTHER_DP if small else theme.TARGET_CYCLE_DP))
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._words = Words(words, step="title" if small else "button", bold=True, halign="center")
        self._words.shrink_far()
        self._under = Words(under, step="detail", halign="center")
        # Without the height 0 an empty stack would keep the 100 px that Kivy gives every widget at first.
        self._stack = BoxLayout(orientation="vertical", size_hint_y=None, height=0)
        self._stack.add_widget(self._words)
        self._stack.add_widget(self._under)
        self._stack.bind(minimum_height=self._stack.setter("height"))
        self.add_widget(self._stack)
        self._stack.fbind("height", self._arrange)
        for name in ("pos", "size", "least_height"):
            self.fbind(name, self._arrange)
        self._dress()
        for name in ("look", "disabled"):
            self.fbind(name, self._dress)
        self._arrange()

    @property
    def words(self) -> str:
        """Give the large words of the button."""
        return str(self._words.text)

    @property
    def under(self) -> str:
        """Give the small words below."""
        return str(self._under.text)

    def set_step(self, step: str) -> None:
        """Set the large words in another type step of the theme."""
        self._words.set_step(step)
        self._arrange()

    def set_words(self, words: str, under: str = "") -> None:
        """Change what the button says."""
        self._words.text = words
        self._under.text = under
        self._arrange()

    def _dress(self, *_: Any) -> None:
        role = "quiet" if self.disabled else _LOOKS[self.look][1]
        self._words.paint(role)
        self._under.paint(role)
        # Kivy greys disabled text by itself to a colour that the theme does not know.
        for label in (self._words, self._under):
            label.disabled_color = theme.rgba("quiet")

    def _arrange(self, *_: Any) -> None:
        pad = dp(theme.PAD_DP)
        self.needed_height = self._stack.height + 2 * pad
        self.height = max(self.least_height, self.needed_height)
        self._stack.width = max(1.0, self.width - 2 * pad)
        self._stack.pos = (self.x + pad, self.y + (self.height - self._stack.height) / 2.0)

    def draw(self) -> None:
        """Draw the ground; a held button shows a frame, a disabled one only an outline."""
        ground, words_role, edge = _LOOKS[self.look]
        radius = dp(theme.RADIUS_DP)
        if self.disabled:
            brush("rule")
            outline(self.x, self.y, self.width, self.height, radius, dp(theme.RULE_DP))
            return
        brush(ground)
        card(self.x, self.y, self.width, self.height, radius)
        if self.held:
            brush(words_role)
            inset = dp(4)
            outline(
                self.x + inset,
                self.y + inset,
                self.width - 2 * inset,
                self.height - 2 * inset,
                radius - inset,
                dp(3),
            )
        elif edge:
            brush(edge)
            outline(self.x, self.y, self.width, self.height, radius, dp(theme.RULE_DP))


class ButtonRow(BoxLayout):
    """Buttons side by side, equally wide and as high as the one that needs most room."""

    def __init__(self, buttons: Sequence[BigButton], **kwargs: Any) -> None:
        super().__init__(orientation="horizontal", spacing=dp(theme.GAP_DP), size_hint_y=None, **kwargs)
        self._least = max(button.least_height for button in buttons)
        for button in buttons:
            self.add_widget(button)
            button.fbind("needed_height", self._level)
        self._level()

    def add_blank(self) -> None:
        """Leave the room of one button free at the right."""
        self.add_widget(Widget(size_hint_y=None, height=0))

    def _level(self, *_: Any) -> None:
        buttons = [child for child in self.children if isinstance(child, BigButton)]
        tallest = max([self._least, *(button.needed_height for button in buttons)])
        for button in buttons:
            button.least_height = tallest
        self.height = tallest
