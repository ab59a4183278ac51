"""The Bench: the most urgent first, only what is seen is built, what can't sound says so; starts land where one was."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness
from stage import BENCH, State, at, bench

from protocols.clock import parse_wall
from screens import theme
from screens.prompting import Prompting
from screens.senses.choose import Senses
from screens.senses.promise import YES, Can, no

Open = Callable[..., harness.Screen]


class Mute:
    """Every sense in one: remembers what it was asked, and works or not as told."""

    def __init__(self, answer: Can = YES) -> None:
        self.answer = answer
        self.calls: list[Any] = []

    def can(self) -> Can:
        return self.answer

    def play(self, *what: Any) -> Can:
        self.calls.append(what)
        return self.answer

    say = play

    def hold(self, awake: bool) -> Can:
        self.calls.append(awake)
        return self.answer

    def length_s(self, level: str) -> float:
        return 1.0

    def drop(self, key: str) -> None:
        return None


def with_senses(app: Any, **answers: Can) -> tuple[dict[str, Mute], Prompting]:
    """Give an app senses that answer as told, wired as the app's frame does it."""
    senses = {name: Mute(answers.get(name, YES)) for name in ("chime", "buzz", "speak", "keep_awake", "alarms")}
    prompting = Prompting(Senses(**senses))  # type: ignore[arg-type]
    app.shell.failing = prompting.failing
    app.shell.on_beat.append(prompting.beat)
    return senses, prompting


def test_the_most_urgent_thing_comes_first_and_takes_one_tap(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    texts = app.screen.texts()
    assert "OVER LIMIT 6:05" in texts
    assert texts.index("G3") < texts.index("B2")
    app.tap("Rinse started")
    line = app.lines()[-1]
    assert (line["kind"], line["subject"]) == ("start", "G3")
    assert "OVER LIMIT 6:05" not in app.screen.texts()


def test_no_time_stands_with_a_bare_plus_sign(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    for page, what in (("bench", {}), ("steps", {"tag": "G3"}), ("steps", {"tag": "B2"}), ("steps", {"tag": "D6"})):
        app.go(page, **what)
        assert not any("+" in text for text in app.screen.texts())


def test_what_comes_close_together_is_named_as_a_clash(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    assert "C1 and D6 clash 10:46" in app.screen.texts()


def test_every_lane_says_whether_it_is_disinfected(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    app.shell.page.flow.turn()
    app.settle()
    texts = app.screen.texts()
    lanes = [tag for tag in ("B2", "G7", "C1", "B4", "D6", "G9") if tag in texts]
    marks = [text for text in texts if text in ("NOT DISINFECTED", "DISINFECTED, NOT RELEASED")]
    assert len(lanes) >= 3
    assert len(marks) == len(lanes)


def test_three_lanes_are_seen_with_do_now_and_the_next_half_hour(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    texts = app.screen.texts()
    assert "DO NOW" in texts and any(text.startswith("next 30 minutes") for text in texts)
    assert app.shell.page.flow.shown_rows >= 3
    rows = [row for row in app.shell.page.flow.children if hasattr(row, "tag")]
    assert all(row.height >= theme.TARGET_CYCLE_DP for row in rows)


def test_lanes_off_the_screen_are_not_built(open_screen: Open) -> None:
    points = tuple(at(f"B{n}", "ppe", State.LOOK, ago_s=n) for n in range(10, 40))
    app = bench(open_screen(412, 892), points)
    app.go("bench")
    flow = app.shell.page.flow
    assert 1 <= flow.shown_rows <= 8
    assert len(flow._pool) <= 9
    seen = set()
    for _ in range(20):
        seen |= {row.tag for row in flow.children if hasattr(row, "tag")}
        if not flow.more:
            break
        app.tap("more below")
    assert len(seen) == 29  # all but the one that stands on the card
    assert len(flow._pool) <= 9
    app.tap("Back to the top")
    assert not flow.turned


def test_an_empty_bench_teaches(open_screen: Open) -> None:
    app = bench(open_screen(360, 640), points=())
    texts = " ".join(app.screen.texts())
    assert "Nothing on the bench" in texts
    assert "Press Receive scope, or scan a scope's tag." in texts


def test_a_sound_device_that_is_gone_is_said_and_prompts_go_on(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    senses, _ = with_senses(app, chime=no("no_sound_device"))
    app.wait(1)
    app.wait(1)
    assert any("No sound: no sound device answers" in text for text in app.screen.texts())
    assert "OVER LIMIT 6:07" in app.screen.texts()
    assert senses["buzz"].calls  # the other senses are used all the same
    senses["chime"].answer = YES
    app.wait(30)
    app.wait(1)
    assert not any("No sound" in text for text in app.screen.texts())


def test_prompts_call_the_most_needed_scope_and_fall_silent_when_acted_on(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    senses, prompting = with_senses(app)
    app.wait(1)
    call = list(app.desk.unit.scopes).index("G3")
    assert senses["chime"].calls == [(call, "very_late")]
    app.wait(2)
    assert senses["speak"].calls[0][1] == "gastric 3, over limit, begin final rinse"
    app.desk.give("start", "G3")
    senses["chime"].calls.clear()
    for _ in range(30):
        app.wait(2)
    assert {c for c, _ in senses["chime"].calls} == {list(app.desk.unit.scopes).index("B2")} | {
        list(app.desk.unit.scopes).index("G3")
    }
    assert senses["keep_awake"].calls[-1] is True
    assert prompting.failing() == []


def test_the_witness_sees_the_clocks_every_ten_seconds(open_screen: Open) -> None:
    """So that a power cut leaves at most about that much time unproven."""
    app = bench(open_screen(412, 892))
    with_senses(app)
    app.wait(1)
    app.clock.advance(300)
    app.wait(1)
    app.clock.reboot(down_s=30)
    before = app.desk.unit.cycles["G7"].timer
    app.open()
    after = app.desk.unit.cycles["G7"].timer
    assert after == before
    gap_ms = app.desk.unit.time.longest_base_ms - app.desk.unit.time.proven_base_ms
    assert gap_ms == 30_000


def test_a_kill_and_a_new_start_land_where_it_was(open_screen: Open) -> None:
    points = (*BENCH, at("B8", "flush-suction-channel", State.COUNT, ago_s=5))
    app = bench(open_screen(412, 892), points)
    app.go("steps", tag="G9")
    app.tap("Flushed")
    shown = app.screen.texts()
    lines = app.lines()
    app.open()  # nothing was closed before: as after a kill
    while not app.desk.seen.whole:  # what was done before is read in portions, one a second
        app.shell.look()
    app.wait(0)  # the rows for which there is room once all is laid out
    assert [t for t in app.screen.texts() if "Undo" not in t] == [t for t in shown if "Undo" not in t]
    assert app.lines() == lines
    app.clock.advance(1200)
    app.open()
    assert "DO NOW" in app.screen.texts()


def test_somebody_says_who_works_here_before_anything_is_given(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), by="")
    assert "Who works here now?" in app.screen.texts()
    app.tap("Joss")
    assert app.desk.by == "joss"
    app.go("bench")
    app.tap("Joss")
    app.tap("Mira")
    app.tap("Rinse started")
    assert app.lines()[-1]["by"] == "mira"


def test_a_clock_that_goes_back_is_said_and_nothing_is_given(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("bench")
    app.tap("Rinse started")
    before = len(app.lines())
    app.clock._booted_ms += 3_600_000  # the elapsed clock of the same boot shows less than before
    app.shell.tick()
    app.settle()
    assert any("the clock is in doubt" in text for text in app.screen.texts())
    app.screen.tap("Open B2" if "Open B2" in app.screen.texts() else "Lift out")
    app.settle()
    assert len(app.lines()) == before


def test_the_wall_clock_set_back_changes_no_soak(open_screen: Open) -> None:
    app = bench(open_screen(412, 892))
    app.go("steps", tag="G7")
    app.clock.step(-7200)
    app.wait(10)
    assert app.desk.clock_face() == "08:42"
    assert "ready in 3:26" in app.screen.texts()
    assert parse_wall(app.lines()[-1]["wall"]) > 0
