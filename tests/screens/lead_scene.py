"""An invented unit behind the real door, on a clock that moves only when told: what a lead's pages are tested with.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness

from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.rehearse.ordinary import ordinary
from data.rehearse.scene import LEAD, TECHNICIAN, ZONE, Place, fresh_bath, must, opening, scene_clock
from protocols.clock import local_date, wall_text
from protocols.cycle import State
from protocols.event import Command, Event
from protocols.lane import Lane, lanes
from screens.desk import Desk
from screens.lead_pages import lead_pages
from screens.page import Page
from screens.posting import on_screen
from screens.send.sending import Sending
from screens.setup.preferences import Preferences
from screens.shell import Shell
from screens.words import say

# Tag, protocol and procedure; every one is invented.
PLACES = {
    "B2": ("bronchoscope-1", "bronchoscopy"),
    "B5": ("bronchoscope-1", "bronchoscopy"),
    "G7": ("gastroscope", "gastroscopy"),
    "C4": ("colonoscope-aux", "colonoscopy"),
    "D6": ("duodenoscope", "ERCP"),
    "U9": ("ultrasound-endoscope", "endoscopic ultrasound"),
}
SHELF = shipped_shelf()


class Scene:
    """A unit with lead Mira, technician Joss, six scopes and bath H1; `desk` is signed in as Mira."""

    def __init__(self, disk: MemoryDisk | None = None, empty: bool = False) -> None:
        self.disk = disk or MemoryDisk()
        self.clock = scene_clock()
        self.door = open_door(self.disk, self.clock, SHELF, device="scene")
        self.desk = Desk(self.door, "" if empty else LEAD)
        self._lot = 100
        if not empty:
            for command in opening(self.door.unit, [Place(tag, *rest) for tag, rest in PLACES.items()]):
                must(self.door.give(command))
            self.pour("disinfectant", "H1")

    def give(self, do: str, subject: str, by: str = TECHNICIAN, **values: Any) -> Event:
        """Give a command that must be taken."""
        return must(self.door.give(Command(do, subject, values, by)))

    def pour(self, kind: str, label: str) -> Event:
        """Pour a bath from the next invented lot."""
        self._lot += 1
        return must(self.door.give(fresh_bath(kind, label, self._lot, self.clock.true_ms)))

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.clock.advance(seconds)

    def lane(self, tag: str) -> Lane | None:
        """Give the lane of a scope as of now, None when it is in no cycle."""
        found = lanes(self.door.unit, self.door.shelf, self.door.now())
        return next((lane for lane in found if lane.scope == tag), None)

    def receive(self, tag: str, minutes_ago: float = 10, case: str = "26-4471") -> Event:
        """Receive a scope whose procedure ended so long ago."""
        ended_ms = self.clock.true_ms - round(minutes_ago * 60_000)
        values = {
            "case": case,
            "procedure_date": local_date(ended_ms, ZONE).isoformat(),
            "procedure_type": PLACES[tag][1],
            "procedure_end": wall_text(ended_ms, ZONE),
            "precleaned": "yes",
            "preclean_start": wall_text(ended_ms + 60_000, ZONE),
            "preclean_end": wall_text(ended_ms + 120_000, ZONE),
            "precleaned_by": "room nurse",
        }
        return self.give("receive", tag, **values)

    def walk(self, tag: str, until: Callable[[Lane], bool] = lambda lane: False, tap_s: float = 20) -> None:
        """Do the ordinary next thing until the condition holds or the cycle has ended."""
        for _ in range(200):
            lane = self.lane(tag)
            if lane is None or until(lane):
                return
            self._step(lane, tap_s)
        raise AssertionError(f"{tag} came to no end; it is at {lane}")

    def _step(self, lane: Lane, tap_s: float) -> None:
        bath = ""
        if lane.step.bath == "detergent" and lane.state in (State.LOOK, State.OUT):
            bath = f"W{lane.scope}"
            known = self.door.unit.baths.get(bath)
            if known is None or known.cycle not in ("", lane.cycle.id):
                if known is not None:
                    self.give("close-bath", bath, reason="served its scope")
                self.pour("detergent", bath)
        elif lane.step.bath == "disinfectant" and lane.state is State.OUT:
            bath = "H1"
            self.give("strip-test", bath, scope=lane.scope, result="pass", strip_lot="STRIP-07")
        self.wait(max(tap_s, lane.left_s))
        command = ordinary(lane, TECHNICIAN, bath, 31 if lane.step.bath == "detergent" else 21.5)
        if command is None:
            raise AssertionError(f"{lane.scope} waits for a lead")
        must(self.door.give(command))

    def kinds(self) -> list[str]:
        """Give the kinds of all events in the record, checkpoints and boots left out."""
        return [line["kind"] for line in self.door.journal.lines() if line["kind"] not in ("checkpoint", "boot")]

    def last_line(self) -> dict[str, Any]:
        """Give the last line of the record."""
        return list(self.door.journal.lines())[-1]


def in_soak(kind: str) -> Callable[[Lane], bool]:
    """Give the condition of lying in a bath of a kind."""
    return lambda lane: lane.state is State.IN and lane.step.bath == kind


def at_stage(stage: str) -> Callable[[Lane], bool]:
    """Give the condition of having come to a stage."""
    return lambda lane: lane.step.stage == stage


def busy() -> Scene:
    """A bench in trouble: one over its limit out of disinfectant, one not cleaned in time, one waiting for a lead."""
    scene = Scene()
    for tag in ("B2", "C4"):
        scene.receive(tag, 5)
        scene.walk(tag)
    scene.give("release", "C4", LEAD)
    scene.receive("U9", 40, "26-4481")
    scene.receive("B5", 5, "26-4482")
    scene.walk("B5", in_soak("disinfectant"))
    scene.wait(2400)
    scene.give("lift", "B5", temp_c=21)  # late: rinse now, then a lead decides
    scene.receive("G7", 5, "26-4483")
    scene.walk("G7", in_soak("detergent"))
    scene.receive("D6", 8, "26-4484")
    scene.walk("D6", at_stage("disinfect"))
    scene.give("strip-test", "H1", scope="D6", result="pass", strip_lot="STRIP-07")
    return scene


def two_cycles(late: bool = False) -> Scene:
    """B2 stored and C4 stored after it, both today; with `late` C4 was lifted out past its limit."""
    scene = Scene()
    scene.receive("B2", 5, "26-4471")
    scene.walk("B2")
    scene.receive("C4", 5, "26-4472")
    if late:
        scene.walk("C4", in_soak("disinfectant"))
        scene.wait(1800)
        scene.give("lift", "C4", temp_c=21)
        scene.walk("C4", lambda lane: lane.cycle.hold is not None and lane.step.stage != "final rinse")
        scene.give("decide", "C4", LEAD, decision="continue", reason="by the IFU")
    scene.walk("C4")
    return scene


# Every size that is promised, and the larger type where there is least room and where there is most.
SIZES = [(360, 640, 1.0), (360, 640, 1.3), (412, 892, 1.3), (1280, 800, 1.0)]


class Elsewhere(Page):
    """Stands for the pages that are not tested here; remembers what it was asked to show."""

    def entered(self, **what: Any) -> None:
        self.what = what


class Shown:
    """A scene on a screen: the shell with the lead's pages, opened at one of them."""

    def __init__(self, screen: harness.Screen, scene: Scene, key: str, **what: Any) -> None:
        self.screen, self.scene = screen, scene
        self.applied: list[Preferences] = []
        makers = dict.fromkeys(("bench", "steps", "receive"), Elsewhere)
        self.sending = Sending(scene.disk, scene.door, on_screen)
        pages = lead_pages(scene.disk, self.applied.append, self.sending)
        self.shell = Shell(scene.desk, {**makers, **pages}, ("bench", "watch", "ledger", "setup"))
        screen.show(self.shell)
        self.go(key, **what)

    @property
    def page(self) -> Any:
        """Give the page on the screen."""
        return self.shell.page

    def go(self, key: str, **what: Any) -> None:
        """Go to a page and let it settle."""
        self.shell.go(key, **what)
        self.settle()

    def settle(self) -> None:
        """Let work in the background end and everything lay itself out; no time of the scene passes."""
        for _ in range(2):
            harness.finish_reading(self.page)
            self.screen.frames(3)

    def tap(self, *words: Any) -> None:
        """Tap one after the other, a second apart."""
        for what in words:
            self.scene.wait(1)
            self.screen.tap(what)
            self.settle()

    def type(self, text: str) -> None:
        """Type on the keys shown, then press done."""
        for char in text:
            self.tap("Space" if char == " " else char)
        self.tap("Done")

    def scan(self, text: str) -> None:
        """Give a text as a scanner would: whole, and done."""
        self.scene.wait(1)
        self.shell.scanned(text)
        self.settle()

    def leaves(self) -> list[list[str]]:
        """Give the texts of every leaf of the page, checking on the way that each is whole."""
        found, more = [], say("leaves.more", at="", of="").partition(",")[0]  # in whatever language is in use
        for _ in range(30):
            faults = [*self.screen.clipped(), *self.screen.overlapping()]
            if faults:
                raise AssertionError("; ".join(faults))
            found.append(self.screen.texts())
            if not any(text.startswith(more) for text in found[-1]):
                break
            self.screen.tap(more)
            self.settle()
        return found

    def all_texts(self) -> list[str]:
        """Give the texts of all leaves."""
        return [text for leaf in self.leaves() for text in leaf]

    def cards(self) -> list[str]:
        """Give the tags of the cards on the leaf shown, top first."""
        return [label.text for label in self.screen.shown_labels() if getattr(label, "step", "") == "tag"]
