"""Prompts: never early, repeated until somebody acts, the most needed first; counted calls against a brute force."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from driver import Bench

from protocols.clock import Stamp
from protocols.prompts import REPEAT_S, Level, calls_between, due, next_in_s
from protocols.unit import Unit


def levels(bench: Bench, tag: str = "B2") -> list[str]:
    return [p.level.name for p in due(bench.unit, bench.now) if p.scope == tag]


def after(now: Stamp, ms: int) -> Stamp:
    return Stamp(now.proven_ms + ms, now.longest_ms + ms, now.wall_ms + ms)


def test_a_soak_calls_soon_then_ready_then_late_then_very_late() -> None:
    bench = Bench()
    bench.soaking("B2")  # 12:00, limit 22:00
    met = []
    for wait, expected in (
        (0, []), (659.999, []), (0.001, ["SOON"]), (59.999, ["SOON"]), (0.001, ["READY"]), (600, ["READY"]),
        (0.001, ["LATE"]), (299.999, ["LATE"]), (0.001, ["VERY_LATE"]), (86_400, ["VERY_LATE"]),
    ):  # fmt: skip
        bench.wait(wait)
        met.append((wait, levels(bench)))
        assert met[-1][1] == expected, met


def test_the_units_own_times_for_soon_and_very_late() -> None:
    bench = Bench()
    bench.must("set-unit", "unit", soon_s=120, very_late_s=60)
    bench.soaking("B2")
    bench.wait(600)
    assert levels(bench) == ["SOON"]
    bench.wait(720 + 60.001)
    assert levels(bench) == ["VERY_LATE"]


def test_how_far_over_a_prompt_says() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(700)
    assert due(bench.unit, bench.now)[0].over_s == pytest.approx(-20)
    bench.wait(30)
    assert due(bench.unit, bench.now)[0].over_s == pytest.approx(10)
    bench.wait(720 + 600 - 730 + 90)
    assert due(bench.unit, bench.now)[0].over_s == pytest.approx(90, abs=0.01)
    bench.wait(400)
    assert due(bench.unit, bench.now)[0].over_s == pytest.approx(490, abs=0.01)


def test_a_prompt_stays_until_somebody_acts_on_the_scope() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(900)
    bench.must("note", "B2", what="late", text="hands full")
    bench.checked_refusal("in-soak", "look", "B2", outcome="clean")
    assert levels(bench) == ["READY"]
    bench.must("lift", "B2")
    assert levels(bench) == ["READY"]  # of the rinse, which is to begin within 5 min
    assert due(bench.unit, bench.now)[0].kind == "start"
    bench.wait(300.001)
    assert levels(bench) == ["LATE"]
    bench.must("start", "B2")
    assert levels(bench) == []


def test_calls_come_each_minute_once_hands_are_wanted_each_half_when_late_and_each_quarter_when_very_late() -> None:
    bench = Bench()
    bench.soaking("B2")  # ready at 12:00, limit 22:00, very late from 27:00
    calls = calls_between(bench.unit, bench.now, after(bench.now, 1_800_000))
    # at the limit itself it is not late yet: one more call that hands are wanted
    assert [(c.prompt.level.name, c.times) for c in calls] == [
        ("SOON", 1),
        ("READY", 11),
        ("LATE", 10),
        ("VERY_LATE", 12),
    ]


def test_all_that_are_due_come_out_and_the_most_needed_first() -> None:
    bench = Bench()
    for tag in ("B2", "B3", "G4"):
        bench.take_to(tag, "disinfectant-soak")
        bench.strip(tag)
    for tag, wait in (("G4", 0), ("B3", 100), ("B2", 100)):
        bench.wait(wait)
        bench.must("start", tag, **bench.start_values(tag))
    bench.wait(1250)
    assert [(p.scope, p.level) for p in due(bench.unit, bench.now)] == [
        ("G4", Level.LATE), ("B3", Level.LATE), ("B2", Level.READY),
    ]  # fmt: skip


def test_the_delay_warns_before_its_limit_and_is_late_after_it() -> None:
    bench = Bench()
    bench.receive("B2")  # 10 min have passed, warned at 45:00, limit 60:00
    for wait, expected in ((2099.999, []), (0.001, ["SOON"]), (900, ["SOON"]), (0.001, ["LATE"])):
        bench.wait(wait)
        assert levels(bench) == expected


def test_a_reboot_makes_nothing_ready_early_and_a_limit_near() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(100)
    _ = bench.now
    bench.reboot(500)
    bench.wait(619.999)
    assert levels(bench) == ["SOON"]
    bench.wait(0.001)
    assert levels(bench) == ["READY"]
    bench.wait(100.001)  # 720.0 proven + 100, and 1320 at the longest
    assert levels(bench) == ["LATE"]


def test_a_scope_that_waits_for_a_lead_calls() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    kinds = {(p.kind, p.level) for p in due(bench.unit, bench.now)}
    assert kinds == {("start", Level.READY), ("lead", Level.READY)}
    bench.wait(100)
    assert {(p.kind, p.level, p.over_s) for p in due(bench.unit, bench.now)} == {
        ("start", Level.READY, 100), ("lead", Level.READY, 100),
    }  # fmt: skip


@pytest.mark.parametrize(("soon_s", "at_s"), [(300, 300), (301, 600), (200, 400)])
def test_a_minimum_shorter_than_twice_the_time_for_soon_is_not_called_ahead(soon_s: int, at_s: int) -> None:
    bench = Bench()
    bench.must("set-unit", "unit", soon_s=soon_s)
    bench.take_to("B2", "drying-air")
    bench.must("start", "B2")  # 10 min at least
    assert next_in_s(bench.unit, bench.now) == at_s


def brute_force(unit: Unit, since: Stamp, length_ms: int) -> dict[tuple[str, str], list[int]]:
    """Ask every 100 ms what is due; call at the first sight of a prompt and then in its rhythm."""
    calls: dict[tuple[str, str], list[int]] = {}
    begun: dict[tuple[str, str], int] = {}
    for at in range(-4_000_000, length_ms + 1, 100):
        there = {(p.kind, p.level.name): p.level for p in due(unit, after(since, at))}
        begun = {key: begun.get(key, at) for key in there}
        for key, level in there.items():
            every = REPEAT_S[level]
            late = at - begun[key]
            if (late == 0 if every == float("inf") else late % round(every * 1000) == 0) and at > 0:
                calls.setdefault(key, []).append(at)
    return calls


@pytest.mark.parametrize("step", ["immerse", "disinfectant-soak", "final-rinse", "drying-air"])
def test_counted_calls_agree_with_asking_all_the_time(step: str) -> None:
    bench = Bench()
    bench.take_to("B2", step)
    if step == "disinfectant-soak":
        bench.strip("B2")
        bench.must("start", "B2", **bench.start_values("B2"))
    elif step != "immerse":
        bench.must("start", "B2")
    start, chance = bench.now, Random(step)
    for _ in range(2):
        begin_ms = chance.randrange(0, 3_000_000, 100)
        length_ms = chance.randrange(100, 1_500_000, 100)
        since = after(start, begin_ms)
        expected = brute_force(bench.unit, since, length_ms)
        found: dict[tuple[str, str], list[int]] = {}
        for call in calls_between(bench.unit, since, after(since, length_ms)):
            every = REPEAT_S[call.prompt.level]
            times = [round((call.after_s + n * (0 if call.times == 1 else every)) * 1000) for n in range(call.times)]
            found[call.prompt.kind, call.prompt.level.name] = times
        assert found.keys() == expected.keys()
        for key, times in expected.items():
            assert len(times) == len(found[key])
            # late begins one millisecond past its limit; asking every 100 ms sees that up to 100 ms after
            assert all(0 <= slow - exact <= 100 for slow, exact in zip(times, found[key], strict=True)), key


def test_two_stretches_call_as_often_as_one() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.take_to("G4", "immerse")
    start, chance = bench.now, Random(5)
    cuts = sorted({0, 5_000_000, *(chance.randrange(5_000_000) for _ in range(40)), 60_000, 720_000})
    pieces = sum(
        call.times for a, b in pairwise(cuts) for call in calls_between(bench.unit, after(start, a), after(start, b))
    )
    assert pieces == sum(call.times for call in calls_between(bench.unit, start, after(start, 5_000_000))) > 100


@pytest.mark.parametrize(
    ("step", "changes"),
    [
        ("immerse", ["SOON", "LATE", "VERY_LATE"]),
        ("detergent-soak", ["READY", "LATE", "VERY_LATE"]),
        ("disinfectant-soak", ["SOON", "READY", "LATE", "VERY_LATE"]),
        ("drying-air", ["SOON", "READY"]),
    ],
)
def test_the_next_change_is_neither_missed_nor_early(step: str, changes: list[str]) -> None:
    bench = Bench()
    bench.receive("B2")
    bench.take_to("B2", step)
    while step != "immerse" and not bench.cycle("B2").running:
        bench.go("B2")
    met = []
    while (wait_s := next_in_s(bench.unit, bench.now)) is not None:
        before = {p.key for p in due(bench.unit, bench.now)}
        bench.wait(wait_s - 0.001)
        assert {p.key for p in due(bench.unit, bench.now)} == before
        bench.wait(0.001)
        new = {p.key for p in due(bench.unit, bench.now)} - before
        met += [key[-1] for key in new]
    assert met == changes


def test_a_change_within_the_next_second_is_not_missed() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 - 0.25)
    assert next_in_s(bench.unit, bench.now) == pytest.approx(0.25)


@pytest.mark.parametrize(("length_ms", "calls"), [(719_999, 0), (720_000, 1), (779_999, 1), (780_000, 2)])
def test_a_stretch_holds_the_calls_up_to_its_end_and_that_moment_too(length_ms: int, calls: int) -> None:
    bench = Bench()
    bench.soaking("B2")  # ready at 12:00, then each minute
    found = calls_between(bench.unit, bench.now, after(bench.now, length_ms))
    assert sum(call.times for call in found if call.prompt.level is Level.READY) == calls


def test_of_calls_at_one_moment_the_most_urgent_comes_first() -> None:
    bench = Bench()
    for tag in ("B2", "G4"):
        bench.take_to(tag, "disinfectant-soak")
        bench.strip(tag)
    for tag, wait in (("G4", 0), ("B2", 600.001)):
        bench.wait(wait)
        bench.must("start", tag, **bench.start_values(tag))
    now = bench.now  # G4 is late from 22:00.001 on, just when B2 is ready
    found = [c for c in calls_between(bench.unit, now, after(now, 720_000)) if c.after_s == pytest.approx(720)]
    assert [(c.prompt.scope, c.prompt.level) for c in found] == [("G4", Level.LATE), ("B2", Level.READY)]


def test_of_calls_at_one_moment_the_one_that_waits_longest_comes_first() -> None:
    bench = Bench()
    for tag in ("B2", "B3", "G4"):
        bench.take_to(tag, "disinfectant-soak")
        bench.strip(tag)
    for tag, wait in (("B3", 0), ("G4", 60), ("B2", 60)):
        bench.wait(wait)
        bench.must("start", tag, **bench.start_values(tag))
    bench.wait(730)  # ready since 130 s, 70 s and 10 s: all call again in 50 s
    found = calls_between(bench.unit, bench.now, after(bench.now, 50_000))
    assert [(c.prompt.scope, c.prompt.over_s, c.after_s) for c in found] == [
        ("B3", 180, 50), ("G4", 120, 50), ("B2", 60, 50),
    ]  # fmt: skip


def test_the_rhythm_of_each_level() -> None:
    bench = Bench()
    bench.soaking("B2")  # soon at 11:00, ready at 12:00, late at 22:00.001, very late 5 min later
    found = {c.prompt.level.name: c for c in calls_between(bench.unit, bench.now, after(bench.now, 1_920_000))}
    assert {name: (round(c.after_s, 3), c.times) for name, c in found.items()} == {
        "SOON": (660, 1), "READY": (720, 11), "LATE": (1320.001, 10), "VERY_LATE": (1620.001, 20),
    }  # fmt: skip


def test_soon_is_called_once_in_the_stretch_that_ends_with_it() -> None:
    bench = Bench()
    bench.soaking("B2")
    at = after(bench.now, 660_000)

    def calls(begin_ms: int, end_ms: int) -> list[tuple[float, int]]:
        found = calls_between(bench.unit, after(at, begin_ms), after(at, end_ms))
        return [(round(c.after_s, 3), c.times) for c in found]

    assert calls(-1, 0) == calls(-1, 59_999) == [(0.001, 1)]
    assert calls(0, 59_999) == calls(-1_000, -1) == calls(1, 59_999) == []


def test_where_the_limit_comes_before_the_minimum_only_the_limit_calls() -> None:
    bench = Bench()
    bench.soaking("B2")
    _ = bench.now
    bench.reboot(700)  # nothing of that is proven: late in 620.001 s, ready only in 720 s, soon in 660 s
    found = calls_between(bench.unit, bench.now, after(bench.now, 920_000))
    assert [(c.prompt.level.name, round(c.after_s, 3), c.times) for c in found] == [("LATE", 620.001, 10)]
    bench.wait(660)
    assert (levels(bench), next_in_s(bench.unit, bench.now)) == (["LATE"], pytest.approx(260.001))


def test_the_next_change_is_asked_for_at_the_very_moment_of_one() -> None:
    bench = Bench()
    bench.soaking("B2")
    for wait_s, next_s in ((660, 60), (60, 600.001), (600.001, 300), (300, None)):
        bench.wait(wait_s)
        assert next_in_s(bench.unit, bench.now) == (None if next_s is None else pytest.approx(next_s))
