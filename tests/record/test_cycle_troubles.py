"""The summary of a cycle that did not go as planned: what was late, begun again, failed, or ended at once."""

from __future__ import annotations

import pytest
from recorded_bench import document, own_events, tap

from data.cycles import summarise
from tests.engine.driver import Bench


def test_early_and_interrupted_soaks_are_restarts() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(100)
    bench.must("lift", "B2", reason="wrong basin")
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(50)
    bench.must("interrupt", "B2", reason="alarm", by="tim")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    soaks = found["disinfection"]["soaks"]
    assert [(s["result"], s["contact_s"]) for s in soaks] == [("early", 100), ("interrupted", 50), ("full", 720)]
    assert [(r["what"], r["reason"], r["lasted_s"]) for r in found["restarts"]] == [
        ("early", "wrong basin", 100), ("interrupted", "alarm", 50),
    ]  # fmt: skip
    assert len({s["test"] for s in soaks}) == 3 and found["people"]["disinfected"] == ["ann"]


def test_lift_too_cold_is_a_restart_with_its_notice() -> None:
    bench = Bench()
    bench.pour("H9", "h2o2-75")
    bench.soaking("B2", "H9", 21)
    bench.wait(1800)
    bench.must("lift", "B2", temp_c=19)
    bench.whole_cycle("B2", "H9")
    found = document(bench, "B2")
    assert [(s["result"], s["lift_temp_c"]) for s in found["disinfection"]["soaks"]] == [("too cold", 19), ("full", 21)]
    assert any("19 °C at lift" in n["notice"] for n in found["notices"])
    assert found["restarts"][0]["what"] == "too cold"


def test_late_lift_with_hold_and_decision() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 600 + 30)
    bench.must("lift", "B2", temp_c=21, by="tim")
    for _ in range(20):
        if not bench.state("B2").value.startswith("waiting"):
            bench.go("B2")
    bench.must("decide", "B2", decision="continue", reason="label allows it")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    assert [(x["what"], x["over_s"], x["by"]) for x in found["lates"]] == [("lift", 30, "tim")]
    (hold,) = found["holds"]
    assert (hold["kind"], hold["decision"], hold["decided_by"]) == ("late lift", "continue", "ann")
    assert found["disinfection"]["soaks"][0]["late_s"] == 30


def test_delay_past_its_limit() -> None:
    """Source: Multisociety 2021 as summarised: cleaning starts within 60 min (read at second hand)."""
    bench = Bench()
    bench.take_to("B2", "immerse")
    bench.wait(3600)
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    assert found["delay"]["delayed"] and found["delay"]["delay_s"] == 4204
    assert [(x["what"], x["over_s"]) for x in found["lates"]] == [("cleaning begun", 604)]
    assert [s["step"] for s in found["detergent"]["soaks"]] == ["extended-soak", "detergent-soak"]


def test_unknown_end_takes_the_delayed_branch_from_receipt() -> None:
    bench = Bench()
    bench.receive("B2", procedure_end=None, precleaned="no")
    bench.whole_cycle("B2")
    delay = document(bench, "B2")["delay"]
    assert delay["delayed"] and delay["known_at_receipt"] and delay["delay_s"] is None


def test_leak_failure_touches_no_disinfectant() -> None:
    bench = Bench()
    bench.take_to("L8", "leak-test")
    tap(bench, "look", "L8", outcome="leak", by="tim")
    bench.whole_cycle("L8")
    found = document(bench, "L8")
    assert [(t["result"], t["by"]) for t in found["leak_tests"]] == [("fail", "tim")]
    assert found["outcome"]["outcome"] == "out of service" and found["outcome"]["owner"] == "ann"
    assert found["disinfection"] == {"method": None, "soaks": [], "runs": [], "strip_tests": []}
    assert found["baths"] == [] and found["cleaning"]["start"] is None and not found["outcome"]["disinfected"]
    assert found["drying"] == {"start": None, "end": None, "air_s": None, "air_psi": None, "wet_checks": 0, "by": []}
    assert found["storage"]["hang_from"] is None and found["storage"]["hang_until"] is None


def test_leak_result_corrected_by_a_lead() -> None:
    bench = Bench()
    bench.take_to("B2", "leak-test")
    tap(bench, "look", "B2", outcome="leak", by="tim")
    tap(bench, "correct", "B2", what="leak", reason="cap was loose")
    bench.whole_cycle("B2")
    tests = document(bench, "B2")["leak_tests"]
    assert [(t["result"], t["corrected_by"], t["corrected_why"]) for t in tests] == [
        ("fail", "ann", "cap was loose"), ("pass", None, None),
    ]  # fmt: skip


def test_machine_run_repeated_whole() -> None:
    """Source: Multisociety 2021 as summarised, a cycle that stops is repeated whole (read at second hand)."""
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    tap(bench, "choose", "B2", way="machine")
    bench.must("start", "B2", machine="M1", run="16", **bench.given("B2"))
    bench.wait(300)
    bench.must("run-end", "B2", result="failed")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    runs = found["disinfection"]["runs"]
    assert found["disinfection"]["method"] == "machine" and found["outcome"]["disinfected"]
    assert [(r["machine"], r["run"], r["result"]) for r in runs] == [("M1", "16", "failed"), ("M1", "17", "complete")]
    assert (runs[0]["run_s"], runs[1]["run_s"]) == (300, 1200)
    assert found["restarts"][0]["what"] == "run failed"


def test_reading_with_its_limit() -> None:
    """Source of the limits 3 and 6.4 µg/cm²: ISO 15883-5:2021 as listed by a laboratory site (read at second hand)."""
    bench = Bench()
    bench.take_to("B2", "verify")
    bench.must("read", "B2", method="protein", meter="kit 1", value=2.5, by="tim")
    bench.whole_cycle("B2")
    (reading,) = document(bench, "B2")["verification"]
    assert reading["value"] == 2.5 and reading["unit"] == "µg/cm²" and reading["meter"] == "kit 1"
    assert reading["verdict"] == "pass" and reading["limit"] == {"alert_from": 3, "action_from": 6.4}


def test_wet_checks_and_notes() -> None:
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.go("B2")
    bench.wait(600)
    bench.must("check", "B2", dry=False)
    bench.wait(60)
    bench.must("note", "B2", what="damage", text="scratch near the tip", by="tim")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    assert found["drying"]["wet_checks"] == 1 and found["drying"]["air_s"] > 660
    assert [(n["what"], n["text"], n["by"]) for n in found["notes"]] == [("damage", "scratch near the tip", "tim")]


@pytest.mark.parametrize(
    ("do", "values", "outcome", "reason"),
    [
        ("void", {"reason": "wrong tag"}, "voided", "wrong tag"),
        ("out-of-service", {"reason": "kinked", "owner": "desk"}, "out of service", "kinked"),
        ("undo", {}, "voided", "receipt taken back"),
    ],
)
def test_cycle_ended_at_once(do: str, values: dict[str, str], outcome: str, reason: str) -> None:
    bench = Bench()
    receipt = bench.receive("B2")
    bench.wait(5)
    end = bench.must(do, "B2", **values)
    found = summarise(own_events(bench, receipt.id), "UTC", {})
    assert (found["outcome"]["outcome"], found["outcome"]["reason"]) == (outcome, reason)
    assert found["outcome"]["kind"] == do and found["outcome"]["at"] == end.wall
    assert not found["outcome"]["disinfected"] and found["storage"]["hang_until"] is None
    assert [e["kind"] for e in found["events"]] == ["receive", do]


def test_soak_that_runs_when_the_cycle_is_voided_has_no_result() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(5)
    bench.must("void", "B2", reason="wrong tag")
    (soak,) = document(bench, "B2")["disinfection"]["soaks"]
    assert soak["result"] is None and soak["end"] is None and soak["contact_s"] is None


def test_bath_poured_in_a_week_that_is_gone_keeps_what_its_events_say() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    last = bench.unit.scopes["B2"].last
    assert last is not None
    baths = summarise(own_events(bench, last.cycle), "UTC", {})["baths"]
    bath = next(b for b in baths if b["label"] == "H4")
    assert (bath["lot"], bath["claim"]) == ("LOT-H4", "opa-055-20c")
    assert bath["poured"] is None and bath["expires"] is None and bath["last_day"] is None


def test_cycle_voided_after_drying_has_no_hang_time() -> None:
    bench = Bench()
    bench.take_to("B2", "store")
    bench.must("void", "B2", reason="wrong tag", by="ann")
    found = document(bench, "B2")
    assert found["drying"]["air_s"] == 600 and found["outcome"]["disinfected"]
    assert found["storage"]["hang_from"] is None and found["storage"]["at"] is None
