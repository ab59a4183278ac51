"""The look-back against a slow scan of the whole journal, with its index new, behind, missing, stale and damaged."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

import pytest

from data import trace_index, trace_store
from data.home import LOCK
from data.real_disk import RealDisk
from data.trace import Trace, trace
from data.trace_index import FILE, LookBackStopped
from protocols.errors import RecordDamaged
from tests.record.recorded_bench import RecordedBench
from tests.send.cases import put

START = "2026-11-25T08:00:00+01:00"  # a Wednesday in 2026-W48
DAY = 86_400


def lived(bench: RecordedBench) -> None:
    """Three weeks of a small unit: cycles over a week's end, a topped-up and a failed bath, a release, a void."""
    bench.pour("H5", "opa-055-20c")
    bench.whole_cycle("B2")
    bench.whole_cycle("G4", "H5")
    bench.must("release", "B2", by="tim")
    bench.must("top-up", "H4", lot="TOP-1", expires="2027-06-30", opened="2026-11-20")
    bench.wait(4 * DAY)
    bench.take_to("C5", "inspect")  # Sunday
    bench.wait(DAY)
    bench.whole_cycle("C5")
    bench.whole_cycle("B2")
    bench.wait(7 * DAY)
    bench.soaking("B3")
    bench.wait(60)
    bench.soaking("G4")
    bench.wait(800)
    for tag in ("B3", "G4"):
        bench.must("lift", tag, temp_c=21)
    bench.must("strip-test", "H4", scope="L8", result="fail", strip_lot="S")
    bench.must("decide", "B3", decision="disinfect-again", reason="weak bath")
    bench.must("void", "C5", reason="wrong case")


@pytest.fixture(scope="module")
def bench() -> RecordedBench:
    made = RecordedBench(START, checkpoint_every=60)
    lived(made)
    return made


def written(bench: RecordedBench, home: Path) -> Path:
    """Promise a home folder with what the bench has recorded until now."""
    return put(bench.disk.files, home)


@pytest.fixture
def home(bench: RecordedBench, tmp_path: Path) -> Path:
    return written(bench, tmp_path / "home")


def scanned(lines: list[dict[str, Any]], kind: str, key: str) -> tuple[list[str], list[int]]:
    """The slow way: cycles and seqs of other events that touch a key, from every line of the journal."""
    lots: dict[str, set[str]] = {}
    labels: dict[str, str] = {}
    cycles: list[str] = []
    others: list[int] = []
    for line in lines:
        if line["kind"] in ("checkpoint", "boot"):
            continue
        refs, data, own = line["refs"], line["data"], f"{line['device']}-{line['seq']:06d}"
        uid = own if line["kind"] == "pour-bath" else refs.get("bath", "")
        if line["kind"] in ("pour-bath", "top-up"):
            labels[uid] = line["subject"]
            lots.setdefault(uid, set()).add(refs["lot"])
        touched = {
            "scope": {refs.get("scope")},
            "bath": {uid, labels.get(uid)}, "case": {refs.get("case")}, "person": {line["by"]},
            "lot": {refs.get("lot"), data.get("strip_lot"), *lots.get(uid, ()),
                    *([line["subject"]] if "strips" in line["kind"] or line["kind"] == "strip-control" else ())},
        }[kind]  # fmt: skip
        if line["kind"] == "add-person" and kind == "person":
            touched.add(line["subject"])
        cycles += [one["cycle"] for one in data.get("holds", ()) if kind == "scope" and one["scope"] == key]
        if key not in touched:
            continue
        cycle = own if line["kind"] == "receive" else refs.get("cycle", "")
        if cycle:
            cycles.append(cycle)
        else:
            others.append(line["seq"])
    return sorted(set(cycles), key=lambda c: int(c.rsplit("-", 1)[1])), others


def keys(lines: list[dict[str, Any]]) -> Iterator[tuple[str, str]]:
    for line in lines:
        yield "person", line["by"]
        for kind in ("scope", "case", "lot", "bath"):
            yield kind, line["refs"].get(kind, "")
        if line["kind"] in ("pour-bath", "register-strips"):
            yield ("bath" if line["kind"] == "pour-bath" else "lot"), line["subject"]


def agrees(found: Trace, lines: list[dict[str, Any]]) -> None:
    cycles, others = scanned(lines, found.kind, found.key)
    assert [c.id for c in found.cycles] == cycles, (found.kind, found.key)
    assert [e.seq for e in found.others] == others, (found.kind, found.key)
    for cycle in found.cycles:
        mine = [n["seq"] for n in lines if n["refs"].get("cycle") == cycle.id or n["seq"] == int(cycle.id[-6:])]
        assert [e.seq for e in cycle.own] == mine


def test_every_key_gives_what_a_scan_of_the_whole_journal_gives(home: Path, bench: RecordedBench) -> None:
    lines = bench.lines()
    asked = sorted({(kind, key) for kind, key in keys(lines) if key})
    assert len(asked) > 40 and {kind for kind, _ in asked} == set(trace_index.KINDS)
    for kind, key in asked:
        agrees(trace(home, kind, key), lines)
    for kind in trace_index.KINDS:
        assert trace(home, kind, "no such thing").events == []


def test_a_cycle_tells_its_baths_strips_people_and_holds(home: Path) -> None:
    first, second = trace(home, "scope", "B2").cycles
    assert first.baths == ["W1 (LOT-W1)", "H4 (LOT-H4)"] and first.strips == [("pass", "STRIP-1")]
    assert (first.outcome, first.people, first.held) == ("completed", ["ann", "tim"], ())
    (voided,) = trace(home, "scope", "C5").cycles
    assert voided.outcome == "voided" and voided.ended is not None
    held = {c.scope: c.held for c in trace(home, "bath", "H4").cycles if c.held}
    assert set(held) == {"B3", "G4"}
    assert "H4 failed a strip test at 2026-12-07" in held["G4"][0].data["holds_why"]
    (decided,) = held["B3"][1:]
    assert (decided.by, decided.data["decision"], decided.data["reason"]) == ("ann", "disinfect-again", "weak bath")
    assert second.id not in held


def test_lines_with_signs_that_json_writes_otherwise(tmp_path: Path) -> None:
    bench = RecordedBench(START, checkpoint_every=30)
    case, lot = 'C"7\\', "L-ü{1}"
    bench.must("pour-bath", "H7", kind="disinfectant", claim="opa-055-20c", lot=lot, expires="2027-06-30",
               opened="2026-11-20")  # fmt: skip
    bench.receive("B2", case=case)
    bench.whole_cycle("B2", "H7")
    bench.must("top-up", "H7", lot='T"1', expires="2027-06-30", opened="2026-11-20")
    bench.whole_cycle("G4", "H7")
    home, lines = written(bench, tmp_path / "home"), bench.lines()
    for kind, key in (("case", case), ("lot", lot), ("lot", 'T"1'), ("bath", "H7"), ("scope", "B2"), ("person", "ann")):
        found = trace(home, kind, key)
        assert found.cycles
        agrees(found, lines)
    assert [c.scope for c in trace(home, "lot", 'T"1').cycles] == ["G4"], "B2 lay there before it was topped up"


def test_a_first_reading_that_is_stopped_goes_on_where_it_was(home: Path, bench: RecordedBench) -> None:
    told: list[tuple[int, int]] = []

    def until(count: int) -> Callable[[int, int], bool]:
        def progress(at: int, of: int) -> bool:
            told.append((at, of))
            return at < count

        return progress

    with pytest.raises(LookBackStopped):
        trace(home, "scope", "B2", progress=until(1))
    assert told == [(0, 3), (1, 3)]
    agrees(trace(home, "scope", "B2", progress=until(9)), bench.lines())
    assert told[2:] == [(0, 3), (1, 3), (2, 3)], "the week that was read last is looked at once more, no other"


def test_since_a_day(home: Path, bench: RecordedBench) -> None:
    for day in ("2026-11-20", "2026-11-25", "2026-11-26", "2026-11-30", "2026-12-01", "2026-12-08"):
        found = trace(home, "person", "ann", date.fromisoformat(day))
        everything = trace(home, "person", "ann")
        wanted = [c.id for c in everything.cycles if c.events[-1].wall[:10] >= day]
        assert [c.id for c in found.cycles] == wanted
        assert [e.seq for e in found.others] == [e.seq for e in everything.others if e.wall[:10] >= day]
    assert trace(home, "scope", "B2", date(2026, 12, 2)).cycles == ()


def test_the_index_follows_the_record_and_reads_while_the_app_runs(tmp_path: Path) -> None:
    bench = RecordedBench(START, checkpoint_every=25)
    home = written(bench, tmp_path / "home")
    disk = RealDisk(home)
    disk.lock(LOCK, "the app")
    try:
        for _ in range(4):
            bench.whole_cycle("B2")
            bench.wait(2 * DAY)
            bench.must("close-bath", "H4", reason="end of the day")
            bench.pour("H4", "opa-055-20c")
            written(bench, home)
            agrees(trace(home, "scope", "B2"), bench.lines())
            agrees(trace(home, "bath", "H4"), bench.lines())
    finally:
        disk.close()
    index = trace_index.Index(disk, trace_store.Store(home / FILE))
    index._read = None  # type: ignore[method-assign, assignment]
    assert index.follow()  # nothing is new, so no line is read
    index.close()


def test_a_line_that_is_being_written_is_left_for_the_next_time(home: Path, bench: RecordedBench) -> None:
    segment = sorted((home / "journal").iterdir())[-1]
    whole = segment.read_bytes()
    segment.write_bytes(whole[:-40])
    shorter = trace(home, "person", "ann")
    segment.write_bytes(whole)
    longer = trace(home, "person", "ann")
    assert len(longer.events) == len(shorter.events) + 1
    agrees(longer, bench.lines())


def test_an_index_of_another_record_is_made_anew(home: Path, bench: RecordedBench, tmp_path: Path) -> None:
    other = RecordedBench(START, checkpoint_every=60)
    other.whole_cycle("D6")
    other.wait(1)
    elsewhere = written(other, tmp_path / "other")
    assert trace(elsewhere, "scope", "D6").cycles
    (elsewhere / FILE).replace(home / FILE)
    agrees(trace(home, "scope", "B2"), bench.lines())
    assert trace(home, "scope", "D6").cycles == ()
    # an older copy of the record
    trace(home, "scope", "B2")
    for segment in sorted((home / "journal").iterdir())[1:]:
        segment.unlink()
    first_week = [n for n in bench.lines() if n["wall"] < "2026-11-30"]
    agrees(trace(home, "scope", "B2"), first_week)
    segment = next((home / "journal").iterdir())
    segment.write_bytes(b"".join(segment.read_bytes().splitlines(keepends=True)[:100]))
    agrees(trace(home, "scope", "B2"), first_week[:100])


def test_weeks_that_are_gone_are_no_longer_told(home: Path, bench: RecordedBench) -> None:
    trace(home, "scope", "B2")
    sorted((home / "journal").iterdir())[0].unlink()
    later = [n for n in bench.lines() if n["wall"] >= "2026-11-30"]
    found = trace(home, "scope", "G4")
    assert [c.id for c in found.cycles] == scanned(later, "scope", "G4")[0]


def damage(index: Path, chance: Random, how: str) -> None:
    data = bytearray(index.read_bytes())
    if how == "cut":
        del data[chance.randrange(len(data)) :]
    elif how == "zeros":
        at = chance.randrange(len(data))
        data[at : at + 4096] = bytes(len(data[at : at + 4096]))
    elif how == "noise":
        data[:] = chance.randbytes(len(data))
    else:
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    index.write_bytes(data)


@pytest.mark.parametrize("how", ["cut", "zeros", "noise", "bit"])
def test_a_damaged_index_never_gives_another_answer(home: Path, bench: RecordedBench, how: str) -> None:
    lines = bench.lines()
    trace(home, "scope", "B2")
    good = (home / FILE).read_bytes()
    for seed in range({"cut": 6, "zeros": 8, "noise": 2, "bit": 30}[how]):
        chance = Random(seed)
        damage(home / FILE, chance, how)
        for kind, key in (("scope", "G4"), ("bath", "H4"), ("lot", "TOP-1"), ("person", "tim"), ("case", "none")):
            agrees(trace(home, kind, key), lines)
        (home / FILE).write_bytes(good)


def test_rows_taken_out_of_the_index_are_missed(home: Path, bench: RecordedBench) -> None:
    lines = bench.lines()
    trace(home, "scope", "G4")
    with sqlite3.connect(home / FILE) as file:
        rows = [key for (key,) in file.execute("SELECT key FROM row")]
    cycles = [key for key in rows if key.startswith("c")]
    for taken in [key for key in rows if "G4" in key] + cycles[:3]:
        with sqlite3.connect(home / FILE) as file:
            file.execute("DELETE FROM row WHERE key = ?", (taken,))
        agrees(trace(home, "scope", "G4"), lines)


def test_a_home_that_can_not_be_written_to_is_read_from_memory(
    home: Path, bench: RecordedBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = sqlite3.connect

    def refuse(path: str, **named: Any) -> sqlite3.Connection:
        if path != ":memory:":
            raise sqlite3.OperationalError("unable to open database file")
        return real(path, **named)

    monkeypatch.setattr(trace_store.sqlite3, "connect", refuse)
    agrees(trace(home, "scope", "B2"), bench.lines())
    assert not (home / FILE).exists()


def test_a_damaged_record_is_named_and_not_told_as_whole(home: Path) -> None:
    segment = sorted((home / "journal").iterdir())[0]
    good = segment.read_bytes()
    segment.write_bytes(good.replace(b'"scope":"B2"', b'"scope":"B9"', 1))
    with pytest.raises(RecordDamaged, match="2026-W48"):
        trace(home, "scope", "B2")
    segment.write_bytes(good)
    trace(home, "scope", "B2")
    segment.write_bytes(good.replace(b'"outcome":"apart"', b'"outcome":"aport"', 1))
    with pytest.raises(RecordDamaged, match="2026-W48"):
        trace(home, "scope", "B2")  # the index is fine, the line that it leads to is not
