"""Scans and tags: a scanner is a keyboard, and what it reads goes to its place or is said to be unknown."""

from __future__ import annotations

from collections.abc import Callable

import harness
from stage import State, at, bench

Open = Callable[..., harness.Screen]
FLUSHING = (at("B2", "flush-suction-channel", State.COUNT),)


def test_an_unknown_tag_is_said_with_what_to_do(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    before = len(app.lines())
    app.scan("Z99")
    assert "No scope has the tag Z99" in app.screen.texts()
    assert any("a lead adds a new scope" in text for text in app.screen.texts())
    assert len(app.lines()) == before


def test_a_tag_in_a_cycle_opens_its_page_whatever_its_case(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.go("bench")
    app.scan("b2")
    assert "Flush the suction channel with 30 mL of detergent solution." in app.screen.texts()


def test_a_tag_in_a_cycle_can_not_be_received_again(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.go("receive")
    before = len(app.lines())
    assert "B2" not in app.screen.texts()
    app.tap("Type a tag")
    app.tap("B")
    app.tap("2")
    app.tap("Done")
    assert "Flush the suction channel with 30 mL of detergent solution." in app.screen.texts()
    app.go("receive")
    app.scan("B2")
    assert any("already in a cycle" in text for text in app.screen.texts())
    assert len(app.lines()) == before


def test_a_scope_is_received_by_keys_alone(open_screen: Open) -> None:
    app = bench(open_screen(360, 640), FLUSHING)
    app.go("bench")
    app.tap("Receive scope")
    app.tap("B5")
    for key in "26-1":
        app.tap(key)
    app.tap("Done")
    app.tap("unknown") if "unknown" in app.screen.texts() else (app.tap("More below"), app.tap("unknown"))
    app.tap("Received, no pre-clean")
    data = app.lines()[-1]["data"]
    assert (data["case"], data["precleaned"], data["marks"]["delayed"]) == ("26-1", "no", True)
    assert "procedure_end" not in data
    # Without a known end the delayed branch is taken, never "on time".
    assert any("delayed branch" in text for text in app.screen.texts())


def test_a_typed_time_of_day_is_the_last_one_that_was(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.scan("B5")
    app.scan("26-4471")
    app.tap("Type time")
    for key in "10.05":
        app.tap(key)
    app.tap("Done")
    app.tap("Received, pre-cleaned")
    assert app.lines()[-1]["data"]["procedure_end"] == "2026-11-25T10:05:00.000+01:00"


def test_a_scopes_tag_is_never_taken_for_a_case(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.go("receive")
    app.tap("B5")
    app.scan("L1")
    assert any("not a case reference" in text for text in app.screen.texts())
    assert app.shell.page_of("receive").answers.case == ""


def test_leaving_a_half_told_receipt_asks_first(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.scan("B5")
    app.scan("26-4471")
    app.tap("Watch")
    assert "What you typed is not kept. Leave it?" in app.screen.texts()
    app.tap("Stay here")
    app.tap("10 min ago")
    app.escape()  # back takes the last answer back, no more
    assert "Procedure ended" in app.screen.texts()
    app.tap("10 min ago")
    app.tap("pre-cleaned by")
    app.tap("room nurse")
    app.tap("Received, pre-cleaned")
    assert app.lines()[-1]["data"]["precleaned_by"] == "room nurse"


def test_a_question_is_never_answered_by_a_scan(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.go("steps", tag="B2")
    app.tap("Something is wrong")
    app.tap("Out of service")
    before = len(app.lines())
    app.scan("B2")
    assert "Out of service" in app.screen.texts()
    assert len(app.lines()) == before


def test_what_was_said_of_one_scope_is_never_taken_for_another(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.scan("B5")
    app.scan("26-4471")
    app.go("receive")
    answers = lambda: app.shell.page_of("receive").answers  # noqa: E731
    app.tap("Leave")
    app.scan("B5")
    app.scan("26-4471")
    app.scan("L1")
    assert "What you typed is not kept. Leave it?" in app.screen.texts()
    app.tap("Stay here")
    assert (answers().tag, answers().case) == ("B5", "26-4471")
    app.scan("L1")
    app.tap("Leave")
    assert (answers().tag, answers().case, answers().ended_said) == ("L1", "", False)


def test_a_wrong_scope_of_which_nothing_was_said_is_simply_exchanged(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), FLUSHING)
    app.scan("B5")
    app.scan("L1")
    assert app.shell.page_of("receive").answers.tag == "L1"
    app.scan("26-4471")
    app.tap("now")
    app.tap("Received, pre-cleaned")
    assert (app.lines()[-1]["subject"], app.lines()[-1]["data"]["case"]) == ("L1", "26-4471")
