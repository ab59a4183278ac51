"""Nothing on a page stays in English when another language is in use, but what the unit wrote itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import harness
import pytest
import rooms
from lead_scene import SHELF, Scene

from data.rehearse.scene import LEAD
from protocols.lane import Lane
from screens import languages, words
from screens.telling import scope_name, tell
from screens.words import shipped
from tests import pseudo
from tests.languages import shipped_texts

Open = Callable[..., harness.Screen]
# The invented units of the scenes: names, places, lots, models, cases; what a person typed; a file's own fault.
OWN = (
    "Alder Row endoscopy bench", "Europe/Berlin", "Joss", "Mira", "cabinet", "room nurse", "demo", "bronchoscopy",
    "colonoscopy", "not due for this scope today", "English", "Deutsch", "Español", "home", "it is bent", "WebDAV",
    "journal/2026-W48.jsonl, line 7", "/media/memory-stick", "https://", "test",
    # What the visits of the rooms put on a page in words of their own.
    "Bath H1: which lot is on the label", "B5 leaks: it goes into no more liquid and out of service.", "It leaks",
    "its strip failed", "BASINBELL", "min",
)  # fmt: skip


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    words.use_language("en")


def test_every_page_in_every_state_is_in_the_language(open_screen: Open) -> None:
    """By a language that nobody speaks: a word that still reads as English never went through the catalogue."""
    pseudo.use()
    screen = open_screen(412, 892)
    screen.drawing, screen.walked = False, ((1280, 800),)
    found: dict[str, str] = {}
    for states in (rooms.bench_states, rooms.lead_states, rooms.other_shells):
        for name in states(screen):
            for text in screen.texts():
                for word in pseudo.left_in_english(text, OWN):
                    found.setdefault(word, f"{name}: {text}")
    assert found == {}


class Walked(Scene):
    """A scene that hears what the page of a scope would say before each of its steps."""

    def __init__(self, protocol: str) -> None:
        super().__init__()
        self.heard: list[str] = []
        self.steps: set[str] = set()
        if protocol not in self.door.unit.protocols:
            self.give("adopt-protocol", protocol, LEAD)
        self.give("add-scope", "Z1", LEAD, protocol=protocol)

    def walk_by(self, way: str, **receipt: Any) -> None:
        values = {"case": "26-4471", "procedure_date": "2026-11-25", "procedure_type": "ERCP", "precleaned": "yes"}
        self.give("receive", "Z1", **{**values, **receipt})
        self.wait(1)
        self.desk.give("choose", "Z1", {"by": way})  # refused where the protocol has but that way
        if way == "leak":
            self.walk("Z1", lambda lane: lane.step.id == "leak-test")
            self.wait(1)
            self.desk.give("look", "Z1", {"outcome": "leak"})
        self.walk("Z1")

    def _step(self, lane: Lane, tap_s: float) -> None:
        self.steps.add(lane.step.id)
        offer, told = self.desk.offer(lane), tell(lane, self.door.now(), "Europe/Berlin")
        self.heard += [offer.title, offer.detail, *offer.cautions, *offer.states, scope_name(lane)]
        self.heard += [told.title, told.figure, told.detail]
        for choice in offer.choices:
            self.heard += [choice.words, choice.under, choice.confirm]
        self.heard += [part.words for part in (*offer.typed, *offer.picks)] + [pick.why_not for pick in offer.picks]
        super()._step(lane, tap_s)


@pytest.mark.parametrize("protocol", sorted(SHELF.shipped))
@pytest.mark.parametrize("code", [*(code for code in languages.NAMES if code != "en"), pseudo.CODE])
def test_no_sentence_of_a_shipped_protocol_shows_in_english(protocol: str, code: str) -> None:
    """On every way through it: soak, machine after a delay, leak."""
    pseudo.use() if code == pseudo.CODE else languages.use(code)
    ways = {step.when for step in SHELF.protocol(SHELF.shipped[protocol]).steps}
    heard: list[str] = []
    steps: set[str] = set()
    for way, receipt in (("soak", {}), ("machine", {"precleaned": "no"}), ("leak", {})):
        if way in ways:
            scene = Walked(protocol)
            ended = {} if receipt else {"procedure_end": "2026-11-25T07:25:00+01:00"}
            scene.walk_by(way, **ended, **receipt)
            heard += scene.heard
            steps |= scene.steps
    assert steps == set(SHELF.protocol(SHELF.shipped[protocol]).positions)
    if code == pseudo.CODE:
        assert {text for text in heard if pseudo.left_in_english(text, OWN)} == set()
        return
    english = [text for text in shipped_texts() if shipped(text) != text and " " in text]
    assert {text for text in heard if any(one in text for one in english)} == set()
    assert any(shipped(one) in text for text in heard for one in english)


def test_a_protocol_that_the_unit_changed_is_said_as_it_wrote_it() -> None:
    languages.use("de")
    assert shipped("Brush the tip and look at the brush.") == "Die Spitze bürsten und die Bürste ansehen."
    assert shipped("Brush the tip twice and look at the brush.") == "Brush the tip twice and look at the brush."


def test_what_was_left_in_english_is_noticed() -> None:
    pseudo.use()
    assert pseudo.left_in_english(words.say("bench.receive")) == []
    assert pseudo.left_in_english("Receive scope") == ["Receive", "scope"]
    assert pseudo.left_in_english(f"{words.say('bench.receive')} now", ("now",)) == []
