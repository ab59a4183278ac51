"""What the plan foresees, read off the screens by touch: clashing limits, the sides' own people, warnings at receipt.

The soaks' limits are not taken from the plan: OPA 0.55 % needs 12 min at 20 °C (CDC 2008 guideline, Table 4), the
shipped protocol lets a scope lie 10 min more, and the change of gloves takes the unit's default of 60 s (our own).
"""

from __future__ import annotations

import re
from collections.abc import Callable

import harness
from stage import State, at
from test_planning import Planned, leaves, planned

Open = Callable[..., harness.Screen]
LIMIT_S = 720 + 600
# Two lie in the disinfectant with 5 and 10 s to their limits; to change gloves takes longer than that.
CLASH = (at("B3", "disinfectant-soak", State.IN, LIMIT_S - 5), at("B4", "disinfectant-soak", State.IN, LIMIT_S - 10))
# One lies there with 5 s to its limit and can be lifted at once by whoever has clean hands.
NEAR = (at("B3", "disinfectant-soak", State.IN, LIMIT_S - 5),)


def told(app: Planned, pattern: str) -> list[re.Match[str]]:
    """Give what the page says in that form."""
    return [found for text in app.texts() if (found := re.fullmatch(pattern, text))]


def minutes(span: str) -> int:
    """Give the minutes of a span as pages say it."""
    found = re.fullmatch(r"(?:(\d+) h )?(\d+) min", span)
    assert found is not None, span
    return 60 * int(found[1] or 0) + int(found[2])


def test_two_limits_that_one_person_cannot_keep_are_said_on_the_bench_and_the_watch(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), CLASH)
    app.answer()
    assert told(app, r"2 will be past limits, first B[34] 10:43")
    assert app.stage.faults() == []
    app.stage.tap("Watch")
    app.answer()
    said = [
        m for text in leaves(app.stage) if (m := re.fullmatch(r"(B[34]): (\d+ min) past its limit at (10:\d\d)", text))
    ]
    first = {m[1]: m for m in reversed(said)}
    # Both are lifted one after the other before either is rinsed, so neither waits for the other's rinses of minutes.
    assert {tag: m[3] for tag, m in first.items()} == {"B3": "10:43", "B4": "10:43"}
    assert all(minutes(m[2]) <= 2 for m in first.values())


def test_clean_hands_of_their_own_keep_a_limit_that_a_change_of_gloves_breaks(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), NEAR)
    app.answer()
    assert told(app, r"B3 will be 1 min past its limit, 10:43")  # 60 s of change, 5 s to the limit
    app.stage.desk.by = "mira"
    app.stage.desk.give("set-unit", "unit", {"clean_hands": 1})
    app.answer()
    assert not told(app, r"B3 will be .* past its limit.*")
    app.stage.tap("Watch")
    app.answer()
    assert "By the plan nothing comes past a limit." in leaves(app.stage)


def test_receiving_by_touch_shows_who_would_be_late_and_from_when_it_is_safe(open_screen: Open) -> None:
    left_s = 300
    app = planned(open_screen(412, 892), (at("B3", "disinfectant-soak", State.IN, LIMIT_S - left_s),))
    app.answer()
    app.stage.tap("Receive scope")
    app.stage.tap("U1")
    app.stage.tap("7")
    app.stage.tap("Done")
    app.stage.tap("5 min ago")
    app.answer()
    said = told(
        app, r"Starting U1 now would leave B3 (\d+ min) past the limit; start in (\d+ min), from (\d\d):(\d\d).*"
    )
    assert len(said) == 1, app.texts()
    # Cleaning by hand takes far longer than the 5 min to B3's limit; the start is safe once B3 is lifted and rinsed.
    assert minutes(said[0][1]) >= 5
    wait = minutes(said[0][2])
    assert 1 <= wait <= 15
    assert (60 * int(said[0][3]) + int(said[0][4])) - (10 * 60 + 42) in (wait - 1, wait, wait + 1)
    assert app.stage.faults() == []
