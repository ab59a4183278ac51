"""A lane: one scope on the Bench, with what it needs next and for how long."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import BooleanProperty, OptionProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.coil import Coil
from screens.widgets.drawn import Drawn, brush, ground, outline
from screens.widgets.figure import Figure
from screens.widgets.press import Pressable
from screens.widgets.state_mark import StateMark
from screens.widgets.still import Still
from screens.widgets.text import Fitted, Words, line_height_px

# Room above and below the words of a lane.
_EDGE_DP = 3.0


class Plate(Drawn):
    """What of a lane stays as it is from one second to the next: its ground and all its words but the time."""

    level = OptionProperty("calm", options=["calm", "ready", "over"])
    held = BooleanProperty(False)
    redraw_on = ("level", "held")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self.tag = Fitted(step="tag", bold=True)
        self.family = Fitted(step="detail", role="quiet")
        self.step = Words(step="title", bold=True)
        self.step.shrink_far()
        self.detail = Words(step="detail", role="quiet")
        self.mark = StateMark()
        self.foot = BoxLayout(orientation="vertical", size_hint_y=None, spacing=0)
        self.foot.add_widget(self.detail)
        self.foot.add_widget(self.mark)
        self.foot.bind(minimum_height=self.foot.setter("height"))
        for widget in (self.tag, self.family, self.step, self.foot):
            self.add_widget(widget)

    def draw(self) -> None:
        """Draw the ground, the crimson edge of a lane over its limit, and a frame while it is held."""
        ground(self.x, self.y, self.width, self.height, self.level == "over")
        if self.held:
            brush("ink")
            outline(self.x, self.y, self.width, self.height, dp(theme.RADIUS_DP), dp(3))


class Lane(Pressable):
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

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self.coil = Coil(size_hint=(None, None))
        self._plate = Plate()
        self._figure = Figure(step="lane")
        self._still = Still(self._plate)
        for widget in (self._still, self._figure):
            self.add_widget(widget)
        plate = self._plate
        for block in (plate.step, plate.foot):
            block.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        # Each text goes its own way: most seconds change the figure and nothing else, and move nothing.
        places = {name: getattr(plate, name) for name in ("tag", "family", "step", "detail")}
        for name, label in {**places, "figure": self._figure}.items():
            self.fbind(name, label.setter("text"))
            label.text = getattr(self, name)
        for name in ("level", "held"):
            self.fbind(name, plate.setter(name))
        self.fbind("mark", plate.mark.setter("kind"))
        plate.level, plate.mark.kind = self.level, self.mark
        for name in ("level", "with_coil"):
            self.fbind(name, self._dress)
        self._dress()

    def _dress(self, *_: Any) -> None:
        urgent = "over_text" if self.level == "over" else "ink"
        for label in (self._plate.tag, self._figure):
            label.paint(urgent)
        if self.with_coil and self.coil.parent is None:
            self.add_widget(self.coil)
        elif not self.with_coil and self.coil.parent is not None:
            self.remove_widget(self.coil)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        plate, figure = self._plate, self._figure
        pad, gap = dp(theme.PAD_DP), dp(theme.GAP_DP)
        column, coil = dp(theme.TAG_COLUMN_DP), dp(theme.COIL_DP) if self.with_coil else 0.0
        left = self.x + pad + column
        # A coil over its limit keeps its size and says so below.
        coil_high = coil + (line_height_px("mark") if self.level == "over" and coil else 0.0)
        upper = max(plate.step.height + figure.height, coil_high)
        self.height = max(upper + plate.foot.height + 2 * dp(_EDGE_DP), dp(theme.TARGET_CYCLE_DP))
        right = self.x + self.width
        ceiling = self.y + self.height - (self.height - upper - plate.foot.height) / 2.0
        plate.tag.size = (column - gap, plate.tag.height)
        plate.tag.pos = (self.x + pad, ceiling - plate.tag.height)
        plate.family.size = (column - gap, plate.family.height)
        plate.family.pos = (self.x + pad, plate.tag.y - plate.family.height)
        plate.step.width = figure.width = max(1.0, right - pad - coil - (gap if coil else 0.0) - left)
        plate.step.pos = (left, ceiling - plate.step.height)
        figure.pos = (left, plate.step.y - figure.height)
        self.coil.size = (coil, coil_high)
        self.coil.pos = (right - pad - coil, ceiling - coil_high)
        plate.foot.width = max(1.0, right - pad - left)
        plate.foot.pos = (left, ceiling - upper - plate.foot.height)
        # Part by part: while a size is being set, Kivy's `size` and `pos` still give those from before.
        still = self._still
        still.x, still.y, still.width, plate.height = self.x, self.y, self.width, self.height
