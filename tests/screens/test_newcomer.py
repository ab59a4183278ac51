"""Somebody who has read only the first page of the README takes a scope from receipt to storage.

They read the picture of the screen before each touch, press words that they have just read, and wait as long as the
screen says. No scanner, no page called by name, no look at what the app knows: only at the end is the record opened.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import eyes
import harness
import stage
from kivy.uix.floatlayout import FloatLayout

from screens.widgets.text import Words

Open = Callable[..., harness.Screen]
README = Path(__file__).resolve().parents[2] / "README.md"
# Another scope, so that the unit has used baths and strips before.
OTHER = (stage.at("B2", "drying-air", stage.State.AIR_ON),)
# The stages that the README's first page names, each with how a step of it is called on the screen.
STAGES = (
    ("leak test", "Leak test"), ("manual cleaning", "Wipe control"), ("rinse", "Rinse outside"),
    ("inspection", "Inspect"), ("high-level disinfection", "Soak, disinfectant"), ("rinses", "Final rinse"),
    ("drying", "Drying air"), ("storage", "Hang up"),
)  # fmt: skip
# What hands and eyes have found, in the words of the screen; the first that can be read is pressed. What must never
# be pressed for it stands nowhere here: no fault, no early lift, nothing under "Something is wrong".
ANSWERS = (
    "Type the case", "5 min ago", "Received, pre-cleaned", "Ready", "Taken apart", "Tight", "Pour fresh detergent, W1",
    "20 °C", "Clean", "None seen", "Flushed", "Lift out", "Rinse started", "Rinsed", "Air pushed", "Not due today",
    "Strip passes", "70 % alcohol", "Air on", "Dry", "Another place", "Receive scope", "B5",
)  # fmt: skip
# What is typed on the keys, by the words above them.
TYPED = {"B5: Case reference": "26-4471", "Another place": "CAB 2"}
TOUCHES_MOST = 90
_READY_IN = re.compile(r"ready in (?:(\d+):)?(\d+):(\d\d)")


class Newcomer:
    """One person before one screen. `trail` holds the steps as the screen named them, `waits_s` each wait in s."""

    def __init__(self, app: stage.Stage) -> None:
        self.app = app
        self.trail: list[str] = []
        self.waits_s: list[int] = []
        self.touches = 0

    def look(self) -> list[eyes.Seen]:
        """Read the picture; what follows is remembered as the screen calls it."""
        seen = eyes.read(self.app.screen)
        self.trail += [one.text.removeprefix("then ") for one in seen if one.text.startswith("then ")]
        return seen

    def press(self, wanted: str, seen: list[eyes.Seen]) -> None:
        """Touch words that were just read, in their middle."""
        found = [one for one in seen if one.text == wanted]
        assert len(found) == 1, f"{wanted!r} can be read {len(found)} times: {[one.text for one in seen]}"
        self.app.clock.advance(stage.TAP_S)
        self.app.screen.tap_at(found[0].x, found[0].y)
        self.app.settle()
        self.touches += 1

    def type(self, text: str) -> None:
        """Press key after key."""
        for char in text:
            self.press("Space" if char == " " else char, self.look())
        self.press("Done", self.look())

    def act(self) -> bool:
        """Do the one thing that the screen asks for; answer False once it says that the scope is done."""
        seen = self.look()
        texts = [one.text for one in seen]
        if any(text.startswith("B5 is done") for text in texts):
            return False
        waits = [match for text in texts if (match := _READY_IN.fullmatch(text))]
        if waits:
            hours, minutes, seconds = (int(part or 0) for part in waits[0].groups())
            self.waits_s.append(hours * 3600 + minutes * 60 + seconds)
            self.app.wait(self.waits_s[-1])
            return True
        if "Done" in texts and "Erase" in texts:
            asked = [title for title in TYPED if title in texts]
            assert len(asked) == 1, f"what is to be typed can't be told from {texts}"
            self.type(TYPED[asked[0]])
            return True
        answer = next((one for one in ANSWERS if one in texts), "")
        assert answer, f"nothing here that a newcomer would press: {texts}"
        self.press(answer, seen)
        return True


def test_whoever_read_only_the_first_page_takes_a_scope_to_storage(open_screen: Open) -> None:
    first = " ".join(README.read_text("utf-8").split("\n## ")[0].split())
    named = first[first.index("must go through") :]
    assert re.search(r".*?".join(re.escape(name) for name, _ in STAGES), named), "the README names other stages"
    app = stage.bench(open_screen(412, 892), points=OTHER)
    app.go("bench")
    before = len(app.lines())
    person = Newcomer(app)
    while person.act():
        assert person.touches <= TOUCHES_MOST
    come = [person.trail.index(step) for _, step in STAGES]
    assert come == sorted(come)
    # Detergent 1 min, contact 12 min, three rinses of 1 min, air 10 min: as long as the screen said, and no more.
    assert person.waits_s == [60, 720, 60, 60, 60, 600]
    last = app.desk.unit.scopes["B5"].last
    assert (last.outcome, last.place, last.released_by) == ("completed", "CAB 2", "")
    given = app.lines()[before:]
    assert {line["refs"]["case"] for line in given if line["kind"] != "pour-bath"} == {"26-4471"}
    assert [line["data"]["result"] for line in given if line["kind"] == "lift"] == ["full", "full"]


def test_words_that_something_lies_over_can_not_be_read(open_screen: Open) -> None:
    """Eyes that would read a covered page prove nothing."""
    from kivy.graphics import Color, Rectangle

    screen = open_screen(360, 640)
    page = FloatLayout()
    words = [Words(text, pos=(20, y), size_hint=(None, None), width=300) for text, y in (("Rinse", 60), ("Dry", 160))]
    for one in words:
        page.add_widget(one)
    screen.show(page)
    assert {one.text for one in eyes.read(screen)} == {"Rinse", "Dry"}
    with page.canvas.after:
        Color(0.5, 0.5, 0.5, 1)
        Rectangle(pos=(0, 150), size=(360, 100))
    screen.frames(2)
    assert [one.text for one in eyes.read(screen)] == ["Rinse"]
