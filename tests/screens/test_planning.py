"""The plan on the screens: what comes next and why, the warning at receipt, what the lead sees."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import harness
import pytest
from stage import Stage, State, at, bench

from data.rehearse.ordinary import ordinary
from screens.planning import AGE_S, Asked, Planning
from screens.words import say

Open = Callable[..., harness.Screen]


RECEIPT = {"case": "26-7004", "procedure_date": "2026-11-25", "procedure_type": "bronchoscopy", "precleaned": "yes"}


class Planned:
    """A stage whose planner answers when told: the worker has ended and its answer has come."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.posted: list[Callable[[], None]] = []
        self.let_through: list[str] = []
        self.planning = Planning(
            stage.desk, stage.disk, self.posted.append, lambda: self.let_through.append(threading.current_thread().name)
        )
        stage.shell.planning = self.planning

    def answer(self) -> None:
        """Let the worker end and its answer be taken, then look again."""
        self.stage.shell.look()
        self.planning.background.finish()
        while self.posted:
            self.posted.pop(0)()
        self.stage.shell.look()
        self.stage.settle()

    def texts(self) -> list[str]:
        return self.stage.screen.texts()


def planned(screen: harness.Screen, points: Any = None) -> Planned:
    made = Planned(bench(screen) if points is None else bench(screen, points))
    made.stage.go("bench")
    return made


CALM = (
    at("B3", "flush-suction-channel", State.COUNT, 20),
    at("B4", "disinfectant-soak", State.IN, 500),
    at("B6", "ppe", State.LOOK, 30),
)


def test_the_planner_lets_the_screen_go_first_from_its_own_thread(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    app.answer()
    plain = len(app.let_through)
    app.planning.ask(Asked(variants=True))
    app.answer()
    assert set(app.let_through) == {"plan"}
    assert plain > 100 and len(app.let_through) > 2 * plain


def test_a_scope_over_its_limit_comes_first_whatever_the_plan_says(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    app.answer()
    assert "OVER LIMIT 6:05" in app.texts()
    assert not any(", next" in text for text in app.texts())
    app.stage.tap("Rinse started")
    assert app.stage.lines()[-1]["subject"] == "G3"


def test_do_now_follows_the_plan_and_says_why(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), CALM)
    app.answer()
    newest = app.planning.latest
    assert newest is not None
    first = next(slot for slot in newest.plan.slots if app.stage.shell.lane(slot.scope).left_s <= 0)
    assert app.stage.shell.page._first.scope == first.scope
    assert any(", next" in text for text in app.texts())
    assert app.stage.faults() == []


def test_without_a_plan_the_bench_shows_what_it_knows(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    assert app.planning.latest is None
    assert "C1 and D6 clash 10:46" in app.texts()


def test_it_is_planned_after_every_command_and_once_a_minute_and_not_in_between(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), CALM)
    app.answer()
    first = app.planning.latest
    app.stage.clock.advance(AGE_S - 1)
    app.answer()
    assert app.planning.latest is first
    app.stage.clock.advance(2)
    app.answer()
    second = app.planning.latest
    assert second is not first
    app.stage.desk.give("note", "B3", {"what": "other", "text": "seen"})
    app.answer()
    third = app.planning.latest
    assert third is not second and third.seq == app.stage.desk.unit.seq


def test_the_same_bench_gets_the_same_plan(open_screen: Open) -> None:
    plans = []
    for _ in range(2):
        app = planned(open_screen(412, 892))
        app.answer()
        plans.append(app.planning.latest)
    assert plans[0].plan == plans[1].plan
    assert plans[0].ready == plans[1].ready
    assert not plans[0].cut_short


def test_a_plan_that_is_far_too_old_is_not_gone_by(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), CALM)
    app.answer()
    assert app.planning.newest(app.stage.desk.now()) is not None
    app.stage.clock.advance(4 * AGE_S)
    assert app.planning.newest(app.stage.desk.now()) is None


# --- the warning at receipt


def test_a_start_that_would_make_others_late_is_warned_of_and_kept_in_the_record(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    app.stage.go("receive", tag="U1")
    app.answer()
    warning = app.stage.shell.page.warning.text
    assert warning.startswith("Starting U1 now would leave ")
    assert "past the limit; start in " in warning or "no safe start within an hour" in warning
    assert warning in app.texts()
    assert app.stage.faults() == []
    app.stage.shell.page.taking.take_case("26-7001")
    app.stage.shell.page.taking.take_end(app.stage.desk.now().wall_ms - 600_000)
    app.answer()
    warned = app.stage.shell.page.warning.text
    app.stage.tap(say("receive.yes"))
    line = app.stage.lines()[-1]
    assert (line["kind"], line["subject"]) == ("receive", "U1")  # it advises, it blocks nobody
    assert line["data"]["advice"] == warned


def test_a_start_that_hurts_nobody_is_not_spoken_of(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), (at("B3", "drying-air", State.AIR_ON, 20),))
    app.stage.go("receive", tag="U1")
    app.answer()
    advice = app.planning.latest.advice
    assert (advice.scope, advice.hurts, advice.safe_in_s) == ("U1", (), 0)
    assert app.stage.shell.page.warning.text == ""
    app.stage.shell.page.taking.take_case("26-7002")
    app.stage.shell.page.taking.take_end(app.stage.desk.now().wall_ms - 600_000)
    app.answer()
    app.stage.tap(say("receive.yes"))
    assert "advice" not in app.stage.lines()[-1]["data"]


def test_leaving_the_receipt_ends_the_question(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    app.stage.go("receive", tag="U1")
    app.answer()
    app.stage.go("bench")
    assert app.planning.asked == Asked()


def test_a_wanted_time_is_kept_and_its_slack_shown_on_the_watch(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), (at("B3", "drying-air", State.AIR_ON, 20),))
    app.stage.go("receive", tag="U1")
    page = app.stage.shell.page
    page.taking.take_case("26-7003")
    page.taking.take_end(app.stage.desk.now().wall_ms - 600_000)
    page.answers.wanted_ms = app.stage.desk.now().wall_ms + 900_000
    app.answer()
    assert "10:57" in app.texts()
    app.stage.tap(say("receive.yes"))
    assert app.stage.lines()[-1]["data"]["wanted_by"].startswith("2026-11-25T10:57:")
    app.stage.go("watch")
    app.answer()
    texts = leaves(app.stage)
    assert any(text.startswith("wanted 10:57: likely ") and text.endswith(" late") for text in texts)
    # what would have to change stands below it, or that nothing does
    helps = app.planning.latest.missed.get("U1")
    words = say("ready.no_help") if helps is None else "forward"
    assert any(words in text for text in texts)


# --- the Watch


def leaves(stage: Stage) -> list[str]:
    """Give the texts of every leaf of the Watch."""
    found: list[str] = []
    for _ in range(12):
        stage.shell.page.background.finish()
        stage.settle()
        assert stage.faults() == []
        texts = stage.screen.texts()
        found += texts
        if not any(text.startswith("More below") for text in texts):
            break
        stage.screen.tap("More below")
    return found


@pytest.mark.parametrize("size", [(412, 892, 1.0), (360, 640, 1.3)])
def test_the_watch_shows_the_load_by_the_plan_what_helps_and_when_scopes_are_ready(
    open_screen: Open, size: tuple[float, float, float]
) -> None:
    app = planned(open_screen(*size))
    app.stage.go("watch")
    app.answer()
    texts = leaves(app.stage)
    assert any(text.startswith("By the plan, for the scopes that are here") for text in texts)
    assert any(text.startswith("Helps most: ") for text in texts)
    assert sum("9 of 10" in text for text in texts) == 7
    assert not any("rough estimate" in text for text in texts)


def test_the_watch_shows_how_many_forecasts_held(open_screen: Open) -> None:
    app = planned(open_screen(412, 892), (at("B3", "drying-air", State.AIR_ON, 20),))
    app.stage.go("watch")
    app.answer()
    assert any("How well forecasts held is shown here" in text for text in leaves(app.stage))
    range_s = app.planning.latest.ready["B3"].most_s
    while "B3" in app.stage.desk.unit.cycles:
        app.stage.clock.advance((range_s[0] + range_s[1]) / 8)
        lane = next(lane for lane in app.stage.shell.lanes if lane.scope == "B3")
        command = ordinary(lane, app.stage.desk.by)
        app.stage.desk.give(command.do, command.subject, command.values)
        app.stage.shell.look()
    app.answer()
    kept = app.planning.calibration
    assert len(kept.results) == 1 and kept.noted == ()
    app.stage.desk.give("receive", "B3", RECEIPT)  # ranges are shown while a scope is on its way
    app.answer()
    words = f"Forecasts that held, of 1: half {kept.halves} ({100 * kept.halves} %), 9 of 10 {kept.mosts}"
    assert any(text.startswith(words) for text in leaves(app.stage))


def test_a_lead_who_looks_elsewhere_costs_no_variants(open_screen: Open) -> None:
    app = planned(open_screen(412, 892))
    app.answer()
    assert app.planning.latest.changes == ()
    app.stage.go("watch")
    app.answer()
    assert app.planning.latest.changes
    app.stage.go("bench")
    assert app.planning.asked == Asked()
