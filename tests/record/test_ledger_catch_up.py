"""The ledger made from the journal: every ended cycle in the week of its end, whole, and the same bytes again."""

from __future__ import annotations

from typing import Any

import pytest
from recorded_bench import RecordedBench, document, own_events

from data.gather import UnknownWeek, read_week
from data.ledger import Ledger, catch_up, rebuild
from data.memory_disk import MemoryDisk
from protocols.errors import CommandFault, RecordDamaged
from tests.searching import searched

SUNDAY = "2026-11-29T23:50:00+01:00"


def over_midnight() -> RecordedBench:
    """A cycle from Sunday 23:50 to Monday, in a zone in which it is still Sunday in UTC at its end."""
    bench = RecordedBench(SUNDAY)
    bench.whole_cycle("B2")
    return bench


def plain(found: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in found.items() if name != "week"}


def test_cycle_over_sunday_midnight_lies_in_mondays_week_with_all_its_events() -> None:
    bench = over_midnight()
    assert bench.journal.segments() == ["2026-W48", "2026-W49"]
    assert catch_up(bench.ledger, bench.journal) == ["2026-W48", "2026-W49"]
    assert bench.ledger.week("2026-W48") == []
    (found,) = bench.ledger.week("2026-W49")
    assert found["events"][0]["at"].startswith("2026-11-29T23:50") and found["events"][-1]["at"] > "2026-11-30"
    own = own_events(bench, found["cycle"])
    assert [e["seq"] for e in found["events"]] == [e.seq for e in own]
    weeks = [{line["seq"] for line in bench.journal.iter_segment(w)} for w in bench.journal.segments()]
    assert all(any(e.seq in week for e in own) for week in weeks)
    # Poured on Sunday too, so fetched from the week before.
    assert {b["label"]: b["poured"][:10] for b in found["baths"]} == {"H4": "2026-11-29", "W1": "2026-11-29"}
    assert plain(found) == document(bench, "B2", "Europe/Berlin") and found["week"] == "2026-W49"


def test_utc_unit_cuts_the_week_an_hour_later() -> None:
    bench = RecordedBench(SUNDAY, zone="UTC")
    bench.whole_cycle("B2")
    assert bench.journal.segments() == ["2026-W48"]


def test_bath_poured_weeks_before_is_found_without_the_weeks_between() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00")
    bench.whole_cycle("B2")
    for _ in range(13):
        bench.wait(86_400)
        bench.whole_cycle("B3")
    assert bench.journal.segments() == ["2026-W48", "2026-W49", "2026-W50"]
    catch_up(bench.ledger, bench.journal)
    last = bench.ledger.week("2026-W50")[-1]
    hld = next(b for b in last["baths"] if b["label"] == "H4")
    assert hld["poured"][:10] == "2026-11-25" and hld["last_day"] == "2026-12-09"
    assert len(searched(bench.ledger, bath=hld["uid"])) == 14


def test_rebuild_gives_the_same_bytes_and_mends_damage() -> None:
    bench = over_midnight()
    bench.whole_cycle("G4")
    catch_up(bench.ledger, bench.journal)
    before = {path: bytes(data) for path, data in bench.disk.files.items() if path.startswith("ledger/")}
    for week in ("2026-W48", "2026-W49"):
        rebuild(bench.ledger, bench.journal, week)
        path = f"ledger/{week}.json"
        assert bench.disk.read(path) == before[path]
        bench.disk.replace(path, before[path][:-9])
        with pytest.raises(RecordDamaged, match="rebuilt"):
            bench.ledger.week(week)
        rebuild(bench.ledger, bench.journal, week)
        assert bench.disk.read(path) == before[path]


def test_folding_after_every_event_ends_in_the_same_bytes_as_folding_once() -> None:
    bench = over_midnight()
    catch_up(bench.ledger, bench.journal)
    bench.receive("B2")
    bench.take_to("B3", "leak-test")
    for tag in ("B2", "B3"):
        while tag in bench.unit.cycles:
            bench.go(tag)
            catch_up(bench.ledger, bench.journal)
    bench.must("release", "B2")
    catch_up(bench.ledger, bench.journal)
    once = Ledger(MemoryDisk())
    catch_up(once, bench.journal)
    for week in bench.journal.segments():
        assert once.week(week) == bench.ledger.week(week)
        assert once.through(week) == bench.ledger.through(week)
    assert [d["scope"]["tag"] for d in once.week("2026-W49")] == ["B2", "B2", "B3"]


def test_caught_up_writes_nothing() -> None:
    bench = over_midnight()
    catch_up(bench.ledger, bench.journal)
    assert catch_up(bench.ledger, bench.journal) == []
    assert bench.ledger.through("2026-W49") == bench.journal.head[0]


def test_what_comes_after_the_end_is_not_in_the_document() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00")
    end = bench.whole_cycle("B2")[-1]
    bench.wait(1)
    bench.must("release", "B2", place="room 2")
    bench.wait(1)
    bench.must("void", "B2", reason="strip bottle was out of date")
    catch_up(bench.ledger, bench.journal)
    (found,) = bench.ledger.week("2026-W48")
    assert found["outcome"]["outcome"] == "completed" and found["events"][-1]["seq"] == end.seq
    others = read_week(bench.journal, "2026-W48").others
    assert [e.kind for e in others if e.refs.get("cycle")] == ["release", "void"]


def test_amendments_in_a_later_week_stay_there() -> None:
    bench = RecordedBench("2026-11-27T08:00:00+01:00")
    bench.whole_cycle("B2")
    bench.take_to("B3", "leak-test")
    bench.wait(1)
    bench.must("out-of-service", "B3", reason="kinked", owner="desk")
    catch_up(bench.ledger, bench.journal)
    before = bench.disk.read("ledger/2026-W48.json")
    bench.wait(4 * 86_400)
    bench.must("release", "B2")
    bench.wait(1)
    bench.must("void", "B2", reason="wrong scope")
    bench.wait(1)
    bench.must("correct", "B3", what="service", reason="repaired")
    catch_up(bench.ledger, bench.journal)
    read = read_week(bench.journal, "2026-W49")
    assert [e.kind for e in read.others] == ["release", "void", "correct"] and read.ended == []
    rebuild(bench.ledger, bench.journal, "2026-W48")
    assert len(bench.ledger.week("2026-W48")) == 2
    assert bench.disk.read("ledger/2026-W48.json") == before
    assert bench.ledger.through("2026-W48") == read_week(bench.journal, "2026-W48").through


def test_receipt_taken_back_counts_as_voided() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00")
    bench.receive("B2")
    bench.wait(3)
    bench.must("undo", "B2")
    catch_up(bench.ledger, bench.journal)
    (found,) = bench.ledger.week("2026-W48")
    assert found["outcome"]["outcome"] == "voided" and [e["kind"] for e in found["events"]] == ["receive", "undo"]


def test_open_cycle_is_in_no_week_and_reboots_are_skipped() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00", checkpoint_every=7)
    bench.take_to("B2", "inspect")
    catch_up(bench.ledger, bench.journal)
    assert bench.ledger.week("2026-W48") == []
    read = read_week(bench.journal, "2026-W48")
    assert {"boot", "checkpoint"} <= {line["kind"] for line in bench.lines()}
    assert not {"boot", "checkpoint"} & {e.kind for e in read.others}
    bench.whole_cycle("B2")
    catch_up(bench.ledger, bench.journal)
    assert [d["scope"]["tag"] for d in bench.ledger.week("2026-W48")] == ["B2"]


def test_deleted_ledgers_come_back() -> None:
    bench = over_midnight()
    catch_up(bench.ledger, bench.journal)
    before = {path: bytes(data) for path, data in bench.disk.files.items()}
    bench.disk.remove("ledger/2026-W48.json")
    assert catch_up(bench.ledger, bench.journal) == ["2026-W48"]
    for week in ("2026-W48", "2026-W49"):
        bench.disk.remove(f"ledger/{week}.json")
    rebuild(bench.ledger, bench.journal, "2026-W49")
    assert {path: bytes(data) for path, data in bench.disk.files.items()} == before


def test_ledger_ahead_of_the_journal_is_damage() -> None:
    bench = over_midnight()
    catch_up(bench.ledger, bench.journal)
    bench.ledger.put("2026-W49", [], bench.journal.head[0] + 1)
    with pytest.raises(RecordDamaged, match="older copy"):
        catch_up(bench.ledger, bench.journal)


def test_journal_with_its_older_weeks_missing_says_so() -> None:
    bench = over_midnight()
    bench.disk.remove("journal/2026-W48.jsonl")
    with pytest.raises(RecordDamaged, match="no earlier segment"):
        read_week(bench.journal, "2026-W49")
    with pytest.raises(UnknownWeek, match="from 2026-W49 to 2026-W49"):
        read_week(bench.journal, "2026-W48")
    with pytest.raises(UnknownWeek, match="2026-W48"):
        rebuild(bench.ledger, bench.journal, "2026-W48") if bench.ledger.weeks() else read_week(
            bench.journal, "2026-W48"
        )
    with pytest.raises(CommandFault):
        read_week(bench.journal, "48/2026")


def test_week_that_is_no_longer_in_the_journal_keeps_its_ledger() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00")
    bench.whole_cycle("B2")
    bench.wait(7 * 86_400)
    bench.whole_cycle("B2")
    catch_up(bench.ledger, bench.journal)
    bench.disk.remove("journal/2026-W48.jsonl")
    before = bench.disk.read("ledger/2026-W48.json")
    with pytest.raises(UnknownWeek, match="copy"):
        rebuild(bench.ledger, bench.journal, "2026-W48")
    assert bench.disk.read("ledger/2026-W48.json") == before and catch_up(bench.ledger, bench.journal) == []


def test_names_and_zone_come_from_the_weeks_checkpoint() -> None:
    bench = RecordedBench("2026-11-25T08:00:00+01:00", zone="America/New_York")
    bench.wait(7 * 86_400)
    bench.whole_cycle("B2")
    (found,) = read_week(bench.journal, "2026-W49").documents()
    assert found["people"]["names"] == {"ann": "Ann"}
    assert found["case"]["procedure_end"].endswith("-05:00") and found["storage"]["hang_until"].endswith("-05:00")
