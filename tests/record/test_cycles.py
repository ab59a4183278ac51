"""The summary of one ended cycle: what a record must hold, and what really happened."""

from __future__ import annotations

import json

import pytest
from recorded_bench import document, own_events, tap

from data.cycles import summarise
from protocols.errors import Defect
from protocols.event import Event
from tests.engine.driver import Bench


def test_st58_fields_are_there() -> None:
    """Source: ANSI/AAMI ST58 as quoted by an accreditation newsletter, March 2022 (read at second hand)."""
    bench = Bench()
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    bath = next(b for b in found["baths"] if b["kind"] == "disinfectant")
    soak = found["disinfection"]["soaks"][0]
    assert found["scope"]["tag"] == "B2"  # identification of the item
    assert found["case"]["reference"] == bench.events[-1].refs["case"]  # traceability to the patient, by case
    assert bath["lot"] == "LOT-H4"  # lot number
    assert bath["expires"] == "2027-06-30"  # shelf-life date
    assert bath["opened"] == "2026-11-25"  # date the original container was opened
    assert bath["opened_d_max"] == 75  # use life of the open container
    assert bath["activated"] is None  # this chemistry needs no activation
    assert bath["poured"] == "2026-11-25T08:00:00.000+00:00" and bath["poured_by"] == "ann"  # poured
    assert bath["reuse_d_max"] == 14 and bath["last_day"] == "2026-12-09"  # reuse life
    assert soak["required_s"] == 720 and soak["contact_s"] >= 720  # exposure time
    assert (soak["temp_c"], soak["lift_temp_c"]) == (21, 21)  # and temperature
    assert soak["start"] < soak["end"] and soak["started_by"] == soak["ended_by"] == "ann"  # cycle time, operator
    assert found["people"]["names"] == {"ann": "Ann"}  # name of the operator
    strip = found["disinfection"]["strip_tests"][0]
    assert (strip["result"], strip["strip_lot"], strip["test"]) == ("pass", "STRIP-1", soak["test"])


def test_society_log_fields_are_there() -> None:
    """Source: the multisociety 2016 and HICPAC 2016 lists as tabulated by a society page (read at second hand).

    Case reference, procedure date and type stand in for the patient's name and number.
    """
    bench = Bench()
    received = bench.receive("G4", location="room 2", clinician="Dr Sample")
    bench.whole_cycle("G4")
    found = document(bench, "G4")
    assert found["case"] == {
        "reference": received.data["case"], "procedure_date": "2026-11-25", "procedure_type": "endoscopy",
        "procedure_end": "2026-11-25T07:50:00.000+00:00", "location": "room 2", "clinician": "Dr Sample",
    }  # fmt: skip
    assert found["scope"] == {
        "tag": "G4", "model": "demo", "serial": "S-G4", "loaner": False, "family": "gastroscope",
    }  # fmt: skip
    assert found["cleaning"]["start"] == "2026-11-25T08:00:04.000+00:00"  # manual cleaning start
    assert all(
        found["people"][role] == ["ann"] for role in ("cleaned", "disinfected", "leak_tested", "dried", "stored")
    )
    assert found["preclean"]["by"] == "ward nurse" and found["preclean"]["done"] == "yes"
    assert found["outcome"]["outcome"] == "completed" and found["outcome"]["disinfected"] is True


def test_whole_cycle_in_figures() -> None:
    bench = Bench()
    bench.must("add-scope", "X1", protocol="colonoscope-aux", loaner=True)
    bench.whole_cycle("X1")
    found = document(bench, "X1")
    assert found["scope"]["loaner"] is True and found["scope"]["model"] is None
    assert found["delay"]["delay_s"] == 604 and found["delay"]["delay_s_max"] == 3600 and not found["delay"]["delayed"]
    assert {f["volume_ml"] for f in found["flushes"]} == {30} and all(f["count"] == f["of"] for f in found["flushes"])
    assert [(r["count"], r["water"]) for r in found["rinses"]] == [(1, []), (3, ["sterile"])]
    assert [a["alcohol_pct"] for a in found["alcohol"]] == [70]
    assert found["drying"]["air_s"] == 600 and found["drying"]["wet_checks"] == 0
    assert found["storage"]["hang_from"] == found["drying"]["end"] and found["storage"]["label"] is True
    assert found["storage"]["hang_until"][:10] == "2026-12-02" and found["storage"]["place"] == "cabinet 1"
    assert [s["step"] for s in found["skips"]] == ["verify"]
    assert found["detergent"]["baths"][0]["temp_c"] == 30 and found["detergent"]["soaks"][0]["result"] == "full"
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_events_are_all_kept_in_order() -> None:
    bench = Bench()
    own = bench.whole_cycle("B2")
    found = document(bench, "B2")
    cycle = [e for e in own if e.kind != "pour-bath"]
    assert [(e["seq"], e["id"], e["at"], e["kind"], e["by"], e["data"]) for e in found["events"]] == [
        (e.seq, e.id, e.wall, e.kind, e.by, e.data) for e in cycle
    ]
    assert found["cycle"] == cycle[0].id and found["ended_seq"] == cycle[-1].seq


def test_tap_taken_back_is_kept_and_does_not_count() -> None:
    bench = Bench()
    bench.take_to("B2", "brush-port")
    seen = tap(bench, "pass", "B2", debris="seen")
    back = tap(bench, "undo", "B2", by="tim")
    tap(bench, "pass", "B2", debris="none")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    brushed = next(b for b in found["brushing"] if b["step"] == "brush-port")
    assert (brushed["passes"], brushed["with_debris"]) == (1, 0)
    assert [(e["seq"], e["undone_by"]) for e in found["events"] if e["undone_by"]] == [(seen.seq, back.seq)]
    assert [(t["seq"], t["what"], t["by"]) for t in found["taken_back"]] == [(seen.seq, "pass", "tim")]


def test_step_left_and_taken_back_is_one_visit() -> None:
    bench = Bench()
    bench.take_to("B2", "brush-port")
    tap(bench, "pass", "B2", debris="seen")
    tap(bench, "pass", "B2", debris="none")
    tap(bench, "undo", "B2")
    tap(bench, "pass", "B2", debris="seen")
    bench.wait(1)
    bench.whole_cycle("B2")
    brushed = [b for b in document(bench, "B2")["brushing"] if b["step"] == "brush-port"]
    assert [(b["passes"], b["with_debris"]) for b in brushed] == [(3, 2)]


def test_debris_at_inspection_makes_a_second_round() -> None:
    bench = Bench()
    bench.take_to("B2", "inspect")
    tap(bench, "look", "B2", outcome="debris")
    bench.whole_cycle("B2")
    found = document(bench, "B2")
    rounds = found["cleaning"]["rounds"]
    assert len(rounds) == 2 and rounds[0]["end"] < rounds[1]["start"]
    assert (found["cleaning"]["start"], found["cleaning"]["end"]) == (rounds[0]["start"], rounds[1]["end"])
    assert [i["outcomes"] for i in found["inspections"]] == [["debris"], ["clean"]]
    assert [b["step"] for b in found["brushing"]].count("brush-tip") == 2


@pytest.mark.parametrize("cut", [slice(0, 0), slice(1, None), slice(0, -1)])
def test_what_is_not_a_whole_cycle_is_refused(cut: slice) -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    last = bench.unit.scopes["B2"].last
    assert last is not None
    events: list[Event] = own_events(bench, last.cycle)[cut]
    with pytest.raises(Defect):
        summarise(events, "UTC", {})
