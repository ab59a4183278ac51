"""A lane: one scope on the Bench, with what it needs next and for how long."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import BooleanProperty, OptionProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.coil import Coil
from screens.widgets.drawn import Drawn, brush, card, outline
from screens.widgets.figure import Figure
from screens.widgets.press import Pressable
from screens.widgets.state_mark import StateMark
from screens.widgets.text import Fitted, Words, line_height_px

# Room above and below the words of a lane.
_EDGE_DP = 3.0


class Lane(Pressable, Drawn):
    """Shows tag and family, the step, the time, a line of detail, the mark of dirty and clean, and the coil.

    Set `level` to over for a scope over a limit: its tag and time turn crimson and a bar runs down its edge.
    A lane whose step has no time shows no coil (`with_coil` False). Dispatches `on_command` when pressed.
    """

    tag = StringProperty("")
    family = StringProperty("")
    step = StringProperty("")
    figure = StringProperty("")
    detail = StringProperty("")
    level = OptionProperty("calm", options=["calm", "ready", "over"])
    mark = OptionProperty("not_disinfected", options=["not_disinfected", "disinfected", "released"])
    with_coil = BooleanProperty(True)
    redraw_on = ("level", "held")

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self.coil = Coil(size_hint=(None, None))
        self._tag = Fitted(step="tag", bold=True)
        self._family = Fitted(step="detail", role="quiet")
        self._step = Words(step="title", bold=True)
        self._figure = Figure(step="lane")
        self._detail = Words(step="detail", role="quiet")
        self._mark = StateMark()
        self._texts = BoxLayout(orientation="vertical", size_hint_y=None)
        self._texts.add_widget(self._step)
        self._texts.add_widget(self._figure)
        self._texts.bind(minimum_height=self._texts.setter("height"))
        self._foot = BoxLayout(orientation="vertical", size_hint_y=None, spacing=0)
        self._foot.add_widget(self._detail)
        self._foot.add_widget(self._mark)
        self._foot.bind(minimum_height=self._foot.setter("height"))
        for widget in (self._tag, self._family, self._texts, self._foot):
            self.add_widget(widget)
        for block in (self._texts, self._foot):
            block.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        # Each text goes its own way: most seconds change the figure and nothing else, and move nothing.
        for name in ("tag", "family", "step", "figure", "detail"):
            self.fbind(name, getattr(self, f"_{name}").setter("text"))
            getattr(self, f"_{name}").text = getattr(self, name)
        self.fbind("mark", self._mark.setter("kind"))
        self._mark.kind = self.mark
        for name in ("level", "with_coil"):
            self.fbind(name, self._dress)
        self._dress()

    def _dress(self, *_: Any) -> None:
        urgent = "over_text" if self.level == "over" else "ink"
        for label in (self._tag, self._figure):
            label.paint(urgent)
        if self.with_coil and self.coil.parent is None:
            self.add_widget(self.coil)
        elif not self.with_coil and self.coil.parent is not None:
            self.remove_widget(self.coil)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        pad, gap = dp(theme.PAD_DP), dp(theme.GAP_DP)
        column, coil = dp(theme.TAG_COLUMN_DP), dp(theme.COIL_DP) if self.with_coil else 0.0
        left = self.x + pad + column
        # A coil over its limit keeps its size and says so below.
        coil_high = coil + (line_height_px("mark") if self.level == "over" and coil else 0.0)
        upper = max(self._texts.height, coil_high)
        edge = dp(_EDGE_DP)
        self.height = max(upper + self._foot.height + 2 * edge, dp(theme.TARGET_CYCLE_DP))
        ceiling = self.far_y - (self.height - upper - self._foot.height) / 2.0
        self._tag.size = (column - gap, self._tag.height)
        self._tag.pos = (self.x + pad, ceiling - self._tag.height)
        self._family.size = (column - gap, self._family.height)
        self._family.pos = (self.x + pad, self._tag.y - self._family.height)
        self._texts.width = max(1.0, self.far_x - pad - coil - (gap if coil else 0.0) - left)
        self._texts.pos = (left, ceiling - self._texts.height)
        self.coil.size = (coil, coil_high)
        self.coil.pos = (self.far_x - pad - coil, ceiling - coil_high)
        self._foot.width = max(1.0, self.far_x - pad - left)
        self._foot.pos = (left, ceiling - upper - self._foot.height)

    def draw(self) -> None:
        """Draw the ground, the crimson edge of a lane over its limit, and a frame while it is held."""
        radius = dp(theme.RADIUS_DP)
        brush("panel")
        card(self.x, self.y, self.width, self.height, radius)
        if self.level == "over":
            brush("over")
            card(self.x, self.y + radius, dp(7), self.height - 2 * radius, dp(3.5))
        if self.held:
            brush("ink")
            outline(self.x, self.y, self.width, self.height, radius, dp(3))
