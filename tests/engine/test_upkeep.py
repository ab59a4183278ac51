"""What a unit keeps up: competency, filters, cultures by reference, strip lots and loans; and when each is due.

No source: the kinds are those a unit's audit asks for (common practice), the 14 days are our own.
"""

from __future__ import annotations

import pytest
from driver import Bench

from protocols.upkeep import SOON_D, due_list
from protocols.whereabouts import Place, place_of


def states(bench: Bench) -> dict[tuple[str, str], tuple[str, int]]:
    return {(one.kind, one.about): (one.state, one.left_d) for one in due_list(bench.unit, bench.now)}


def test_each_thing_is_due_after_its_last_day_and_due_soon_before() -> None:
    bench = Bench("2026-11-25T23:30:00+01:00", "Europe/Berlin")
    bench.must("record-competency", "tim", what="duodenoscopes", done="2026-01-10", until="2026-11-25")
    bench.must("record-filter", "sink 1", by="tim", what="rinse water", done="2026-10-01", until="2026-12-09")
    bench.must("record-culture", "D6", by="tim", taken="2026-11-01", result="none", reference="C-1", until="2026-12-10")
    bench.must("add-scope", "L9", protocol="gastroscope", loaned_until="2026-11-24")
    found = states(bench)
    assert found["competency", "tim"] == ("due soon", 0) and found["loan", "L9"] == ("due", -1)
    assert found["filter", "sink 1"] == ("due soon", SOON_D) and found["culture", "D6"] == ("holds", SOON_D + 1)
    assert found["strips", "STRIP-1"][0] == "holds"
    assert next(iter(found)) == ("loan", "L9"), "the most overdue stands first"
    bench.wait(3600)  # past midnight in the unit's zone
    assert states(bench)["competency", "tim"] == ("due", -1)
    bench.must("record-competency", "tim", what="duodenoscopes", done="2026-11-26", until="2027-11-26")
    assert states(bench)["competency", "tim"] == ("holds", 365)
    assert bench.replayed() == bench.unit


def test_days_count_over_a_leap_day_and_a_change_of_clocks() -> None:
    # 2028 is a leap year (Gregorian calendar); Berlin's clocks go forward on 26 March 2028.
    bench = Bench("2028-02-28T12:00:00+01:00", "Europe/Berlin")
    bench.must("record-filter", "sink 1", what="air", done="2028-02-28", until="2028-03-01")
    bench.must("record-filter", "sink 2", what="air", done="2028-02-28", until="2028-03-27")
    assert states(bench)["filter", "sink 1"][1] == 2 and states(bench)["filter", "sink 2"][1] == 28


def test_who_and_when_are_checked() -> None:
    bench = Bench()
    given = {"what": "leak test", "done": "2026-11-01", "until": "2027-11-01"}
    bench.checked_refusal("lead-only", "record-competency", "tim", by="tim", **given)
    bench.checked_refusal("no-person", "record-competency", "eve", **given)
    bench.checked_refusal("future", "record-filter", "f", what="air", done="2026-11-26")
    bench.checked_refusal("date-order", "record-filter", "f", what="air", done="2026-11-01", until="2026-10-31")
    bench.checked_refusal("unknown-scope", "record-culture", "X", taken="2026-11-01", result="none", reference="C")
    bench.must("record-competency", "tim", **given)
    bench.must("retire-person", "tim", reason="left")
    assert ("competency", "tim") not in states(bench)


@pytest.mark.parametrize(("result", "held"), [("none", False), ("growth", False), ("action", True)])
def test_a_culture_at_the_action_level_puts_the_scope_into_quarantine(result: str, held: bool) -> None:
    bench = Bench()
    bench.whole_cycle("D6")
    bench.must("release", "D6")
    event = bench.must("record-culture", "D6", taken="2026-11-24", result=result, reference="C-7")
    assert (place_of(bench.unit, "D6") is Place.HELD) is held
    assert bool(event.data.get("notices")) is (result != "none")
    if held:
        bench.checked_refusal("not-issuable", "issue-scope", "D6", case="7")
        fault = bench.unit.scopes["D6"].fault
        assert fault is not None and (fault.kind, fault.why) == ("contamination", "culture C-7")
