"""Practice: the trainer leads from receipt to release, waiting passes fast, every page is marked, nothing is left."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import harness
import pytest
import stage
from test_start import run

from data.memory_disk import MemoryDisk
from data.practice import PRACTICE
from protocols.clock import FakeClock, parse_wall
from screens import words
from screens.app import build
from screens.practice.clock import PACES, PacedClock
from screens.practice.trainer import Trainer
from screens.wipe import WipePage

Open = Callable[..., harness.Screen]
START = parse_wall("2026-11-25T10:42:00+01:00")


class Practising(stage.Stage):
    """A practice on a screen; `clock` is the handheld's own."""

    def __init__(self, screen: harness.Screen, pace: int = 10) -> None:
        self.screen, self.clock, self.disk = screen, FakeClock(START), MemoryDisk()
        self.taps, self.ended = 0, 0
        self.trainer = Trainer(self.clock, pace, self._end, self.disk)
        self.door, self.desk = self.trainer.door, self.trainer.desk
        self.shell = build(self.desk, self.disk)
        self.trainer.lead_through(self.shell)
        screen.show(self.shell)
        self.shell.land()
        self.settle()

    def _end(self) -> None:
        self.ended += 1

    @property
    def told(self) -> str:
        return self.trainer.bar.words


# What the trainer says, and what a person who does just that presses; a scan where text is to be typed.
FOLLOWED = {
    "Press Receive scope": "Receive scope",
    "Put everything on, then press Ready": "Ready",
    "No bubbles: press Tight": "Tight",
    "One press for each flush": ("Flushed", "Rinsed", "Air pushed"),
    "Dip a strip, press Strip passes": "Strip passes",
    "Press the temperature that you read": "20 °C",
    "It is ready: press Lift out": "Lift out",
    "Press Rinse started": "Rinse started",
    "Type the reading, or press Not due today": "Not due today",
    "Look under light and magnification, press Clean": "Clean",
    "Press what the brush brought": "None seen",
    "Press Air on": "Air on",
    "Press the strength of the alcohol": "70 %",
    "It is over: press what you see": "Dry",
    "Press B5": "B5",
    "Do it, look, then press what you saw": ("Taken apart", "Clean", "Rinsed"),
}


def follow(app: Practising) -> None:
    """Do what the trainer says, once."""
    said = app.told
    if said.startswith("Choose B5"):
        app.tap("B5")
        app.scan("26-1")
        app.tap("5 min ago")
        app.tap("Received, pre-cleaned")
    elif said.startswith("Wait"):
        app.wait(10)
    elif said == "Press where it hangs":
        app.tap("Another place")
        app.scan("CABINET 2")
    else:
        choices = FOLLOWED[said]
        texts = app.screen.texts()
        wanted = [choices] if isinstance(choices, str) else [one for one in choices if one in texts]
        if said == "Press the temperature that you read" and "20 °C" not in texts:
            wanted = ["70 %"] if "70 %" in texts else wanted
        app.tap(wanted[0])


def test_whoever_does_what_the_trainer_says_comes_through(open_screen: Open) -> None:
    app = Practising(open_screen(412, 892), pace=60)
    for _ in range(160):
        if app.told.startswith("Done and not released"):
            break
        follow(app)
    assert app.told == "Done and not released. Press Ledger, then B5"
    assert app.desk.unit.scopes["B5"].last.outcome == "completed"
    # Contact of 12 min and 10 min of air passed in seconds of the handheld's own time.
    assert (app.clock.true_ms - START) / 1000 < 300
    app.tap("Ledger")
    app.shell.page.background.finish()
    app.settle()
    assert app.told == "Open the cycle of B5, press Release"
    assert app.taps < 80


def test_every_page_says_practice_on_top(open_screen: Open) -> None:
    app = Practising(open_screen(360, 640, font_scale=1.3))
    keys = [key for key in app.shell._makers if key not in ("cycle",)]
    for key in keys:
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        app.go(key)
        assert app.screen.texts()[0].startswith("PRACTICE, not a record"), key
    app.shell.over(WipePage(app.shell))
    assert app.screen.texts()[0].startswith("PRACTICE, not a record")
    app.shell.page.back()
    app.shell.ask_text("Which machine", "tag", lambda text: None)
    app.settle()
    assert app.screen.texts()[0].startswith("PRACTICE, not a record")


@pytest.mark.parametrize("language", ["de", "es"])
def test_the_trainer_speaks_every_language(open_screen: Open, language: str) -> None:
    from screens import languages

    languages.use(language)
    try:
        app = Practising(open_screen(360, 640))
        assert app.faults() == []
        assert app.told != words.ENGLISH["practice.receive"]
    finally:
        words.use_language("en")


def test_the_record_is_of_no_handheld_and_the_unit_says_so(open_screen: Open) -> None:
    app = Practising(open_screen(412, 892))
    assert {line["device"] for line in app.door.journal.lines()} == {PRACTICE}
    assert app.desk.unit.settings.name == "PRACTICE"


def test_sending_is_refused_on_the_page_too(open_screen: Open) -> None:
    app = Practising(open_screen(412, 892))
    from data.exporters.week_forms import week_forms
    from data.practice import PracticeRecord
    from data.signing import signer_of

    with pytest.raises(PracticeRecord):
        week_forms(app.disk, app.door.journal, "2026-W48", signer_of(app.disk))


def test_the_bar_offers_another_pace_and_the_end(open_screen: Open) -> None:
    app = Practising(open_screen(412, 892))
    app.tap(app.trainer.bar)
    app.tap("Waiting 60 times as fast")
    assert app.trainer.clock.pace == 60
    app.tap(app.trainer.bar)
    app.tap("End practice")
    assert app.ended == 1


def test_a_cloth_on_the_bar_ends_no_practice(open_screen: Open) -> None:
    app = Practising(open_screen(412, 892))
    app.go("bench")
    app.tap("Wipe")
    page = app.shell.page
    app.tap(app.trainer.bar)
    assert app.shell.page is page and page.locked


def test_no_practice_while_scopes_are_under_way(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    asked: list[int] = []
    app.shell.practise = asked.append
    app.go("setup-practice")
    assert any("under way" in text for text in app.screen.texts())
    app.tap("Waiting 10 times as fast")
    assert asked == []


def test_waiting_passes_at_the_pace_and_stops_when_hands_are_wanted() -> None:
    real = FakeClock(START)
    clock = PacedClock(real, 10)
    first = clock.read()
    real.advance(5)
    assert clock.read().elapsed_ms - first.elapsed_ms == 5_000  # nothing told it to hurry
    clock.hurry(60)
    real.advance(3)
    assert clock.read().elapsed_ms - first.elapsed_ms == 35_000
    real.advance(10)  # 3 s more at the pace, then 7 s as in life
    assert clock.read().elapsed_ms - first.elapsed_ms == 5_000 + 60_000 + 7_000
    assert clock.read().wall_ms - first.wall_ms == 72_000
    assert min(PACES) == 1


def test_it_never_goes_back() -> None:
    real = FakeClock(START)
    clock = PacedClock(real, 60)
    last = clock.read().elapsed_ms
    for seconds in (0.001, 0.017, 0.3, 1.0, 2.5):
        for hurry in (0.0, 0.5, 33.0):
            clock.hurry(hurry)
            real.advance(seconds)
            assert clock.read().elapsed_ms >= last + round(seconds * 1000) - 1
            last = clock.read().elapsed_ms


_IN_AND_OUT = """
import sys
import screens.frame as frame
from kivy.clock import Clock
real = frame.BasinbellApp.on_start
def on_start(self):
    real(self)
    def practise(_):
        self._shell.practise(10)
        Clock.schedule_once(inside, 0.5)
    def inside(_):
        print("inside", self._shell.desk.door.device, self._trainer.disk.root.exists())
        self._folder = self._trainer.disk.root
        self._trainer.end()
        Clock.schedule_once(outside, 0.5)
    def outside(_):
        print("outside", self._shell.desk.door.device.startswith("hh-"), self._folder.exists())
        self.stop()
    Clock.schedule_once(practise, 0)
frame.BasinbellApp.on_start = on_start
import main
sys.exit(main.main(sys.argv[1:]))
"""


def test_the_app_goes_into_practice_and_comes_back(tmp_path: Path) -> None:
    home = tmp_path / "home"
    done: subprocess.CompletedProcess[str] = run(
        tmp_path, "--home", str(home), script=_IN_AND_OUT, SDL_VIDEODRIVER="offscreen"
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [f"inside {PRACTICE} True", "outside True False"]
    text = "".join(path.read_text() for path in (home / "journal").glob("*.jsonl"))
    assert PRACTICE not in text
    assert not list(tmp_path.glob("basinbell-practice-*"))
