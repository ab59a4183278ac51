"""The first run: a new handheld is ready for its first scope by at most 40 touches on the rendered screen.

Words are as short as the tests dare (a name of three letters); the label of the container is scanned, as a unit with a
scanner does. Every touch is one finger on the glass, and what it pressed is read from the screen.
"""

from __future__ import annotations

from collections.abc import Callable

import harness
import pytest
import stage

from data.memory_disk import MemoryDisk
from protocols.clock import FakeClock, parse_wall

Open = Callable[..., harness.Screen]
TOUCHES_MOST = 40
# A GS1 element string as a scanner sends it: (01) GTIN, (17) expiry 31 Dec 2027, (10) lot 7Q. The GTIN is invented.
LABEL = "0109500000000006" + "17271231" + "107Q"


def first_run(app: stage.Stage) -> None:
    """Administrator, unit, first scope, first bath: each by the one button that is next."""

    def type_(text: str) -> None:
        for char in text:
            app.tap(char)
        app.tap("Done")

    app.tap("1  Yourself, as an administrator")
    app.tap("Next: Name")
    type_("ANA")
    app.tap("Add Ana")
    app.tap("2  The unit: name and time zone")
    app.tap("Time zone")
    type_("BERL")
    app.tap("Europe/Berlin")
    app.tap("Name of the unit")
    type_("W4")
    app.tap("Back")
    app.tap("3  The first scope")
    app.tap("Next: Tag")
    type_("B2")
    app.tap("Next: Protocol")
    app.tap("Bronchoscope, one channel")
    app.tap("Add B2")
    app.tap("Take it into use")
    app.tap("4  The first disinfectant bath")
    app.tap("Next: Chemistry and its claim")
    app.tap("OPA 0.55 %, manual, 20 °C")
    app.scan(LABEL)
    app.tap("Next: Container opened on")
    app.tap("Today")
    app.tap("Poured: H1")


@pytest.mark.parametrize("size", [(360, 640, 1.0), (412, 892, 1.0)])
def test_ready_by_at_most_forty_touches(open_screen: Open, size: tuple[float, ...]) -> None:
    clock = FakeClock(parse_wall("2026-11-25T08:00:00+01:00"))
    app = stage.Stage(open_screen(size[0], size[1], font_scale=size[2]), clock, MemoryDisk(), by="")
    assert "No scope is on the list" in app.screen.texts()
    app.tap("Open Setup")
    first_run(app)
    assert app.taps <= TOUCHES_MOST, f"{app.taps} touches"
    unit = app.desk.unit
    assert [(p.name, p.role) for p in unit.people.values()] == [("Ana", "administrator")]
    assert (unit.settings.name, unit.settings.zone) == ("W4", "Europe/Berlin")
    assert list(unit.scopes) == ["B2"]
    bath = unit.baths["H1"]
    assert (bath.lot, bath.expires, bath.opened) == ("7Q", "2027-12-31", "2026-11-25")
    app.tap("Bench")
    app.tap("Receive scope")
    assert "B2" in app.screen.texts()
