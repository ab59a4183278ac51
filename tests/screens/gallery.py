"""Pages of widgets in telling states, for golden pictures and for a person to look at."""

from __future__ import annotations

from collections.abc import Callable

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout
from kivy.uix.widget import Widget

from screens.widgets.banner import Banner
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.caution import Caution
from screens.widgets.coil import Coil
from screens.widgets.keypad import Keypad
from screens.widgets.lane import Lane
from screens.widgets.pips import Pips
from screens.widgets.sketch import StepSketch
from screens.widgets.state_mark import StateMark
from screens.widgets.step_dots import StepDots
from screens.widgets.tabs import Tabs
from screens.widgets.text import Words
from screens.widgets.timeline import Timeline
from screens.widgets.timeline_shape import HandsNeeded


def column(*widgets: Widget) -> BoxLayout:
    """Stack widgets from the top."""
    box = BoxLayout(orientation="vertical", padding=dp(12), spacing=dp(8))
    for widget in widgets:
        box.add_widget(widget)
    box.add_widget(Widget())
    return box


def coils() -> Widget:
    """Every liquid in every state."""
    grid = GridLayout(cols=4, padding=dp(8), spacing=dp(8))
    for liquid in ("detergent", "disinfectant", "water", "air"):
        for state, share in (("filling", 0.12), ("filling", 0.6), ("ready", 1.0), ("over", 1.0)):
            size = (dp(76), dp(96))
            grid.add_widget(Coil(liquid=liquid, state=state, share=share, size_hint=(None, None), size=size))
    return grid


def lanes() -> Widget:
    """Three scopes: ready, soaking in disinfectant, over a limit."""
    ready = Lane(tag="B2", family="broncho", step="Lift out of detergent", figure="ready", level="ready")
    ready.detail = "ready 0:12 ago, soaked 5:12 of 5:00"
    ready.coil.state = "ready"
    soaking = Lane(tag="C1", family="colono", step="Soak, disinfectant", figure="4:36")
    soaking.detail = "lift out 10:47, limit 10:55"
    soaking.coil.liquid, soaking.coil.share = "disinfectant", 0.6
    over = Lane(tag="D3", family="duodeno", step="Rinse now", figure="OVER 6:05", level="over", mark="disinfected")
    over.detail = "out of disinfectant at 10:31"
    over.coil.liquid, over.coil.state = "disinfectant", "over"
    return column(over, ready, soaking)


def step() -> Widget:
    """The parts of a step with a count."""
    tabs = Tabs([("bench", "Bench"), ("watch", "Watch 2"), ("ledger", "Ledger"), ("send", "Send")])
    tabs.chosen = "bench"
    undo, wrong = (BigButton(words, look="plain", small=True) for words in ("Undo", "Something is wrong"))
    page = column(
        Banner("D3", "rinse now, over limit 6:05", level="over"),
        Words("Flush the biopsy channel", step="headline", bold=True),
        StepDots(kinds=["done"] * 8 + ["now", "wait", "todo", "todo", "wait", "todo"]),
        Pips(done=2, needed=3, each="20 mL"),
        BigButton("Flushed", "2 of 3 done, 20 mL each"),
        Caution("Splash: keep the tip and port under the surface.", "Eye shield, gloves over cuffs."),
        ButtonRow([undo, wrong]),
    )
    page.padding = (dp(12), dp(6), dp(12), 0)
    whole = BoxLayout(orientation="vertical")
    whole.add_widget(page)
    whole.add_widget(tabs)
    return whole


def marks() -> Widget:
    """Marks, strips and counts of other sizes."""
    strip, crowded = Timeline(), Timeline()
    strip.tell(
        [
            HandsNeeded("D3", -365, 60, "over"),
            HandsNeeded("B2", -12, 60, "ready"),
            HandsNeeded("G7", 216, 120),
            HandsNeeded("C1", 276, 150),
            HandsNeeded("B4", 780, 180),
        ],
        "G7 and C1 clash 10:46",
        [(0, "now"), (600, "10:52"), (1200, "11:02")],
    )
    crowded.tell([HandsNeeded(f"B{number}", number * 15.0, 120.0) for number in range(12)], "12 scopes clash 10:42")
    return column(
        strip,
        crowded,
        StateMark(),
        StateMark(kind="disinfected"),
        StateMark(kind="released"),
        Pips(done=4, needed=7, each="3 mL"),
        Pips(done=11, needed=24),
    )


def buttons() -> Widget:
    """Buttons and banners of every look."""
    looks = [BigButton(f"Rinse {look}", look=look) for look in ("act", "plain", "ink", "over")]
    banners = [Banner("G7", "lift out of detergent", level=level) for level in ("ready", "soon")]
    return column(*looks, *banners)


def keypad() -> Widget:
    """The keypad for tags, and a button that cannot be pressed yet."""
    later = BigButton("Receive", "type the tag first")
    later.disabled = True
    return column(Keypad(kind="tags"), later)


def sketches() -> Widget:
    """Drawings of steps: an opening, a leak, a channel, a part to wipe, the elevator from near."""
    steps = ("brush-air-water-cylinder", "leak-test", "brush-biopsy-channel", "wipe-insertion", "flush-elevator-raised")
    return column(*(StepSketch(step=step) for step in steps))


PAGES: dict[str, Callable[[], Widget]] = {
    "coils": coils,
    "lanes": lanes,
    "step": step,
    "marks": marks,
    "buttons": buttons,
    "keypad": keypad,
    "sketches": sketches,
}
