"""What happens when a tap can't be taken: nothing is lost, nothing is shown as done, and plain words say why."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness
import stage
from kivy.core.window import Window
from stage import State, at, bench

from protocols.errors import DiskError
from tests.faults import FaultyDisk

Open = Callable[..., harness.Screen]
FLUSHING = (at("B2", "flush-suction-channel", State.COUNT),)
SOAKING = (at("B2", "disinfectant-soak", State.IN, ago_s=300),)
TO_SOAK = (at("B2", "disinfectant-soak", State.OUT),)


def on_steps(screen: harness.Screen, points: tuple[Any, ...], tag: str = "B2", **kwargs: Any) -> stage.Stage:
    app = bench(screen, points, **kwargs)
    app.go("steps", tag=tag)
    return app


def test_one_tap_is_one_line_and_shown_only_then(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    before = app.lines()
    app.tap("Flushed")
    assert [line["kind"] for line in app.lines()[len(before) :]] == ["count"]
    assert "1 of 3 done" in app.screen.texts()


def test_two_fingers_on_a_button_give_one_command(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    before = len(app.lines())
    button = app.screen.find("Flushed")
    x, y = button.to_window(*button.center)
    first, second = harness.Finger(x - 20, y).down(), harness.Finger(x + 20, y).down(later_s=0.05)
    app.settle()
    first.up()
    second.up()
    app.settle()
    assert len(app.lines()) == before + 1


def test_a_full_disk_is_said_and_the_tap_is_not_shown_as_done(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING, disk=FaultyDisk)
    before, shown = len(app.lines()), app.desk.unit.cycles["B2"].done
    app.disk.fill()
    app.tap("Flushed")
    assert len(app.lines()) == before
    assert app.desk.unit.cycles["B2"].done == shown
    assert "0 of 3 done" in app.screen.texts()
    assert any(text.startswith("NOT recorded") and "no space left" in text for text in app.screen.texts())
    app.wait(60)  # it stays until somebody has touched it
    assert any(text.startswith("NOT recorded") for text in app.screen.texts())
    app.disk.mend()
    app.tap("NOT recorded")
    app.tap("Flushed")
    assert len(app.lines()) == before + 1
    assert not any(text.startswith("NOT recorded") for text in app.screen.texts())


def test_a_refusal_is_shown_with_its_remedy_and_changes_nothing(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), TO_SOAK)
    app.tap("Passes, other bottle")
    app.scan("STRIP-07")
    before, unit = len(app.lines()), app.desk.unit
    app.tap("Type it")
    app.scan("12")
    assert len(app.lines()) == before
    assert app.desk.unit is unit
    assert any("is 12 °C, the minimum is" in text for text in app.screen.texts())
    assert any("warm it as its label allows" in text for text in app.screen.texts())
    app.wait(13)
    assert not any("is 12 °C" in text for text in app.screen.texts())


def test_a_page_that_has_grown_old_can_not_act(open_screen: Open) -> None:
    """The same scope was acted on through the door meanwhile, as a second handheld's scan or a test would."""
    app = on_steps(open_screen(412, 892), FLUSHING)
    app.desk.give("count", "B2")
    before = len(app.lines())
    app.tap("Flushed")
    assert len(app.lines()) == before
    assert any("has moved on" in text for text in app.screen.texts())


def test_back_in_the_middle_of_a_step_gives_no_command_and_loses_nothing(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    app.tap("Flushed")
    before = len(app.lines())
    app.escape()
    assert "Receive scope" in app.screen.texts()
    app.escape()
    assert "Receive scope" in app.screen.texts()
    app.go("steps", tag="B2")
    assert "1 of 3 done" in app.screen.texts()
    assert len(app.lines()) == before


def test_back_asks_before_a_half_typed_value_is_lost(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), TO_SOAK)
    app.tap("Passes, other bottle")
    app.tap("7")
    app.tap("4")
    app.escape()
    assert "What you typed is not kept. Leave it?" in app.screen.texts()
    app.tap("Stay here")
    assert "74" in app.screen.texts()
    app.escape()
    app.tap("Leave")
    assert "Passes, other bottle" in app.screen.texts()
    app.tap("Passes, other bottle")
    app.escape()  # nothing typed: nothing to ask
    assert "Passes, other bottle" in app.screen.texts()
    assert app.lines()[-1]["kind"] != "strip-test"


def test_turning_the_screen_in_the_middle_of_a_step_keeps_everything(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    app.tap("Flushed")
    Window.size = (892, 412)
    app.settle()
    app.wait(1)
    assert "1 of 3 done" in app.screen.texts()
    assert app.faults() == []
    app.tap("Flushed")
    Window.size = (412, 892)
    app.settle()
    assert "2 of 3 done" in app.screen.texts()
    assert [line["kind"] for line in app.lines()[-2:]] == ["count", "count"]


def test_turning_the_screen_keeps_what_is_half_typed(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), TO_SOAK)
    app.tap("Passes, other bottle")
    app.tap("7")
    Window.size = (892, 412)
    app.settle()
    app.tap("3")
    assert "73" in app.screen.texts()
    assert app.faults() == []
    Window.size = (412, 892)


def test_undo_is_there_for_its_seconds_and_the_record_keeps_both(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    app.tap("Flushed")
    app.wait(4)
    assert "Undo last tap (6 s)" in app.screen.texts()
    app.tap("Undo last tap")
    assert "0 of 3 done" in app.screen.texts()
    assert [line["kind"] for line in app.lines()[-2:]] == ["count", "undo"]
    app.tap("Flushed")
    app.wait(11)
    assert not any("Undo" in text for text in app.screen.texts())


def test_something_is_wrong_always_asks_once_more(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), SOAKING)
    before = len(app.lines())
    app.tap("Something is wrong")
    app.tap("Came out early: it slipped out")
    assert len(app.lines()) == before
    app.tap("No, go back")
    assert len(app.lines()) == before
    app.tap("Came out early: it slipped out")
    app.tap("Came out early: it slipped out")
    assert app.lines()[-1]["kind"] == "lift"
    assert app.lines()[-1]["data"]["result"] == "early"
    assert any("Dip a strip" in text for text in app.screen.texts())


def test_only_a_named_lead_gives_what_a_lead_must_give(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), FLUSHING)
    app.tap("Something is wrong")
    app.tap("Void this cycle (lead)")
    assert "A lead decides this. Who are you?" in app.screen.texts()
    assert "Joss" not in app.screen.texts()
    app.tap("Mira")
    app.tap("Void this cycle (lead)")
    line = app.lines()[-1]
    assert (line["kind"], line["by"]) == ("void", "mira")
    assert app.desk.by == "joss"
    assert any("voided" in text for text in app.screen.texts())


def test_a_bath_that_may_not_be_used_says_why_and_can_not_be_picked(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), TO_SOAK)
    chosen = next(text for text in app.screen.texts() if text.startswith("Dip a strip in "))[-2:]
    other = "H1" if chosen == "H2" else "H2"
    app.desk.give("strip-test", other, {"scope": "B2", "result": "fail", "strip_lot": "STRIP-07"})
    app.wait(1)
    app.tap("press to change")
    assert any("failed its strip test" in text for text in app.screen.texts())
    before = len(app.lines())
    app.tap(next(text for text in app.screen.texts() if text.startswith(other)))
    assert "Which one?" in app.screen.texts()
    app.escape()
    app.scan(other)
    assert f"Dip a strip in {chosen}" in app.screen.texts()
    assert any("failed its strip test" in text for text in app.screen.texts())
    assert len(app.lines()) == before


def test_a_scanned_bath_label_picks_that_bath(open_screen: Open) -> None:
    app = on_steps(open_screen(412, 892), TO_SOAK)
    for label in ("H1", "H2"):
        app.scan(label)
        assert f"Dip a strip in {label}" in app.screen.texts()


def test_a_page_that_can_not_read_what_it_shows_says_so_and_prompts_go_on(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    app.go("setup")

    def failing(folder: str) -> list[str]:
        raise DiskError(f"listing {folder} failed (Input/output error)")

    names, app.disk.names = app.disk.names, failing
    beats: list[object] = []
    app.shell.on_beat.append(beats.append)
    app.wait(1)
    assert any("can't be brought up to date: listing journal failed" in text for text in app.screen.texts())
    assert beats == [app.shell]
    app.go("watch-week")
    assert app.shell.page.key == "watch-week"
    app.disk.names = names
    app.go("bench")
    app.wait(60)
    assert not any("brought up to date" in text for text in app.screen.texts())
