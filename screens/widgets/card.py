"""A card: one scope or one bath as the shift lead sees it, with what is known of it in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.input.motionevent import MotionEvent
from kivy.metrics import dp
from kivy.properties import BooleanProperty, NumericProperty, OptionProperty
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, ground, outline
from screens.widgets.press import Pressable
from screens.widgets.state_mark import StateMark
from screens.widgets.text import Fitted, Words, width_px

_BAR_DP = 9.0
# A tag is set no smaller than this share of its size, unless its column would take more than that share of the card.
_TAG_LEAST, _TAG_MOST = 0.62, 0.4
_BAR_ROLES = {"calm": "fill", "near": "caution_sign", "over": "over"}


class SideKey(Pressable, Drawn):
    """A small second button on a card, at least 9 mm high; its one word shrinks to its width."""

    chosen = BooleanProperty(False)
    redraw_on = ("held", "chosen")

    def __init__(self, words: str, **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_x", None)
        super().__init__(size_hint_y=None, height=dp(theme.TARGET_OTHER_DP), **kwargs)
        self._words = Fitted(words, step="body", bold=True, halign="center")
        self.add_widget(self._words)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def set_words(self, words: str, chosen: bool = False) -> None:
        """Change the word, and whether the key stands out as chosen."""
        self._words.text, self.chosen = words, chosen
        self._words.paint("ready_ink" if chosen else "ink")

    def _arrange(self, *_: Any) -> None:
        self._words.width = max(1.0, self.width - dp(8))
        self._words.pos = (self.x + dp(4), self.y + (self.height - self._words.height) / 2.0)

    def draw(self) -> None:
        """Draw the outline, heavier while held; a chosen key is filled."""
        if self.chosen:
            brush("ready")
            card(self.x, self.y, self.width, self.height, dp(10))
        brush("ink" if self.held else "todo")
        outline(self.x, self.y, self.width, self.height, dp(10), dp(3) if self.held else dp(theme.RULE_DP))


class Card(Pressable, Drawn):
    """Shows a tag with what it belongs to, a title, lines of detail, and where given a figure, a mark and a bar.

    `level` over draws the crimson edge. A card that leads nowhere (`leads` False) takes no press. `side` gives a
    second button under the tag. Dispatches `on_command` when pressed, `on_side` when the second button is.
    """

    __events__ = ("on_side",)
    level = OptionProperty("calm", options=["calm", "near", "over"])
    leads = BooleanProperty(True)
    share = NumericProperty(-1.0)
    redraw_on = ("level", "held", "share")

    def __init__(self, side: str = "", leads: bool = True, **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        super().__init__(leads=leads, **kwargs)
        self._told: tuple[Any, ...] = ()
        self._tag = Fitted(step="tag", bold=True)
        self._family = Fitted(step="detail", role="quiet")
        self._title = Words(step="title", bold=True)
        self._figure = Fitted(step="headline", role="over_text", bold=True)
        self._lines: list[Words] = []
        self._mark = StateMark()
        self._stack = BoxLayout(orientation="vertical", size_hint_y=None, spacing=dp(2))
        self._stack.bind(minimum_height=self._stack.setter("height"))
        self._side = SideKey(side) if side else None
        for widget in (self._tag, self._family, self._stack, *([self._side] if self._side else [])):
            self.add_widget(widget)
        if self._side is not None:
            self._side.bind(on_command=lambda *_: self.dispatch("on_side"))
        self._stack.fbind("height", self._arrange)
        for name in ("pos", "size", "share"):
            self.fbind(name, self._arrange)

    def on_side(self) -> None:
        """Do nothing by itself; the page binds it."""

    def tell(
        self,
        tag: str,
        family: str = "",
        title: str = "",
        figure: str = "",
        lines: Sequence[str] = (),
        mark: str = "",
        level: str = "calm",
        share: float | None = None,
    ) -> None:
        """Show all of this at once; the same again costs nothing. `share` is 0 to 1, None for no bar."""
        told = (tag, family, title, figure, tuple(lines), mark, level, share)
        if told == self._told:
            return
        rebuilt = not self._told or (len(self._told[4]), bool(self._told[3]), self._told[5]) != (
            len(told[4]), bool(figure), mark
        )  # fmt: skip
        self._told = told
        self._tag.text, self._family.text, self._title.text, self._figure.text = tag, family, title, figure
        self.level, self.share = level, -1.0 if share is None else share
        self._tag.paint("over_text" if level == "over" else "ink")
        if rebuilt:
            self._stack.clear_widgets()
            self._lines = [Words(step="detail", role="quiet") for _ in lines]
            shown = [self._title, *([self._figure] if figure else []), *self._lines, *([self._mark] if mark else [])]
            for widget in shown:
                self._stack.add_widget(widget)
        for label, line in zip(self._lines, lines, strict=True):
            label.text = line
        if mark:
            self._mark.kind = mark
        self._arrange()

    def _column(self) -> float:
        """A card without a tag needs no column for one; a long tag gets a wider one, so that it stays readable."""
        if not self._tag.text and self._side is None:
            return 0.0
        readable = width_px(self._tag.text, "tag", bold=True) * _TAG_LEAST + dp(theme.GAP_DP)
        return float(max(dp(theme.TAG_COLUMN_DP), min(readable, self.width * _TAG_MOST)))

    def _arrange(self, *_: Any) -> None:
        pad, column = dp(theme.PAD_DP), self._column()
        side = self._side.height + dp(4) if self._side is not None else 0.0
        left_high = self._tag.height + (self._family.height if self._family.text else 0.0) + side
        bar = dp(_BAR_DP) + dp(6) if self.share >= 0 else 0.0
        self.height = max(left_high, self._stack.height + bar) + 1.6 * pad
        ceiling = self.far_y - 0.8 * pad
        for label, below in ((self._tag, 0.0), (self._family, self._tag.height)):
            label.width = max(1.0, column - dp(theme.GAP_DP))
            label.pos = (self.x + pad, ceiling - below - label.height)
        if self._side is not None:
            self._side.width = column - dp(theme.GAP_DP)
            self._side.pos = (self.x + pad, self.y + 0.8 * pad)
        left = self.x + pad + column
        self._stack.width = max(1.0, self.far_x - pad - left)
        self._stack.pos = (left, ceiling - self._stack.height)

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Give the touch to the second button where it lies on it."""
        if self._side is not None and self._side.collide_point(*touch.pos):
            return bool(self._side.on_touch_down(touch))
        return super().on_touch_down(touch) if self.leads else False

    def draw(self) -> None:
        """Draw the ground, the crimson edge, the bar, and a frame while held."""
        ground(self.x, self.y, self.width, self.height, self.level == "over")
        if self.share >= 0:
            pad, high = dp(theme.PAD_DP), dp(_BAR_DP)
            left, low = self.x + pad + self._column(), self.y + 0.8 * pad
            wide = self.far_x - pad - left
            brush("track")
            card(left, low, wide, high, high / 2.0)
            if self.share > 0:
                brush(_BAR_ROLES[self.level])
                card(left, low, max(high, wide * min(1.0, self.share)), high, high / 2.0)
        if self.held:
            brush("ink")
            outline(self.x, self.y, self.width, self.height, dp(theme.RADIUS_DP), dp(3))
