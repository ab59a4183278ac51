"""The strip before a soak, by touch: dipped, counted, called for, read in its window. The window here is invented."""

from __future__ import annotations

from collections.abc import Callable

import harness
import pytest
from stage import Stage, State, at, bench

from data.rehearse.scene import LEAD, must
from protocols.event import Command
from protocols.prompts import due
from screens.prompting import all_mapped

Open = Callable[..., harness.Screen]


def _give(app: Stage, do: str, subject: str, **values: object) -> None:
    must(app.door.give(Command(do, subject, values, LEAD)))
    app.wait(3)


def _to_strip(screen: harness.Screen) -> Stage:
    """B2 before its soak on Steps, the bottle in use read 75 to 90 s after the dip."""
    app = bench(screen, (at("B2", "disinfectant-soak", State.OUT),))
    for label in list(app.door.unit.strips):
        _give(app, "close-strips", label, reason="empty")
    _give(app, "register-strips", "S-9", type="OPA 0.3 %", opened="2026-11-25", expires="2027-06-30", dip_s=1,
          read_s_from=75, read_s_to=90)  # fmt: skip
    _give(app, "strip-control", "S-9", positive=3, negative=3)
    app.go("steps", tag="B2")
    return app


def _text(app: Stage) -> str:
    return "\n".join(app.screen.texts())


@pytest.mark.parametrize("size", [(412, 892, 1.0), (360, 640, 1.3)])
def test_a_strip_is_timed_from_its_dip_to_its_reading(open_screen: Open, size: tuple[float, ...]) -> None:
    app = _to_strip(open_screen(*size))
    assert "read it 75 to 90 s after the dip" in _text(app) and "keep it in the bath for 1 s" in _text(app)
    app.tap("Strip dipped")
    assert app.lines()[-1]["kind"] == "dip-strip"
    app.wait(30)
    assert "dipped 0:30 ago" in _text(app) and "ready in 0:45" in _text(app) and not app.faults()
    before = len(app.lines())
    app.tap("Strip passes")
    assert len(app.lines()) == before, "a strip that may not be read yet gives nothing"
    app.wait(50)
    app.tap("Strip passes")
    line = app.lines()[-1]
    assert (line["kind"], line["data"]["result"]) == ("strip-test", "pass") and 75 <= line["data"]["read_after_s"] <= 90
    assert "20 °C" in _text(app), "the strip passes: now the temperature starts the contact"


def test_the_bench_counts_down_to_the_strip_and_says_when_it_is_to_be_read(open_screen: Open) -> None:
    app = _to_strip(open_screen(412, 892))
    app.tap("Strip dipped")
    app.go("bench")
    app.wait(15)
    shown = _text(app)
    assert "Strip dipped in H" in shown and "1:00" in shown
    app.wait(60)
    shown = _text(app)
    assert "Read the strip of H" in shown and not app.faults()
    prompts = all_mapped(due(app.door.unit, app.door.now()), app.desk, app.shell.lanes, app.door.now())
    assert "broncho 2, read the strip" in [prompt.spoken for prompt in prompts]


def test_too_late_only_another_strip_helps_and_the_first_is_void(open_screen: Open) -> None:
    app = _to_strip(open_screen(412, 892))
    app.tap("Strip dipped")
    app.wait(100)
    assert "too late to read: dip a new strip" in _text(app) and "Strip passes" not in _text(app)
    app.tap("Another strip dipped")
    app.wait(80)
    app.tap("Strip passes")
    assert app.lines()[-1]["data"]["result"] == "pass"
    assert [line["kind"] for line in app.lines()[-3:]] == ["dip-strip", "dip-strip", "strip-test"]


def test_a_kill_between_dip_and_reading_loses_no_second(open_screen: Open) -> None:
    app = _to_strip(open_screen(412, 892))
    app.tap("Strip dipped")
    app.wait(20)
    app.open()
    app.go("steps", tag="B2")
    app.wait(20)
    assert "dipped 0:40 ago" in _text(app)


def test_after_topping_up_a_new_strip_is_asked_for(open_screen: Open) -> None:
    app = _to_strip(open_screen(412, 892))
    app.tap("Strip dipped")
    app.wait(80)
    app.tap("Strip passes")
    bath = next(b for b in app.door.unit.baths.values() if b.tests and b.kind == "disinfectant")
    _give(app, "top-up", bath.label, lot=bath.lot, expires=bath.expires, opened=bath.opened)
    app.go("steps", tag="B2")
    assert "Strip dipped" in _text(app), "the strip dipped before covers nothing any more"


def test_a_void_strip_stands_as_void_among_what_was_done(open_screen: Open) -> None:
    app = _to_strip(open_screen(412, 892))
    bath = next(b for b in app.door.unit.baths.values() if b.kind == "disinfectant" and not b.closed)
    _give(app, "strip-test", bath.label, scope="B2", result="pass", strip_lot="S-9", read_after_s=200)
    app.open()
    app.go("steps", tag="B2")
    app.wait(1)
    app.tap("More below, 1 of 2")
    assert "void: read too late or too early" in _text(app)
