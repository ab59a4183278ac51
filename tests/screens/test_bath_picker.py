"""The bath picker at the start of a soak: usable baths as buttons, every other one with its reason and what to do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness
import pytest
from stage import Stage, State, at, bench

from data.rehearse.scene import LEAD, must
from protocols.event import Command

Open = Callable[..., harness.Screen]
DAY_S = 86_400
LABEL = {"label": "revision 4", "by_hand": True, "contact_s": 600, "temp_c": 20, "single_use": True}


def _give(app: Stage, do: str, subject: str, **values: Any) -> None:
    must(app.door.give(Command(do, subject, values, LEAD)))


def _pour(app: Stage, label: str, claim: str, expires: str = "2027-06-30") -> None:
    _give(app, "pour-bath", label, kind="disinfectant", claim=claim, lot="L", expires=expires, opened="2026-11-25")


def _troubled(screen: harness.Screen) -> Stage:
    """B2 before its soak; H1 and H2 may be used, every other bath has another reason against it."""
    app = bench(screen, (at("B2", "disinfectant-soak", State.OUT),))
    unit = app.door.unit
    _pour(app, "H3", "opa-055-20c")
    _give(app, "strip-test", "H3", scope="B2", result="fail", strip_lot="STRIP-07")
    _pour(app, "H4", "opa-055-20c")
    _pour(app, "H5", "opa-055-20c")
    _pour(app, "H6", "opa-055-25c-machine")
    _pour(app, "H7", "opa-055-20c")
    must(app.door.give(Command("close-bath", "H7", {"reason": "spilled"}, "joss")))
    _give(app, "confirm-claim", "hocl-400-ppm", **LABEL)
    _pour(app, "H8", "hocl-400-ppm")
    unit = app.door.unit
    changed = {
        # A bath that is past a date, and one whose only scope has had it: as after days of ordinary use.
        "H4": unit.baths["H4"]._replace(expires="2026-11-24"),
        "H8": unit.baths["H8"]._replace(uses=1),
        "H5": unit.baths["H5"]._replace(claim="glut-34-25c", title="Glutaraldehyde 3.4 %, manual, 25 °C"),
    }
    app.door.unit = unit._replace(baths={**unit.baths, **changed})
    return app


REASONS = {
    "H3": "failed its strip test", "H4": "the printed expiry ended on 24 Nov 2026", "H5": "no lead has confirmed it",
    "H6": "not for a manual soak", "H7": "taken out of use", "H8": "for one scope and has been used",
}  # fmt: skip


@pytest.mark.parametrize("size", [(412, 892, 1.0), (360, 640, 1.3), (1280, 800, 1.0)])
def test_usable_baths_are_buttons_and_every_other_says_why_not(open_screen: Open, size: tuple[float, ...]) -> None:
    app = _troubled(open_screen(*size))
    app.go("steps", tag="B2")
    offer = app.desk.offer(app.shell.lane("B2"))
    assert [pick.key for pick in offer.picks if not pick.why_not] == ["H1", "H2"]
    why = {pick.key: pick.why_not for pick in offer.picks if pick.why_not}
    assert set(why) == set(REASONS)
    for label, reason in REASONS.items():
        assert reason in why[label] and ": " in why[label], "with what to do instead"
    app.shell.page._open_picks()
    app.settle()
    shown: list[str] = []
    for _ in range(20):
        assert app.faults() == []
        shown += app.screen.texts()
        if not any(text.startswith("More below") for text in app.screen.texts()):
            break
        app.tap("More below")
    for label in ("H1", "H2", *REASONS):
        assert any(text.startswith(f"{label}  ") for text in shown)
    assert all(text in shown for text in why.values())


def test_a_bath_that_may_not_be_used_takes_no_press(open_screen: Open) -> None:
    app = _troubled(open_screen(412, 892))
    app.go("steps", tag="B2")
    app.shell.page._open_picks()
    app.settle()
    page = app.shell.page
    before = len(app.lines())
    app.tap(next(text for text in app.screen.texts() if text.startswith("H3  ")))
    assert app.shell.page is page and len(app.lines()) == before
    app.tap(next(text for text in app.screen.texts() if text.startswith("H2  ")))
    assert "Dip a strip in H2" in app.screen.texts()


def test_the_page_names_gloves_and_dangers_of_what_is_in_the_bath(open_screen: Open) -> None:
    """NIOSH 2001-115 as reported: nitrile or butyl, never latex; an OSHA-based course: flush eyes at least 15 min.

    CDC 2008 guideline, Table 5: OPA stains; a bench study of 2012: not for urological instruments.
    """
    app = bench(open_screen(412, 892), (at("B2", "disinfectant-soak", State.OUT),))
    opa = " ".join(app.desk.offer(app.shell.lane("B2")).cautions)
    assert "Stains skin" in opa and "Urological instruments" in opa and "latex" not in opa
    given = {"kind": "disinfectant", "claim": "glut-2-label-25c", "lot": "L", "expires": "2027-06-30"}
    _give(app, "pour-bath", "H9", **given, opened="2026-11-25", activated="2026-11-25")
    app.go("steps", tag="B2")
    app.scan("H9")
    app.go("steps", tag="B2")
    shown = app.screen.texts()
    while any(text.startswith("More below") for text in app.screen.texts()):
        app.tap("More below")
        shown += app.screen.texts()
    words = " ".join(shown)
    assert "Nitrile or butyl, never latex" in words and "at least 15 min" in words
    assert app.faults() == []
