"""A week's export: every field, every event once, and the same bytes for ever."""

from __future__ import annotations

import csv
import io
import json
from hashlib import sha256
from typing import Any

import pytest
from recorded_bench import RecordedBench, document

from data.exporters.csv_week import CONTENTS, EVENT_COLUMNS
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.gather import UnknownWeek
from protocols.errors import CommandFault, RecordDamaged

WEDNESDAY = "2026-11-25T08:00:00+01:00"
MINUTES = 60


def rows(files: dict[str, bytes], name: str = "cycles.csv") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[name].decode("utf-8-sig"), newline=""), strict=True))


def export(bench: RecordedBench, week: str = "2026-W48") -> dict[str, bytes]:
    return bench.export_week(week)


def three_weeks() -> RecordedBench:
    """Cycles of every end, amendments in later weeks, one cycle over midnight, one left open."""
    bench = RecordedBench(WEDNESDAY)
    bench.whole_cycle("B2")
    bench.take_to("B3", "leak-test")
    bench.wait(1)
    bench.must("look", "B3", outcome="leak", by="tim")
    bench.whole_cycle("B3")
    bench.receive("C5")
    bench.wait(2)
    bench.must("undo", "C5")
    bench.take_to("G4", "inspect")
    bench.wait(5 * 86_400)
    bench.must("release", "B2")
    bench.must("void", "G4", reason="left over the weekend")
    bench.wait(1)
    bench.strip("D6", result="fail")
    bench.must("correct", "H4", what="strip", reason="strip was held too long")
    bench.must("close-bath", "H4", reason="old")
    bench.wait(7 * 86_400)
    bench.must("return-checked", "B3", leak_test="pass", inspection="pass", report="R-1")
    bench.pour("H5", "opa-0575-20c")
    bench.take_to("L8", "inspect")
    return bench


def test_st58_fields_are_columns_with_values() -> None:
    """Source: ANSI/AAMI ST58 as quoted by an accreditation newsletter, March 2022 (read at second hand)."""
    bench = RecordedBench(WEDNESDAY)
    bench.whole_cycle("B2")
    (row,) = rows(export(bench))
    found = {
        "scope_tag": "B2", "scope_serial": "S-B2",  # identification of the item
        "hld_lot": "LOT-H4", "hld_expires": "2027-06-30",  # lot number, shelf-life date
        "hld_opened": "2026-11-25", "hld_opened_life_d": "75",  # container opened, its use life
        "hld_activated": "", "hld_poured_at": "2026-11-25T08:00:00.000+01:00", "hld_poured_by": "ann",
        "hld_reuse_life_d": "14", "hld_last_day": "2026-12-09",
        "contact_required_s": "720", "contact_proven_s": "720",  # exposure time
        "contact_temp_start_c": "21", "contact_temp_lift_c": "21",  # and temperature
        "disinfected_by": "ann", "strip_result": "pass", "strip_lot": "STRIP-1", "strip_by": "ann",
        "people": "ann = Ann",
    }  # fmt: skip
    assert {name: row[name] for name in found} == found
    assert row["case"] == bench.events[-1].refs["case"] and row["contact_start"] < row["contact_end"]


def test_activated_bath_shows_its_date() -> None:
    bench = RecordedBench(WEDNESDAY)
    bench.pour("H6", "glut-2-society-20c", activated="2026-11-25")
    bench.whole_cycle("B2", "H6")
    assert rows(export(bench))[0]["hld_activated"] == "2026-11-25"


def test_society_log_fields_are_columns_with_values() -> None:
    """Source: the multisociety 2016 and HICPAC 2016 lists as tabulated by a society page (read at second hand)."""
    bench = RecordedBench(WEDNESDAY)
    bench.receive("G4", case="26-0815", location="room 2", clinician="Dr Sample", procedure_type="gastroscopy")
    bench.whole_cycle("G4")
    (row,) = rows(export(bench))
    found = {
        "case": "26-0815", "procedure_date": "2026-11-25", "procedure_type": "gastroscopy",
        "procedure_end": "2026-11-25T07:50:00.000+01:00", "cleaning_start": "2026-11-25T08:00:04.000+01:00",
        "scope_model": "demo", "scope_serial": "S-G4", "scope_loaner": "no", "location": "room 2",
        "clinician": "Dr Sample", "cleaned_by": "ann", "leak_tested_by": "ann", "leak_test_result": "pass",
        "outcome": "completed", "storage_place": "cabinet 1", "dried_by": "ann", "stored_by": "ann", "machine": "",
    }  # fmt: skip
    assert {name: row[name] for name in found} == found


def test_no_column_is_for_a_patient() -> None:
    names = [c.name for c in (*CYCLE_COLUMNS, *EVENT_COLUMNS)]
    assert not [name for name in names if "patient" in name]
    assert len({c.name for c in CYCLE_COLUMNS}) == len(CYCLE_COLUMNS)


def test_columns_are_documented_in_the_export() -> None:
    files = export(three_weeks())
    documented = [(r["file"], r["column"]) for r in rows(files, "columns.csv")]
    tables = ("cycles.csv", "events.csv", "baths.csv", "tests.csv")
    headers = [(name, column) for name in tables for column in rows(files, name)[0]]
    assert documented == headers and all(r["means"] and r["kind"] for r in rows(files, "columns.csv"))


def test_every_event_is_exported_exactly_once() -> None:
    bench = three_weeks()
    weeks = bench.journal.segments()
    assert weeks == ["2026-W48", "2026-W49", "2026-W50"]
    seen = [int(r["seq"]) for week in weeks for r in rows(export(bench, week), "events.csv")]
    still_open = {c.id for c in bench.unit.cycles.values()}
    expected = [
        e.seq for e in bench.events
        if e.kind != "boot" and e.id not in still_open and e.refs.get("cycle") not in still_open
    ]  # fmt: skip
    assert sorted(seen) == expected and len(expected) > 60


def test_rows_say_why_they_are_there() -> None:
    bench = three_weeks()
    later = rows(export(bench, "2026-W49"), "events.csv")
    assert {r["kind"]: r["belongs"] for r in later if r["belongs"] != "cycle"} == {
        "release": "amendment", "strip-test": "unit", "correct": "unit", "close-bath": "unit",
    }  # fmt: skip
    assert [r["kind"] for r in later if r["cycle"]].count("receive") == 1  # of the cycle from the week before
    last = rows(export(bench, "2026-W50"), "events.csv")
    assert [(r["kind"], r["belongs"]) for r in last][:2] == [("return-checked", "amendment"), ("pour-bath", "unit")]
    assert [(r["outcome"], r["scope_tag"]) for r in rows(export(bench, "2026-W48"))] == [
        ("completed", "B2"), ("out of service", "B3"), ("voided", "C5"),
    ]  # fmt: skip
    assert [r["outcome"] for r in rows(export(bench, "2026-W49"))] == ["voided"]
    assert rows(export(bench, "2026-W50")) == []


def test_data_of_an_event_comes_back_whole() -> None:
    bench = three_weeks()
    by_seq: dict[int, Any] = {e.seq: e for e in bench.events}
    for row in rows(export(bench), "events.csv"):
        event = by_seq[int(row["seq"])]
        assert json.loads(row["data"]) == event.data
        assert (row["id"], row["at"], row["kind"], row["by"]) == (event.id, event.wall, event.kind, event.by)
    undone = [r for r in rows(export(bench), "events.csv") if r["taken_back_by"]]
    assert [r["kind"] for r in undone] == ["receive"]


def test_hostile_texts_are_guarded_and_come_back() -> None:
    bench = RecordedBench(WEDNESDAY)
    bench.receive("B2", case="=HYPERLINK(A1)", clinician="@sum", location='+1 "x", y', procedure_type="-2")
    bench.wait(1)
    bench.must("void", "B2", reason="=1+1")
    (row,) = rows(export(bench))
    assert (row["case"], row["clinician"], row["location"]) == ("'=HYPERLINK(A1)", "'@sum", '\'+1 "x", y')
    assert (row["procedure_type"], row["outcome_reason"]) == ("'-2", "'=1+1")
    guarded = [cell for r in rows(export(bench), "events.csv") for cell in r.values() if cell[:1] in tuple("=+-@")]
    assert guarded == []


def test_texts_of_the_protocols_travel_along() -> None:
    files = export(three_weeks())
    texts = {name: content for name, content in files.items() if name.startswith("texts/")}
    assert set(texts) == {f"texts/{r['protocol_text_sha256']}" for r in rows(files)} and len(texts) == 2
    assert all(name == f"texts/{sha256(content).hexdigest()}" for name, content in texts.items())


def test_contents_name_state_and_hashes() -> None:
    bench = three_weeks()
    for week, closed in (("2026-W48", True), ("2026-W50", False)):
        files = export(bench, week)
        contents = json.loads(files.pop(CONTENTS))
        assert contents["closed"] is closed and contents["note"].startswith("complete" if closed else "week still open")
        assert contents["files"] == {name: sha256(content).hexdigest() for name, content in files.items()}
        last = next(line for line in bench.lines() if line["seq"] == contents["through"])
        assert contents["through_hash"] == last["hash"] and contents["week"] == week


def test_closed_week_gives_the_same_bytes_whatever_comes_later() -> None:
    bench = RecordedBench(WEDNESDAY)
    bench.whole_cycle("B2")
    bench.wait(6 * 86_400)
    bench.must("release", "B2")
    before = export(bench)
    bench.whole_cycle("G4")
    bench.wait(1)
    bench.must("void", "B2", reason="wrong tag")
    bench.must("set-unit", "unit", zone="Asia/Tokyo")
    assert export(bench) == before


def test_row_agrees_with_the_document() -> None:
    bench = RecordedBench(WEDNESDAY)
    bench.soaking("B2")
    bench.wait(30)
    bench.must("lift", "B2", reason="wrong basin")
    bench.whole_cycle("B2")
    found = document(bench, "B2", "Europe/Berlin")
    (row,) = rows(export(bench))
    assert row["soak_attempts"] == "2" and row["contact_result"] == "full"
    assert row["restarts"] == "early at disinfectant-soak after 30 s: wrong basin"
    assert row["strip_at"] == found["disinfection"]["strip_tests"][1]["at"]
    assert row["events"] == str(len(found["events"])) and row["rinses"] == "3" and row["rinse_water"] == "sterile"
    assert row["flushes"].startswith("flush-suction-channel 3 of 3 x 30 mL; ") and row["alcohol_pct"] == "70"
    assert row["drying_s"] == "600" and row["hang_limit_s"] == str(7 * 24 * 60 * MINUTES)
    assert row["brushing"].startswith("brush-suction-cylinder 1 (0 with debris); ") and row["brush_passes"] == "4"


def test_wrong_weeks_are_named() -> None:
    bench = three_weeks()
    with pytest.raises(CommandFault, match="2026-W48"):
        export(bench, "W48")
    with pytest.raises(UnknownWeek, match="from 2026-W48 to 2026-W50"):
        export(bench, "2026-W51")
    bench.disk.remove(f"texts/{rows(export(bench))[0]['protocol_text_sha256']}")
    with pytest.raises(RecordDamaged, match="missing"):
        export(bench)
