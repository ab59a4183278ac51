"""A whole exported week leaves the handheld; what stays goes on to fit, and says where the rest lies."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from purge_cases import (
    FOURTH_WEEK,
    NEXT_WEEK,
    NOW,
    SECRET,
    THIRD_WEEK,
    WEEK,
    differences,
    fresh,
    opened,
    purged,
    sent,
    weeks_gone,
)

from data import ledger_entries, trace_index, trace_text
from data.audit import exports_in, verify_exports, verify_home
from data.exporters.chain_files import CARRIED, require_chain
from data.exporters.folder import write_export
from data.exporters.manifest import MANIFEST, SIGNATURE, read_manifest
from data.exporters.week_forms import week_forms
from data.journal import Journal
from data.ledger import Ledger, catch_up, rebuild
from data.line import follow_chain
from data.purging import PurgeRefused, look, purge
from data.receipts import Receipts
from data.replay import read_lines
from data.send import waiting
from data.settling import KEPT_BESIDE
from data.signing import home_signer, signer
from data.stubs import read_stub, stub_path
from data.trace import trace
from data.trace_store import discard
from protocols.errors import CommandFault
from protocols.event import Command, Event
from protocols.refusals import Refusal
from protocols.stock import Purged
from tests.places import MemoryPlace
from tests.send.cases import Handheld, put


@pytest.fixture
def both() -> tuple[Handheld, MemoryPlace]:
    return fresh()


@pytest.fixture
def bench(both) -> Handheld:
    return both[0]


@pytest.fixture
def place(both) -> MemoryPlace:
    return both[1]


def in_folder(bench: Handheld, home: Path) -> Path:
    return put({path: bytes(content) for path, content in bench.disk.files.items()}, home)


def test_the_oldest_weeks_go_with_ledger_and_index_and_a_signed_stub_stays(bench, place) -> None:
    segment = bench.disk.read(f"journal/{WEEK}.jsonl")
    bench.disk.replace("index.sqlite", b"places of case references")
    bench.disk.replace(f"set-aside/{WEEK}-17", b"torn")
    before = bench.unit
    assert weeks_gone(purged(bench, place, THIRD_WEEK)) == [WEEK, NEXT_WEEK]
    assert bench.journal.segments() == [THIRD_WEEK, FOURTH_WEEK] == Ledger(bench.disk).weeks()
    assert not bench.disk.exists("index.sqlite") and bench.disk.names("set-aside") == []
    first, second = (read_stub(bench.disk, week) for week in (WEEK, NEXT_WEEK))
    chain = follow_chain(segment, None)
    stub = first.stub
    assert (stub.first_seq, stub.last_seq, stub.head, stub.size) == (1, chain.lines, chain.hash, len(segment))
    assert (stub.prev, stub.before, stub.by, stub.to, stub.sent) == ("0" * 64, "", "ann", place.label, NOW)
    assert stub.at.startswith("2026-12-14T")
    assert stub.manifest == Receipts(bench.disk).week(WEEK)[0].manifest and stub.cycles == 4
    assert first.signed_by(signer(SECRET).public) and not first.signed_by(signer(bytes(32)).public)
    assert (second.stub.prev, second.stub.first_seq, second.stub.before) == (stub.head, stub.last_seq + 1, first.digest)
    assert bench.unit.purged == (NEXT_WEEK, second.stub.last_seq, second.stub.head, second.digest)
    assert bench.unit._replace(seq=0, time=before.time, purged=None) == before._replace(seq=0)
    assert differences(bench.disk) == [] == differences(bench.disk, chain_only=True)


def test_the_record_goes_on_and_opens_again_after_a_purge(bench, place) -> None:
    purged(bench, place, THIRD_WEEK)
    files = dict(bench.disk.files)
    door = opened(bench.disk, bench)
    assert door.unit == bench.unit and bench.disk.files == files
    bench.next_week()
    assert list(waiting(bench.disk, bench.journal, place.label)) == [FOURTH_WEEK, "2026-W52"]
    sent(bench, place)
    ((_, answer),) = purged(bench, place, FOURTH_WEEK)
    assert answer.key == "week-needed" and "a failing strip of bath H4 would hold scopes of that week" in answer.why
    bench.must("close-bath", "H4", reason="old")
    assert weeks_gone(purged(bench, place, FOURTH_WEEK)) == [THIRD_WEEK]
    assert bench.disk.names("purged") == [f"{week}.json" for week in (WEEK, NEXT_WEEK)] + [
        f"{THIRD_WEEK}.json",
        f"{THIRD_WEEK}.jsonl",
    ]
    assert differences(bench.disk) == []


def test_a_cycle_that_began_in_a_purged_week_keeps_its_lines_for_ledger_export_and_look_back(
    bench, place, tmp_path
) -> None:
    before = bench.export(NEXT_WEEK)
    ledger = bench.disk.read(f"ledger/{NEXT_WEEK}.json")
    assert f"chain/{WEEK}.jsonl" in before
    assert weeks_gone(purged(bench, place, NEXT_WEEK)) == [WEEK]
    rebuild(Ledger(bench.disk), bench.journal, NEXT_WEEK)
    assert bench.disk.read(f"ledger/{NEXT_WEEK}.json") == ledger
    after = week_forms(bench.disk, bench.journal, NEXT_WEEK, home_signer(bench.disk, True))
    assert {n: after[n] for n in ("cycles.csv", "baths.csv", "tests.csv", "events.csv")} == {
        n: before[n] for n in ("cycles.csv", "baths.csv", "tests.csv", "events.csv")
    }
    assert f"chain/{WEEK}.jsonl" not in after and after[CARRIED].count(b'"kind":"receive"') == 1
    manifest = read_manifest(after[MANIFEST], after[SIGNATURE])
    require_chain(manifest, after)
    assert manifest.same_week(read_manifest(before[MANIFEST], before[SIGNATURE])) is False  # another key
    home = in_folder(bench, tmp_path / "home")
    found = trace(home, "scope", "B2")
    (cycle,) = found.cycles
    assert cycle.events[0].kind == "receive" and cycle.outcome == "completed" and len(cycle.own) > 30
    assert [stub.week for stub in found.purged] == [WEEK]
    text = "\n".join(trace_text.lines(found))
    assert f"not looked through: {WEEK}, purged from this handheld; the exports lie at {place.label}" in text
    assert trace(home, "scope", "B2", date(2026, 12, 1)).purged == ()
    assert trace(home, "scope", "G4").cycles == () and trace(home, "scope", "G4").purged
    assert list(verify_home(home).differences()) == []
    assert list(write_and_verify(after, tmp_path / "out")) == []


def test_a_strip_that_fails_after_a_purge_is_told_with_the_cycle_that_it_holds(bench, place, tmp_path) -> None:
    """The bath was discarded, so nothing kept the week here; its last strip is read a moment later."""
    bench.next_week()
    bench.must("close-bath", "H4", reason="at its end")
    assert THIRD_WEEK in weeks_gone(purged(bench, place, FOURTH_WEEK))
    held = bench.must("strip-test", "H4", scope="B3", result="fail", strip_lot="S1")
    assert held.data["holds"]
    home = in_folder(bench, tmp_path / "home")
    (cycle,) = trace(home, "scope", "B3").cycles
    assert (cycle.outcome, cycle.scope, cycle.received, cycle.held) == ("purged", "B3", "", (held,))
    text = "\n".join(trace_text.lines(trace(home, "scope", "B3")))
    assert f"B3 ({cycle.id}) held since" in text


def write_and_verify(files, folder):
    write_export(files, folder)
    return verify_exports(exports_in(folder))


def test_exports_from_before_a_purge_still_fit_the_record_and_the_stubs(bench, place, tmp_path) -> None:
    own = home_signer(bench.disk, True)
    for week in (WEEK, NEXT_WEEK, THIRD_WEEK):
        write_export(week_forms(bench.disk, bench.journal, week, own), tmp_path / "home" / "exports")
    purged(bench, place, NEXT_WEEK)
    home = in_folder(bench, tmp_path / "home")
    assert list(verify_home(home).differences()) == []
    path = home / "exports" / WEEK / "chain" / f"{WEEK}.jsonl"
    path.write_bytes(path.read_bytes()[:-1])
    found = [str(one) for one in verify_home(home).differences()]
    assert any("is not the file that was signed" in one for one in found)
    assert any(f"it is not what purged/{WEEK}.json names" in one for one in found)


def test_an_index_made_before_the_purge_is_made_again(bench, place, tmp_path) -> None:
    home = in_folder(bench, tmp_path / "home")
    assert len(trace(home, "scope", "B2").cycles) == 2
    purged(bench, place, NEXT_WEEK)
    for path in (home / "journal").iterdir():
        path.unlink()
    in_folder(bench, home)  # the old index is still there
    assert len(trace(home, "scope", "B2").cycles) == 1


# --- what is not purged


def test_nothing_leaves_that_was_not_sent_whole_or_can_not_be_read_back_now(bench, place) -> None:
    key = home_signer(bench.disk, True).public
    elsewhere = MemoryPlace("another share")
    with pytest.raises(PurgeRefused, match="has not arrived whole at another share"):
        look(bench.disk, None, WEEK, elsewhere, key)
    with pytest.raises(PurgeRefused, match="it is still open"):
        look(bench.disk, None, FOURTH_WEEK, place, key)
    with pytest.raises(PurgeRefused, match="nothing is there"):
        look(bench.disk, None, "2026-W40", place, key)
    with pytest.raises(CommandFault, match="is not a week"):
        look(bench.disk, None, "2026-W60", place, key)
    with pytest.raises(PurgeRefused, match="another key signed it"):
        look(bench.disk, None, WEEK, place, signer(bytes(32)).public)
    whole = dict(place.files)
    for name in [name for name in whole if name.startswith(f"hh1/{WEEK}/")]:
        place.files = {**whole, name: whole[name][:-1] + b"?"}
        with pytest.raises(PurgeRefused, match="nothing was purged"):
            look(bench.disk, None, WEEK, place, key)
        place.files = {path: content for path, content in whole.items() if path != name}
        with pytest.raises(PurgeRefused, match="nothing was purged"):
            look(bench.disk, None, WEEK, place, key)
    place.files = whole
    files = dict(bench.disk.files)
    (answer,) = purged(bench, MemoryPlace(), THIRD_WEEK)
    assert answer[0] == WEEK and isinstance(answer[1], PurgeRefused) and bench.disk.files == files


def test_a_refused_purge_leaves_nothing_behind(bench, place) -> None:
    files = dict(bench.disk.files)
    for by, key in (("tim", "lead-only"), ("nobody", "unknown-person")):
        ((week, answer),) = purged(bench, place, THIRD_WEEK, by)
        assert (week, answer.key) == (WEEK, key) and isinstance(answer, Refusal)
        assert bench.disk.files == files
    bench.must("set-unit", "unit", keep_weeks=3)
    files = dict(bench.disk.files)
    ((_, answer),) = purged(bench, place, THIRD_WEEK)
    assert answer.key == "week-kept" and bench.disk.files == files


def test_only_the_oldest_week_goes(bench, place) -> None:
    signed = home_signer(bench.disk, True)
    second = look_anyway(bench, place)
    with pytest.raises(PurgeRefused, match="not the oldest week"):
        purge(bench.door, second, signed, "ann")


def look_anyway(bench: Handheld, place: MemoryPlace):
    head = json.loads(bench.disk.read(f"journal/{WEEK}.jsonl").splitlines()[-1])
    return look(
        bench.disk, Purged(WEEK, head["seq"], head["hash"], ""), NEXT_WEEK, place, home_signer(bench.disk, True).public
    )


def test_a_purge_that_nobody_looked_into_is_refused_by_the_door_and_by_replay(bench) -> None:
    stub = {"first_seq": 1, "last_seq": 9, "head": "0" * 64, "manifest": "0" * 64, "to": "x", "stub": "0" * 64}
    files = dict(bench.disk.files)
    with pytest.raises(CommandFault, match="no stub of 2026-W48 was made ready"):
        bench.door.give(Command("purge", WEEK, stub, "ann"))
    assert bench.disk.files == files
    line = {"at": "2026-11-25T09:12:00Z", "do": "purge", "subject": WEEK, "values": stub, "by": "ann"}
    with pytest.raises(CommandFault, match="line 1: purge is no replay line"):
        read_lines([json.dumps(line)])


def test_the_purge_is_an_event_of_its_own_week_and_goes_out_with_its_export(bench, place) -> None:
    ((_, event),) = purged(bench, place, NEXT_WEEK)
    assert isinstance(event, Event) and (event.kind, event.by, event.subject) == ("purge", "ann", WEEK)
    assert event.data["stub"] == read_stub(bench.disk, WEEK).digest
    assert b'"purge"' in bench.export(FOURTH_WEEK)["events.csv"]
    assert catch_up(Ledger(bench.disk), bench.journal) in ([], [FOURTH_WEEK])
    assert stub_path(WEEK) == f"purged/{WEEK}.json" and Journal(bench.disk).segments()[0] == NEXT_WEEK


def test_all_files_of_the_look_back_and_of_the_ledgers_list_are_among_those_that_a_purge_removes(tmp_path) -> None:
    for name in (trace_index.FILE, ledger_entries.FILE):
        for kept in (one for one in KEPT_BESIDE if one.startswith(name)):
            (tmp_path / kept).touch()
        discard(tmp_path / name)
    assert list(tmp_path.iterdir()) == []
    assert {one.partition(".")[0] + ".sqlite" for one in KEPT_BESIDE} == {trace_index.FILE, ledger_entries.FILE}
    assert len(KEPT_BESIDE) == 2 * len({"", "-journal", "-wal", "-shm"})
