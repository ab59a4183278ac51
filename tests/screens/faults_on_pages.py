"""What is wrong with a screen, read from the widget tree and from its picture: texts, targets, contrast.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import harness
import numpy
from kivy.core.window import Window
from kivy.metrics import dp
from reading import text_box, visible, walk

from screens import theme
from screens.bench.bench import Bench
from screens.receive.receive import Receive
from screens.steps.steps import Steps
from screens.strip import Strip
from screens.widgets.button import BigButton
from screens.widgets.figure import Figure
from screens.widgets.press import Pressable
from screens.widgets.tabs import Tab

Box = tuple[float, float, float, float]

# Own figures (look.md has no published ones for gloves): 15 mm for what is pressed in a cycle, 9 mm elsewhere.
CYCLE_MM, OTHER_MM, GAP_DP = 15.0, 9.0, 8.0
_SLACK_PX = 1.5
# Steps of type in which times and instructions are set; WCAG 2.2, 1.4.6 asks 7:1 there, 1.4.3 asks 4.5:1 elsewhere.
_READ_FAST = ("shout", "figure", "headline", "button")


def faults(screen: harness.Screen) -> list[str]:
    """Name every text that is cut off, lies over another or leaves its button, and every target too small or near."""
    return [*screen.clipped(), *screen.overlapping(), *_out_of_their_button(screen), *small_targets(screen)]


def box(widget: Any) -> Box:
    """Give left, low, right and high of a widget in window pixels."""
    left, low = widget.to_window(widget.x, widget.y)
    return left, low, left + widget.width, low + widget.height


def targets(screen: harness.Screen) -> list[Any]:
    """Give everything that can be pressed now; the strip of answers, which a press only puts away, may be near."""
    return [widget for widget in walk(screen.root) if isinstance(widget, Pressable) and _can_be_pressed(widget)]


def _can_be_pressed(widget: Any) -> bool:
    if isinstance(widget, Strip) or widget.disabled or not getattr(widget, "leads", True):
        return False
    return visible(widget) and widget.height > 0


def small_targets(screen: harness.Screen) -> list[str]:
    """Name every target that is lower or narrower than promised, and pairs that are nearer than 8 dp."""
    found = []
    boxes = [(widget, box(widget)) for widget in targets(screen)]
    for widget, (left, low, right, high) in boxes:
        least = theme.dp_of_mm(CYCLE_MM if _in_a_cycle(widget) else OTHER_MM)
        if high - low < dp(least) - _SLACK_PX:
            found.append(f"{name(widget)} is {high - low:.0f} px high, {dp(least):.0f} are promised")
        if right - left < dp(theme.dp_of_mm(OTHER_MM)) - _SLACK_PX:
            found.append(f"{name(widget)} is {right - left:.0f} px wide, 9 mm are promised")
    for at, (one, first) in enumerate(boxes):
        for other, second in boxes[at + 1 :]:
            if isinstance(one, Tab) and isinstance(other, Tab):
                continue  # tabs fill their row; each is wider than the promise and its gap together
            across = max(second[0] - first[2], first[0] - second[2])
            upwards = max(second[1] - first[3], first[1] - second[3])
            if max(across, upwards) < dp(GAP_DP) - _SLACK_PX and not _nested(one, other):
                found.append(f"{name(one)} and {name(other)} are {max(across, upwards):.0f} px apart")
    return found


def _nested(one: Any, other: Any) -> bool:
    return any(parent is other for parent in _parents(one)) or any(parent is one for parent in _parents(other))


def _in_a_cycle(widget: Any) -> bool:
    """Large buttons of Bench, Steps and Receive give commands of a cycle; bars that turn a leaf give none."""
    if not isinstance(widget, BigButton) or widget.least_height < dp(theme.TARGET_CYCLE_DP):
        return False
    return any(isinstance(parent, Bench | Steps | Receive) for parent in _parents(widget))


def _parents(widget: Any) -> Iterator[Any]:
    while widget.parent is not None and widget.parent is not widget:
        widget = widget.parent
        yield widget


def name(widget: Any) -> str:
    """Give a target as a person would: by its words."""
    words = [label.text for label in walk(widget) if getattr(label, "text", "")]
    return f"{type(widget).__name__} {' / '.join(words)[:40]!r}"


def _out_of_their_button(screen: harness.Screen) -> list[str]:
    found = []
    for label in screen.shown_labels():
        left, low, right, high = text_box(label)
        for parent in _parents(label):
            if isinstance(parent, Pressable):
                edges = box(parent)
                out = max(edges[0] - left, edges[1] - low, right - edges[2], high - edges[3])
                if out > _SLACK_PX:
                    found.append(f"{label.text!r} reaches {out:.0f} px out of {name(parent)}")
                break
    return found


def contrasts(screen: harness.Screen) -> list[str]:
    """Name every text whose colour stands too little out from what the picture really shows around it."""
    picture = numpy.asarray(screen.picture())
    found = []
    for label in screen.shown_labels():
        left, low, right, high = (round(edge) for edge in text_box(label))
        part = picture[max(0, Window.height - high) : Window.height - low, max(0, left) : right]
        if part.size == 0:
            continue
        # The commonest colour around the words is their ground: letters cover less than half of their box.
        packed = part.reshape(-1, 3)[::3].astype(numpy.uint32) @ numpy.array([65536, 256, 1], dtype=numpy.uint32)
        colours, counts = numpy.unique(packed, return_counts=True)
        ground = f"{colours[counts.argmax()]:06X}"
        ink = "".join(f"{round(level * 255):02X}" for level in _ink(label)[:3])
        ratio = theme.contrast(ink, ground)
        least = 7.0 if getattr(label, "step", "") in _READ_FAST and not quiet(label) else 4.5
        if ratio < least - 0.01:
            found.append(f"{label.text!r}: {ink} on {ground} is {ratio:.2f}:1, needs {least}:1")
    return found


def _ink(label: Any) -> Any:
    if isinstance(label, Figure):
        return label._colour.rgba
    return label.disabled_color if label.disabled else label.color


def quiet(label: Any) -> bool:
    """Say whether a text may be quiet: it can't be pressed, or its words were set small where there was little room."""
    return bool(label.disabled)
