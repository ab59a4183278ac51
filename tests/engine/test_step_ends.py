"""What the end of a step records and where it leads: the manual clean's length, the place, holds, flags, refusals."""

from __future__ import annotations

import pytest
from driver import Bench
from load_cases import GOOD, fig, in_step, step_text
from odd_protocols import odd

from protocols.cycle import State
from protocols.refusals import Refusal

RINSE = step_text("rinse")
# GOOD, whose clean ends with a look at the outside instead of the rinse's last count.
LOOKED = GOOD.replace(
    RINSE,
    """[[step]]
id = "outside"
stage = "clean"
kind = "look"
says = "Look at the outside."
ends_cleaning = true
outcomes = { clean = "next" }
"""
    + RINSE.replace("ends_cleaning = true\n", ""),
)


def cleaned_for(bench: Bench, seconds: float) -> dict[str, object]:
    bench.take_to("X1", "outside")
    begun = bench.cycle("X1").clean_from
    assert begun is not None
    bench.wait(seconds - (bench.now.proven_ms - begun.proven_ms) / 1000)
    return dict(bench.must("look", "X1", outcome="clean").data)


def test_a_look_that_ends_the_clean_records_its_length_and_says_when_it_was_short() -> None:
    # `short_clean_s` of the invented protocol is 420 s.
    short, long = cleaned_for(odd(LOOKED), 420), cleaned_for(odd(LOOKED), 421)
    assert (short["clean_s"], long["clean_s"]) == (420, 421)
    assert "7:00" in str(short["notices"]) and "notices" not in long


def test_without_a_figure_no_clean_is_called_short() -> None:
    found = cleaned_for(odd(LOOKED.replace(fig("short_clean_s", 420), "")), 60)
    assert found["clean_s"] == 60 and "notices" not in found


def test_a_place_is_kept_where_the_storing_step_asks_for_it() -> None:
    bench = odd()
    bench.take_to("X1", "store")
    bench.wait(1)
    assert "marks" not in bench.must("look", "X1", outcome="hung").data
    asked = odd(in_step("store", step_text("store"), step_text("store") + 'records = ["place"]\n'))
    asked.take_to("X1", "store")
    asked.wait(1)
    assert asked.must("look", "X1", outcome="hung", place="cabinet 2").data["marks"] == {"place": "cabinet 2"}
    elsewhere = odd(in_step("inspect", step_text("inspect"), step_text("inspect") + 'records = ["place"]\n'))
    elsewhere.take_to("X1", "inspect")
    elsewhere.wait(1)
    looked = elsewhere.must("look", "X1", outcome="clean", place="bench 1").data
    assert looked["place"] == "bench 1" and elsewhere.cycle("X1").place == ""


def test_a_cycle_that_has_ended_is_not_taken_back_by_a_tap() -> None:
    bench = odd()
    bench.take_to("X1", "store")
    bench.wait(1)
    assert bench.must("look", "X1", outcome="hung").data["undo"] is False
    assert isinstance(bench.give("undo", "X1"), Refusal)


@pytest.mark.parametrize("lacking", ["branch", "maximum"])
def test_what_waits_for_a_lead_is_not_taken_back_by_a_tap(lacking: str) -> None:
    text = GOOD.replace(step_text("extended"), "") if lacking == "branch" else in_step(
        "extended", fig("soak_s_max", 3600), "")  # fmt: skip
    bench = odd(text)
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "immerse")
    bench.go("X1")
    assert bench.state("X1") is State.WAITING
    bench.wait(1)
    bench.checked_refusal("undo-unsafe", "undo", "X1")


def test_a_lead_sets_a_missing_maximum_once() -> None:
    bench = odd(in_step("extended", fig("soak_s_max", 3600), ""))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "extended")
    assert bench.state("X1") is State.WAITING
    bench.must("decide", "X1", decision="continue", reason="IFU", soak_s_max=1200)
    bench.wait(1)
    bench.checked_refusal("not-waiting", "decide", "X1", decision="continue", reason="IFU", soak_s_max=2400)
    assert bench.go("X1").data["timer"]["max_s"] == 1200


def test_only_the_extended_soak_waits_for_a_maximum() -> None:
    extended = step_text("extended").replace(fig("soak_s_max", 3600), "")
    ordinary = extended.replace('id = "extended"', 'id = "short"').replace('when = "delayed"\n', "")
    bench = odd(GOOD.replace(step_text("extended"), ordinary + extended))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "short")
    assert bench.cycle("X1").hold is None
    bench.checked_refusal("not-waiting", "decide", "X1", decision="continue", reason="IFU", soak_s_max=1200)


def test_a_delayed_look_needs_no_maximum() -> None:
    extra = (
        '[[step]]\nid = "call"\nstage = "clean"\nkind = "look"\nsays = "Read the IFU."\nwhen = "delayed"\n'
        'outcomes = { read = "next" }\n'
    )
    bench = odd(GOOD.replace(step_text("extended"), extra + step_text("extended")))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "call")
    assert bench.cycle("X1").hold is None


def test_flags_stand_in_order_whatever_order_they_came_in() -> None:
    bench = Bench()
    bench.receive("B2", precleaned="no")
    bench.take_to("B2", "leak-test")
    bench.wait(1)
    flags = bench.must("look", "B2", outcome="leak").data["flags"]
    assert "leak" in flags and flags == sorted(flags)
    late = odd()
    late.receive("X1", precleaned="no")
    late.take_to("X1", "immerse")
    assert late.go("X1").data["flags"] == ["delayed", "soak"]
    late.take_to("X1", "brush")
    late.wait(1)
    chosen = late.must("choose", "X1", way="machine").data["flags"]
    assert "machine" in chosen and "soak" not in chosen and chosen == sorted(chosen)


def test_an_unknown_bath_is_answered_with_the_open_ones_of_its_kind() -> None:
    bench = odd()
    bench.take_to("X1", "hld")
    bench.strip("X1")
    values = bench.start_values("X1", "H9")
    assert bench.checked_refusal("unknown-bath", "start", "X1", **values).remedy == "use one of: H4"
    bench.pour("H5", "opa-055-20c")
    bench.must("close-bath", "H4", reason="r")
    assert bench.checked_refusal("unknown-bath", "start", "X1", **values).remedy == "use one of: H5"
    bench.must("close-bath", "H5", reason="r")
    none = bench.checked_refusal("unknown-bath", "start", "X1", **values)
    assert "pour" in none.remedy


def test_what_is_left_is_told_to_the_next_whole_second() -> None:
    bench = odd()
    bench.take_to("X1", "air")
    bench.go("X1")
    bench.wait(598.5)
    early = bench.checked_refusal("too-soon", "check", "X1", dry=True)
    assert "0:02" in str(early) and "0:03" not in str(early)


@pytest.mark.parametrize(("soak_s", "machine_s", "late_s"), [(900, 900, 101), (900, None, None), (None, 900, None)])
def test_another_way_gives_no_new_time_in_which_to_begin(
    soak_s: int | None, machine_s: int | None, late_s: int | None
) -> None:
    text = GOOD
    for step, limit in (("hld", soak_s), ("machine", machine_s)):
        if limit is not None:
            text = text.replace(step_text(step), step_text(step) + fig("start_within_s_max", limit))
    bench = odd(text)
    bench.take_to("X1", "hld")
    bench.wait(400)
    assert bench.must("choose", "X1", way="machine").data["to"] == "machine"
    bench.wait(601)
    begun = bench.must("start", "X1", machine="M1", run="17")
    assert begun.data.get("start_late_s") == late_s
