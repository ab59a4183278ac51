"""What happens between cycles as the record keeps it: exported, looked back on, audited; and cycles that changed hands.

FHIR shapes by the library fhir.resources (R4B).
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from audit_cases import differences
from fhir.resources.R4B.bundle import Bundle

from data.door import Door
from data.exporters.chain_files import chain_files
from data.exporters.csv_week import week_files
from data.exporters.fhir_week import fhir_bundle
from data.exporters.standing import standing
from data.gather import read_week
from data.genuine import Genuine
from data.handover import answers_packet, offers_packet, take_packet, to_answer
from data.ledger import Ledger, catch_up
from data.ledger_entry import found_in
from data.signing import signer_of
from data.trace import trace
from data.unit_gather.conflicts import Conflicts
from protocols.event import Decision, Event
from tests.record.recorded_bench import RecordedBench
from tests.record.test_trace import written
from tests.searching import searched

START, WEEK = "2026-11-25T08:00:00+01:00", "2026-W48"
BETWEEN = {
    "issue-scope": "amendment", "procedure-ended": "unit", "report-fault": "unit", "decontaminate": "unit",
    "send-for-repair": "unit", "return-checked": "amendment", "record-competency": "unit", "record-filter": "unit",
    "record-culture": "unit", "hand-shift": "unit", "acknowledge": "cycle",
}  # fmt: skip


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


@pytest.fixture(scope="module")
def bench() -> RecordedBench:
    """One of every event between cycles, with checkpoints so close that each state passes through one."""
    made = RecordedBench(START, checkpoint_every=5)
    made.whole_cycle("B2")
    made.must("release", "B2", by="tim")
    made.must("issue-scope", "B2", case="26-77", by="tim")
    made.must("procedure-ended", "B2", procedure_end="2026-11-25T08:20:00+01:00")
    made.must("report-fault", "D6", kind="damage", text="buckled")
    made.must("decontaminate", "D6", how="wiped")
    made.must("send-for-repair", "D6", to="maker")
    made.must("return-checked", "D6", leak_test="pass", inspection="pass")
    made.must("receive", "D6", again="repair")
    made.whole_cycle("D6")
    made.must("report-fault", "D6", kind="contamination", text="growth")
    made.must("return-checked", "D6", leak_test="pass", inspection="pass", culture="C-1")
    made.must("record-competency", "tim", what="leak test", done="2026-11-01", until="2027-11-01")
    made.must("record-filter", "sink", what="water", done="2026-11-01")
    made.must("record-culture", "B3", taken="2026-11-20", result="none", reference="C-2")
    made.soaking("B3")
    made.must("hand-shift", "tim")
    made.must("acknowledge", "B3", by="tim")
    made.wait(720)
    made.whole_cycle("B3")
    return made


def test_every_event_between_cycles_is_in_the_weeks_events(bench: RecordedBench) -> None:
    found = {row["kind"]: row["belongs"] for row in rows(bench.export_week(WEEK)["events.csv"])}
    assert {kind: found.get(kind) for kind in BETWEEN} == {**BETWEEN, "return-checked": found["return-checked"]}
    assert found["return-checked"] == "amendment"


def test_the_record_verifies_and_each_checkpoint_is_what_the_lines_before_it_give(bench: RecordedBench) -> None:
    bench.door.touch()
    bench.door.touch()
    catch_up(bench.ledger, bench.journal)
    assert differences(bench.disk) == []


def test_the_look_back_finds_the_case_the_scope_and_the_person(bench: RecordedBench, tmp_path: Path) -> None:
    home = written(bench, tmp_path)
    case = trace(home, "case", "26-77")
    # The case leads to the cycle that made its scope ready, with the issue in its story.
    assert [e.kind for c in case.cycles for e in c.own if e.refs.get("case") == "26-77"] == ["issue-scope"]
    assert [e.kind for e in case.others] == ["procedure-ended"]
    scope = {e.kind for e in trace(home, "scope", "D6").events}
    assert {"report-fault", "decontaminate", "send-for-repair", "return-checked"} <= scope
    person = {e.kind for e in trace(home, "person", "tim").events}
    assert {"record-competency", "acknowledge", "hand-shift", "issue-scope"} <= person


class Named(RecordedBench):
    """A recorded bench of a handheld with a name of its own, which takes messages of others."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(START)

    def _append(self, decision: Decision, by: str) -> None:  # type: ignore[override]
        genuine = Genuine(self.disk)
        self.door = Door(self.journal, self.texts, self.clock, self.shelf, self.name, genuine)
        self.unit = self.door.unit


def handed() -> tuple[RecordedBench, RecordedBench]:
    """A cycle that began on one handheld, with a tap taken back, and ended on the other."""
    benches = Named("hh1"), Named("hh2")
    for one, other in (benches, benches[::-1]):
        one.must("pair-handheld", other.door.device, public_key=signer_of(other.disk).public)
    first, second = benches
    first.take_to("B2", "brush-tip")
    first.wait(1)
    first.must("pass", "B2", debris="seen", brush=True)
    first.wait(1)
    first.must("undo", "B2")
    first.take_to("B2", "final-rinse")
    first.must("hand-over", "B2", device="hh2")
    packet = offers_packet(first.door, signer_of(first.disk), ["B2"], True)
    taken = take_packet(second.door, packet, "ann")
    answer = answers_packet(second.door, signer_of(second.disk), to_answer(second.door, taken))
    take_packet(first.door, answer, "ann")
    for one in benches:
        one.unit = one.door.unit
    second.whole_cycle("B2")
    return first, second


@pytest.fixture(scope="module")
def hands() -> tuple[RecordedBench, RecordedBench]:
    return handed()


def test_a_cycle_that_changed_hands_is_whole_in_its_last_ledger(hands: tuple[RecordedBench, RecordedBench]) -> None:
    first, second = hands
    (here,), (there,) = (list(_documents(one)) for one in hands)
    assert (here["outcome"]["outcome"], there["outcome"]["outcome"]) == ("handed over", "completed")
    assert here["outcome"]["reason"] == "to hh2" and here["went_to"]["cycle_there"] == there["cycle"]
    assert there["came_from"]["cycle_there"] == here["cycle"]
    line = next(line for line in first.lines() if line["kind"] == "hand-over")
    assert there["came_from"]["head"] == line["hash"] and there["came_from"]["device"] == "hh1"
    assert there["leak_tests"] == here["leak_tests"] and there["brushing"] == here["brushing"]
    assert there["disinfection"]["soaks"] == here["disinfection"]["soaks"] and there["baths"][0]["poured"]
    assert there["received"] == here["received"] and there["drying"]["end"] and not here["drying"]["end"]
    assert there["taken_back"] == here["taken_back"] and len(there["taken_back"]) == 1
    assert second.lines()[-1]["device"] == "hh2"


def _documents(bench: RecordedBench) -> Any:
    catch_up(Ledger(bench.disk), bench.journal)
    return searched(Ledger(bench.disk), tag="B2")


def test_the_list_of_cycles_names_who_worked_here(hands: tuple[RecordedBench, RecordedBench]) -> None:
    for one in hands:
        documents = list(_documents(one))
        glance = Ledger(one.disk).at_a_glance(WEEK)
        assert [found_in(WEEK, d) for d in glance] == [found_in(WEEK, d) for d in documents]
        assert [d["cycle"] for d in glance if "events" in d] == [d["cycle"] for d in documents if "came_from" in d]


def test_both_records_verify_and_export_with_valid_fhir(hands: tuple[RecordedBench, RecordedBench]) -> None:
    for one in hands:
        one.door.touch()
        one.door.touch()
        assert differences(one.disk) == []
        read = read_week(one.journal, WEEK)
        documents = read.documents()
        files = week_files(read, documents, one.texts.get)
        events = rows(files["events.csv"])
        assert [int(row["seq"]) for row in events] == sorted(int(row["seq"]) for row in events)
        bundle = json.loads(fhir_bundle(read, documents, standing(read, chain_files(one.disk, one.journal, read))))
        Bundle.model_validate(bundle)


def test_the_look_back_on_the_receiver_finds_the_cycle_by_scope_case_and_bath(
    hands: tuple[RecordedBench, RecordedBench], tmp_path: Path
) -> None:
    home = written(hands[1], tmp_path)
    (cycle,) = trace(home, "scope", "B2").cycles
    assert cycle.outcome == "completed" and isinstance(cycle.ended, Event)
    assert [one.id for one in trace(home, "case", cycle.case).cycles] == [cycle.id]


def test_gathered_together_a_cycle_that_changed_hands_is_no_scope_in_two_places(
    hands: tuple[RecordedBench, RecordedBench], tmp_path: Path
) -> None:
    conflicts = Conflicts(tmp_path / "scratch")
    for one in hands:
        read = read_week(one.journal, WEEK)
        files = week_files(read, read.documents(), one.texts.get)
        conflicts.add_cycles(one.door.device, "Bench", files["cycles.csv"])
    assert list(conflicts.found()) == []
    conflicts.close()
