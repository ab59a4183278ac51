"""The open cycles as a plan of handwork: order, limits, changes between the sides, scarce rooms; advice at receipt."""

from __future__ import annotations

from itertools import pairwise

import pytest
from driver import LIBRARY, Bench

from data.door import Door
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from protocols.advice import starting
from protocols.dispatch import RESERVE_S, run
from protocols.drawing import Drawn, Room
from protocols.durations import read_durations
from protocols.errors import CommandFault
from protocols.hands import HandsPlan, chains_of, late_of, plan_chains, plan_hands, room_of
from protocols.pieces import Chain, chain_of_new
from protocols.unit import Settings

DURATIONS = read_durations((LIBRARY / "durations.toml").read_text("utf-8"), "durations.toml")
NODES = 1500


def planned(bench: Bench) -> HandsPlan:
    return plan_hands(bench.unit, bench.shelf, bench.now, DURATIONS, NODES)


def chains(bench: Bench) -> tuple[Chain, ...]:
    return chains_of(bench.unit, bench.shelf, bench.now, DURATIONS)[0]


def busy(*tags: str) -> Bench:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    for tag in tags:
        bench.receive(tag)
        bench.wait(30)
    return bench


def settings(bench: Bench, **changed: float) -> Bench:
    bench.must("set-unit", "unit", **changed)
    return bench


def test_nobody_has_two_pieces_in_hand_and_each_scope_goes_in_its_order() -> None:
    plan = planned(busy("B2", "G4", "C5", "D6"))
    spans = sorted((s.start_s, s.start_s + s.length_s) for s in plan.slots)
    assert all(end <= start + 1 for (_, end), (start, _) in pairwise(spans))
    for tag in ("B2", "G4", "C5", "D6"):
        mine = [s for s in plan.slots if s.scope == tag]
        assert [s.number for s in mine] == list(range(len(mine)))
        for before, after in pairwise(mine):
            assert after.start_s + after.change_s >= before.start_s + before.length_s + before.after_s - 1
        assert plan.done_s[tag] == pytest.approx(mine[-1].start_s + mine[-1].length_s, abs=1)


def test_two_people_have_at_most_two_pieces_in_hand() -> None:
    bench = settings(busy("B2", "G4", "C5", "D6"), hands=2)
    one, two = plan_chains(chains(bench), room_of(bench.unit, bench.now)._replace(hands=1), bench.now), planned(bench)
    events = sorted([(s.start_s, 1) for s in two.slots] + [(s.start_s + s.length_s - 1, -1) for s in two.slots])
    at_once, most = 0, 0
    for _, step in events:
        at_once += step
        most = max(most, at_once)
    assert most == 2
    assert max(two.done_s.values()) < max(one.done_s.values())


def test_the_same_unit_gets_the_same_plan() -> None:
    bench = busy("B2", "G4", "C5")
    assert planned(bench) == planned(bench)
    assert not planned(bench).stopped


def worth(plan: HandsPlan) -> tuple[int, int]:
    return plan.late_s, sum(plan.done_s.values())


def test_a_worse_plan_before_changes_nothing_and_one_as_good_stays() -> None:
    bench = busy("B2", "G4", "C5", "D6")
    fresh = planned(bench)
    # the same pieces, one scope after the other, the last in the plan first
    scopes = list(dict.fromkeys(key[0] for key in reversed(fresh.order)))
    poor = fresh._replace(order=tuple(sorted(fresh.order, key=lambda key: (scopes.index(key[0]), key[1]))))
    bench.wait(20)
    alone = planned(bench)
    after = plan_hands(bench.unit, bench.shelf, bench.now, DURATIONS, NODES, before=poor)
    assert worth(after) <= worth(alone)
    # each plan betters the one before or is the same, so that soon it stays
    plans = [after]
    while len(plans) < 8:
        plans.append(plan_hands(bench.unit, bench.shelf, bench.now, DURATIONS, NODES, before=plans[-1]))
        assert worth(plans[-1]) <= worth(plans[-2])
    assert plans[-1] == plans[-2]


def test_over_a_shift_the_plan_before_is_kept_more_often_than_not_and_never_at_a_price() -> None:
    looks: list[tuple[HandsPlan, HandsPlan, HandsPlan]] = []
    last: list[HandsPlan] = []

    def look(door: Door) -> None:
        at = last[-1].at.longest_ms if last else 0
        if len(door.unit.cycles) < 3 or door.now().longest_ms - at < 60_000:
            return
        alone = plan_hands(door.unit, door.shelf, door.now(), DURATIONS, 400)
        if last:
            after = plan_hands(door.unit, door.shelf, door.now(), DURATIONS, 400, before=last[-1])
            looks.append((last[-1], alone, after))
            alone = after
        last.append(alone)

    rehearse(MemoryDisk(), Plan(6, 4, 4, True), lambda line: None, look=look)

    def steps(plan: HandsPlan) -> list[tuple[str, str]]:
        pieces = {chain.scope: chain.pieces for chain in plan.chains}
        return [(scope, pieces[scope][number].parts[0].step.id) for scope, number in plan.order]

    def turned(old: HandsPlan, new: HandsPlan) -> bool:
        """Whether what comes first of what both plans have is another."""
        both = set(steps(old)) & set(steps(new))
        return [key for key in steps(old) if key in both][:1] != [key for key in steps(new) if key in both][:1]

    assert len(looks) >= 30
    assert all(after.late_s <= alone.late_s for _, alone, after in looks)
    alone_turns, kept_turns = (sum(turned(row[0], row[which]) for row in looks) for which in (1, 2))
    assert kept_turns < 0.8 * alone_turns, (kept_turns, alone_turns)


def test_a_soak_with_a_limit_is_lifted_before_other_work() -> None:
    """OPA 0.55 %: 12 min of contact (CDC 2008 guideline, Table 4); the protocol allows 10 min beyond."""
    bench = busy("G4")
    bench.soaking("B2")
    bench.wait(720 + 300)
    plan = planned(bench)
    lift = next(s for s in plan.slots if s.scope == "B2")
    assert lift.latest_s == 300 - lift.change_s
    assert lift.late_s == 0 and lift.start_s <= lift.latest_s
    assert plan.late_s == 0 and plan.proven


def test_two_scopes_are_lifted_before_either_is_rinsed() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    bench.soaking("B2")
    bench.soaking("B3", "H5")
    bench.wait(720 + 600 - 50)
    plan = planned(bench)
    assert [(s.scope, s.step) for s in plan.slots[:2]] == [("B2", "disinfectant-soak"), ("B3", "disinfectant-soak")]
    # The rinses that follow each lift take minutes, by any guess; none of them makes the other scope late.
    lifts = [s for s in plan.slots if s.step == "disinfectant-soak"]
    assert lifts[1].late_s < 60 < min(s.length_s for s in plan.slots if s.step == "final-rinse")


def test_what_is_past_its_limit_counts_as_late_from_its_limit_on() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(1320 + 90)
    plan = planned(bench)
    assert late_of(plan)["B2"] >= 90
    assert plan.slots[0].scope == "B2" and plan.slots[0].start_s == 0


def test_the_change_of_sides_is_counted_when_it_is_made() -> None:
    bench = settings(Bench(), change_s=120)
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    plan = planned(bench)
    lift = plan.slots[0]
    assert (lift.clean, lift.change_s) == (True, 120)
    # The gloves are changed while the soak ends, so the lift itself is not put off.
    assert lift.start_s + lift.change_s == 720
    bench.wait(720)
    bench.must("lift", "B2", temp_c=21)
    assert planned(bench).slots[0].change_s == 0  # in clean hands already
    none = settings(bench, change_s=0)
    assert all(s.change_s == 0 for s in planned(none).slots)


def test_people_of_their_own_for_the_clean_side_never_change() -> None:
    bench = settings(busy("B2", "G4", "C5"), clean_hands=1, hands=1)
    plan = planned(bench)
    assert all(s.change_s == 0 for s in plan.slots)
    for side in (True, False):
        spans = sorted((s.start_s, s.start_s + s.length_s) for s in plan.slots if s.clean is side)
        assert all(end <= start + 1 for (_, end), (start, _) in pairwise(spans))


def test_a_bath_that_is_full_makes_the_next_scope_wait() -> None:
    bench = Bench()
    for tag in ("B2", "B3"):
        bench.take_to(tag, "disinfectant-soak")
    room = room_of(bench.unit, bench.now)
    assert room.baths == 1
    alone = plan_chains(chains(bench), room._replace(baths=2), bench.now)
    shared = plan_chains(chains(bench), room, bench.now)
    starts = sorted(s.start_s + s.length_s for s in shared.slots if s.after_s == 720)
    assert starts[1] - starts[0] >= 719
    assert max(shared.done_s.values()) > max(alone.done_s.values())


def test_a_full_bath_never_stands_in_the_way_of_a_plan() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    for tag, label in (("B2", "H4"), ("B3", "H4"), ("G4", "H5")):
        bench.soaking(tag, label)
    assert room_of(bench.unit, bench.now).baths == 3
    assert {s.scope for s in planned(bench).slots} == {"B2", "B3", "G4"}


def test_a_scope_that_waits_for_a_lead_is_left_out_and_named() -> None:
    bench = busy("G4")
    bench.soaking("B2")
    bench.wait(3000)
    bench.must("lift", "B2", temp_c=21)
    while bench.step("B2").stage == "final rinse":
        bench.go("B2")
    plan = planned(bench)
    assert plan.left_out == ("B2",)
    assert {s.scope for s in plan.slots} == {"G4"}


def test_a_leaking_scope_is_planned_to_its_handing_over_only() -> None:
    bench = busy("G4")
    bench.take_to("B2", "leak-test")
    bench.wait(1)
    bench.must("look", "B2", outcome="leak")
    mine = [s for s in planned(bench).slots if s.scope == "B2"]
    assert len(mine) == 1 and not mine[0].clean and mine[0].after_s == 0


def test_an_empty_bench_has_an_empty_plan() -> None:
    plan = planned(Bench())
    assert (plan.slots, plan.late_s, plan.proven) == ((), 0, True)


# --- wanted times are wishes


def test_a_wanted_time_moves_a_scope_up_but_never_past_anothers_limit() -> None:
    bench = busy("G4", "C5", "B2")
    usual = planned(bench)
    last = max(usual.done_s, key=lambda tag: usual.done_s[tag])
    wanted = [c._replace(wanted_in_s=usual.done_s[last] - 600.0) if c.scope == last else c for c in chains(bench)]
    plan = plan_chains(tuple(wanted), room_of(bench.unit, bench.now), bench.now, NODES)
    assert plan.done_s[last] < usual.done_s[last]
    assert plan.late_s <= usual.late_s


def test_a_wanted_time_comes_from_the_receipt() -> None:
    bench = Bench()
    bench.receive("B2", wanted_by="2026-11-25T09:30:00+00:00")
    assert chains(bench)[0].wanted_in_s == 5400
    assert bench.replayed().cycles["B2"].wanted_wall_ms == bench.cycle("B2").wanted_wall_ms


# --- one run of the bench


def test_a_run_takes_the_first_that_is_ready_and_keeps_limits() -> None:
    bench = busy("G4")
    bench.soaking("B2")
    bench.wait(500)
    drawn = Drawn(chains(bench), Room(1, 0, 0, 5, 5, 5))
    lift_first = run(drawn.chains, [("B2", 0)], drawn.given())
    # B2 is ready in 220 s with 820 s to its limit: work on G4 goes on meanwhile, as long as that is short enough.
    assert lift_first.start_s["G4", 0] == 0
    assert lift_first.late_s["B2", 0] == 0
    long = drawn.given()._replace(work_s={**drawn.given().work_s, ("G4", 0): 2000.0})
    assert run(drawn.chains, [("B2", 0)], long).start_s["G4", 0] >= 220


def test_a_reserve_is_kept_before_a_limit_unless_that_makes_others_late() -> None:
    """Own rule: work may take longer than usual, so nothing is begun that would end just before another's limit."""
    bench = busy("G4")
    bench.soaking("B2")
    bench.wait(500)  # B2 is ready in 220 s, its limit is 600 s later
    drawn = Drawn(chains(bench), Room(1, 0, 0, 5, 5, 5))

    def begun_s(work_s: float) -> float:
        given = drawn.given()._replace(work_s={**drawn.given().work_s, ("G4", 0): work_s})
        return run(drawn.chains, [("B2", 0)], given).start_s["G4", 0]

    assert begun_s(820 - RESERVE_S - 1) == 0
    assert begun_s(820 - RESERVE_S + 1) >= 220
    ran = run(drawn.chains, [("B2", 0)], drawn.given())
    assert 0 <= ran.reserve_used_s <= RESERVE_S * len(ran.latest_s)


# --- advice on starting a scope


def new(bench: Bench, tag: str, delay_in_s: float | None = 3000.0) -> Chain:
    protocol = bench.shelf.protocol(bench.unit.protocols[bench.unit.scopes[tag].protocol])
    return chain_of_new(bench.unit, protocol, tag, bench.now, DURATIONS, delay_in_s)


def advised(bench: Bench, tag: str):
    room = room_of(bench.unit, bench.now)
    return starting(chains(bench), new(bench, tag), room, bench.now, NODES)


def test_starting_a_scope_before_a_near_limit_is_warned_of_with_the_first_safe_start() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 300)  # ready, 5 min to its limit: a manual cleaning takes three times that
    advice = advised(bench, "C5")
    assert [tag for tag, _ in advice.hurts] == ["B2"]
    assert advice.hurts[0][1] > 300
    assert advice.safe_in_s is not None and 60 <= advice.safe_in_s <= 900
    assert advice.must_in_s is not None and advice.must_in_s < 3000


def test_the_safe_start_hurts_nobody_and_a_minute_less_does() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 300)
    room, safe = room_of(bench.unit, bench.now), advised(bench, "C5").safe_in_s
    without = late_of(plan_chains(chains(bench), room, bench.now, NODES)).get("B2", 0)

    def late_when_started(in_s: int) -> int:
        # All handwork up to the first wait in one go, built here on its own.
        first = new(bench, "C5")
        count = next(n for n, piece in enumerate(first.pieces, 1) if piece.after is not None)
        parts = tuple(p for piece in first.pieces[:count] for p in piece.parts)
        whole = first.pieces[0]._replace(parts=parts, after=first.pieces[count - 1].after, start_in_s=None)
        fixed = first._replace(pieces=(whole, *first.pieces[count:]), fixed_in_s=in_s)
        return late_of(plan_chains((*chains(bench), fixed), room, bench.now, NODES)).get("B2", 0)

    assert late_when_started(safe) - without < 30
    assert late_when_started(0) - without >= 30


def test_a_start_on_an_empty_or_patient_bench_hurts_nobody() -> None:
    assert advised(Bench(), "C5").hurts == ()
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.must("start", "B2")
    assert (advised(bench, "C5").hurts, advised(bench, "C5").safe_in_s) == ((), 0)


def test_a_second_pair_of_hands_takes_the_warning_away() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 300)
    assert advised(bench, "C5").hurts
    assert advised(settings(bench, hands=2), "C5").hurts == ()


def test_planning_figures_are_refused_outside_their_range() -> None:
    bench = Bench()
    for name, value in (("hands", 0), ("hands", 1.5), ("clean_hands", -1), ("change_s", 1801), ("bath_holds", 0)):
        with pytest.raises(CommandFault, match=name):
            bench.give("set-unit", "unit", **{name: value})
    assert bench.unit.settings._replace(name="x", zone="x") == Settings()._replace(name="x", zone="x")
