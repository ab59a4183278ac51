"""What a lead chose for the unit shows at the bench: the pressure of the air, and how many rinses are done."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness
from stage import Stage, State, at, bench

from data.rehearse.scene import LEAD, must
from protocols.event import Command

Open = Callable[..., harness.Screen]


def _lead(app: Stage, do: str, subject: str, **values: Any) -> None:
    must(app.door.give(Command(do, subject, values, LEAD)))


def test_the_gauge_is_typed_and_the_chosen_ceiling_stands_beside_it(open_screen: Open) -> None:
    # PAHO 2009 as copied on a company site: air at "less than 12 pounds per square inch".
    app = bench(open_screen(412, 892), (at("B2", "drying-air", State.AIR_OFF),))
    app.go("steps", tag="B2")
    assert "Air on" in app.screen.texts(), "without a chosen set the IFU's pressure is free"
    _lead(app, "choose-limits", "air-paho-12psi", seen=True)
    app.wait(1)
    texts = app.screen.texts()
    assert "Chosen limit: less than 12 psi" in texts
    assert "Air on" not in texts
    assert app.faults() == []
    before = len(app.lines())
    for typed, taken in (("12", False), ("11", True)):
        app.tap("Air on: type the pressure on the gauge")
        for key in typed:
            app.tap(key)
        app.tap("Done")
        assert (len(app.lines()) > before) is taken
        if not taken:
            assert any("12 psi is not below 12 psi" in text for text in app.screen.texts())
    assert app.lines()[-1]["data"]["air_psi"] == 11
    assert any("Chosen limit: less than 12 psi" in text for text in app.screen.texts()), "also while the air runs"


def test_a_channel_is_purged_below_the_chosen_pressure(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), (at("B2", "final-purge", State.COUNT),))
    _lead(app, "choose-limits", "air-paho-12psi", seen=True)
    app.go("steps", tag="B2")
    assert "Chosen limit: less than 12 psi" in app.screen.texts()
    _lead(app, "choose-limits", "air-ifu", seen=True)
    app.wait(1)
    assert not any("psi" in text for text in app.screen.texts())


def test_the_pips_count_the_rinses_that_are_really_done(open_screen: Open) -> None:
    """3 rinses by the chosen set (TJC 2015 as summarised); five by the label, an invented figure."""
    app = bench(open_screen(412, 892), (at("B2", "final-rinse", State.RINSE),))
    app.go("steps", tag="B2")
    assert app.shell.page.blocks.pips.needed == 3
    cycle = app.door.unit.cycles["B2"]
    app.door.unit = app.door.unit._replace(cycles={"B2": cycle._replace(rinse_times=5)})
    app.tap("Rinse started")
    app.wait(60)
    assert (app.shell.page.blocks.pips.done, app.shell.page.blocks.pips.needed) == (0, 5)
    app.tap("Rinsed")
    assert app.lines()[-1]["data"]["of"] == 5
    assert (app.shell.page.blocks.pips.done, app.shell.page.blocks.pips.needed) == (1, 5)
    app.go("bench")
    assert any("1 of 5" in text for text in app.screen.texts())
