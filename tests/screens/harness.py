"""Real rendering for tests without a screen: show widgets, touch by coordinates, read what is shown.

Importing this module sets the environment and must come before anything imports Kivy. Rendering goes through
the software OpenGL of the machine; when there is none, or when frames come out blank, HarnessError is raised:
these tests never pass by not looking.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

if "kivy" in sys.modules:
    raise ImportError("kivy was imported before tests/screens/harness.py set its environment; import the harness first")

_HOME = tempfile.TemporaryDirectory(prefix="screens-test-")
os.environ.update(
    {
        "KIVY_NO_ARGS": "1",  # else Kivy reads the arguments of pytest as its own
        "KIVY_HOME": _HOME.name,
        "KIVY_NO_FILELOG": "1",
        "KIVY_NO_ENV_CONFIG": "1",
        "KIVY_LOG_MODE": "PYTHON",
        "KIVY_METRICS_DENSITY": "1",
        "KIVY_METRICS_FONTSCALE": "1",
        "SDL_VIDEODRIVER": "offscreen",
        "SDL_AUDIODRIVER": "dummy",
    }
)
os.environ.pop("KIVY_GL_BACKEND", None)  # the mock backend draws nothing and loses tests in silence

from kivy.config import Config  # noqa: E402

# An offscreen surface never grows after it was made, so it is made as large as the largest screen tested.
SURFACE_PX = 1600
Config.set("graphics", "width", str(SURFACE_PX))
Config.set("graphics", "height", str(SURFACE_PX))
Config.set("graphics", "multisamples", "0")
Config.set("graphics", "maxfps", "0")  # frames are advanced by the tests; no waiting between them
Config.set("kivy", "exit_on_escape", "0")

from kivy.base import EventLoop  # noqa: E402
from kivy.clock import Clock  # noqa: E402
from kivy.core.window import Window  # noqa: E402
from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, GL_VERSION, glGetString, glReadPixels  # noqa: E402
from kivy.input.motionevent import MotionEvent  # noqa: E402
from kivy.metrics import Metrics  # noqa: E402
from kivy.uix.label import Label  # noqa: E402
from kivy.uix.widget import Widget  # noqa: E402
from PIL import Image  # noqa: E402
from reading import broken_words, has_text, text_box, visible, walk  # noqa: E402

from screens import theme  # noqa: E402
from screens.widgets.figure import Figure  # noqa: E402


class HarnessError(RuntimeError):
    """The machine cannot render, or a test asked for something that is not on the screen."""


def check_renders() -> str:
    """Give the OpenGL version; raises HarnessError when nothing real is drawing."""
    if Window is None:
        raise HarnessError("Kivy made no window: install Mesa (libegl1, libgles2, libgl1-mesa-dri) on this machine")
    version = glGetString(GL_VERSION)
    if not version:
        raise HarnessError("OpenGL answers no version: a mock or missing driver; nothing would really be drawn")
    return version.decode() if isinstance(version, bytes) else str(version)


class Finger(MotionEvent):
    """One finger on the glass, at window coordinates in pixels with y upwards."""

    _numbers = iter(range(1, 1_000_000))
    _now_s = 0.0

    def __init__(self, x: float, y: float) -> None:
        at = {"x": x / (Window.width - 1.0), "y": y / (Window.height - 1.0)}
        super().__init__("finger", next(self._numbers), at, is_touch=True, type_id="touch")
        self.profile = ["pos"]

    def depack(self, args: dict[str, float]) -> None:
        """Take a position from Kivy's normalised form."""
        self.sx, self.sy = args["x"], args["y"]
        super().depack(args)

    def down(self, later_s: float = 1.0) -> Finger:
        """Touch the glass, `later_s` seconds of finger time after the last touch of any finger."""
        Finger._now_s += later_s
        self.time_start = Finger._now_s
        EventLoop.post_dispatch_input("begin", self)
        return self

    def move(self, x: float, y: float) -> None:  # type: ignore[override]
        """Slide to another place."""
        super().move({"x": x / (Window.width - 1.0), "y": y / (Window.height - 1.0)})
        EventLoop.post_dispatch_input("update", self)

    def up(self) -> None:
        """Leave the glass."""
        self.time_end = Finger._now_s
        EventLoop.post_dispatch_input("end", self)


class Screen:
    """A window of a given size in dp that shows one widget tree at a time."""

    def __init__(self, width_dp: float, height_dp: float, font_scale: float, density: float, look: str) -> None:
        """Use `Screens.open`; makes the window that size, with nothing in it."""
        check_renders()
        width, height = round(width_dp * density), round(height_dp * density)
        if max(width, height) > SURFACE_PX:
            raise HarnessError(f"{width} x {height} px does not fit the surface of {SURFACE_PX} px; lower the density")
        Metrics.density, Metrics.fontscale = density, font_scale
        theme.use(look)
        Window.clearcolor = theme.rgba("ground")
        if EventLoop.status != "started":
            EventLoop.start()
        Window.size = (width, height)
        self.root: Widget | None = None
        # A test that reads the widget tree alone may leave out the drawing, which is what takes the time.
        self.drawing = True
        # The sizes in px that a walk lays every page out for, and whether it sees a page for the first time.
        self.walked: tuple[tuple[int, int], ...] = ()
        self.first_look = True
        self.frames(2)

    @property
    def size_now(self) -> str:
        """Give the size of the window in words."""
        return f"{Window.width} x {Window.height}"

    def show(self, root: Widget, frames: int = 6) -> Widget:
        """Put a widget tree on the screen in place of the last and let it lay itself out."""
        self.clear()
        self.root = root
        Window.add_widget(root)
        self.frames(frames)
        return root

    def clear(self) -> None:
        """Take everything off the screen."""
        for child in list(Window.children):
            Window.remove_widget(child)
        self.root = None

    def frames(self, count: int = 1) -> None:
        """Advance by this many frames: scheduled work, layout, drawing."""
        for _ in range(count):
            if self.drawing:
                EventLoop.idle()
            else:
                Clock.tick()
                Clock.tick_draw()

    def tap_at(self, x: float, y: float) -> None:
        """Tap with one finger at window pixels, y upwards."""
        finger = Finger(x, y).down()
        self.frames()
        finger.up()
        self.frames(3)

    def tap(self, what: Widget | str) -> None:
        """Tap the middle of a widget, or of the text on the screen that reads or contains `what`."""
        widget = self.find(what) if isinstance(what, str) else what
        x, y = widget.to_window(*widget.center)
        if not (0 <= x < Window.width and 0 <= y < Window.height):
            raise HarnessError(f"{what!r} lies at {x:.0f}, {y:.0f}, off the screen of {Window.width} x {Window.height}")
        self.tap_at(x, y)

    def shown_labels(self) -> list[Label]:
        """Give every label with text that is at least partly on the screen, top of the tree first."""
        return [label for label in walk(self.root) if has_text(label) and visible(label)]

    def texts(self) -> list[str]:
        """Give all texts on the screen."""
        return [label.text for label in self.shown_labels()]

    def find(self, text: str) -> Label:
        """Give the label that reads exactly `text`, else the first that contains it; raises HarnessError."""
        labels = self.shown_labels()
        for match in (lambda words: words == text, lambda words: text in words):
            for label in labels:
                if match(label.text):
                    return label
        raise HarnessError(f"{text!r} is not on the screen; what is: {self.texts()}")

    def clipped(self, slack_px: float = 1.5) -> list[str]:
        """Name every text that is cut off by its own label or by the edge of the window."""
        faults = []
        for label in self.shown_labels():
            left, low, right, high = text_box(label)
            wide, tall = label.text_size_px if isinstance(label, Figure) else label.texture_size
            if broken := broken_words(label):
                faults.append(f"{label.text!r}: {broken}")
            elif wide > label.width + slack_px or tall > label.height + slack_px:
                faults.append(f"{label.text!r}: {wide} x {tall} px in {label.width:.0f} x {label.height:.0f} px")
            elif (
                left < -slack_px
                or low < -slack_px
                or right > Window.width + slack_px
                or high > Window.height + slack_px
            ):
                faults.append(f"{label.text!r}: reaches over the edge of the screen")
        return faults

    def overlapping(self, slack_px: float = 2.0) -> list[str]:
        """Name every pair of texts whose boxes lie over each other."""
        boxes = [(label.text, text_box(label)) for label in self.shown_labels()]
        faults = []
        for at, (first, one) in enumerate(boxes):
            for second, other in boxes[at + 1 :]:
                across = min(one[2], other[2]) - max(one[0], other[0])
                upwards = min(one[3], other[3]) - max(one[1], other[1])
                if across > slack_px and upwards > slack_px * 2:
                    faults.append(f"{first!r} and {second!r} lie over each other")
        return faults

    def picture(self) -> Image.Image:
        """Give the screen as drawn now; raises HarnessError when it is blank although something is shown."""
        Window.dispatch("on_draw")
        raw = glReadPixels(0, 0, Window.width, Window.height, GL_RGBA, GL_UNSIGNED_BYTE)
        image = Image.frombytes("RGBA", (Window.width, Window.height), bytes(raw))
        image = image.transpose(Image.Transpose.FLIP_TOP_BOTTOM).convert("RGB")
        if self.root is not None and is_blank(image):
            raise HarnessError("the screen came out blank: one colour all over although widgets are shown")
        return image

    def save(self, path: Path | str) -> Path:
        """Write the screen as a PNG picture and give its path."""
        target = Path(path)
        target.parent.mkdir(parents=True, exist_ok=True)
        self.picture().save(target)
        return target


def open_screen(
    width_dp: float = 360,
    height_dp: float = 640,
    font_scale: float = 1.0,
    density: float = 1.0,
    look: str = "enamel",
) -> Screen:
    """Open the one window of the process at this size; what was on it is taken off."""
    screen = Screen(width_dp, height_dp, font_scale, density, look)
    screen.clear()
    return screen


def finish_reading(page: Any) -> None:
    """Wait for what a page reads off the screen's thread, if it reads anything so: never by time."""
    background = getattr(page, "background", None)
    if background is not None:
        background.finish()


def is_blank(image: Image.Image) -> bool:
    """Say whether a picture has one colour all over."""
    return all(low == high for low, high in image.getextrema())
