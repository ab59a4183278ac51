"""The figures of a week, counted by hand on benches of known taps, and read beside the app without a lock."""

from __future__ import annotations

import csv
from collections import Counter
from datetime import date
from itertools import count

import pytest

import main
from data.beside import Beside, beside
from data.door import Door
from data.durations import GAP_S_MAX
from data.gather import UnknownWeek, read_week
from data.home import LOCK
from data.ledger import Ledger, catch_up
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.refused import Refused, refused_in
from data.week import WEEKS_BACK, documents_of, figures_of, past, week_figures
from data.week_charts import EXCEPTIONS, LATE_SHARE, POINTS_MAX, RANGE, TURNAROUND, week_charts
from data.week_forecast import Forecasts
from data.week_hands import hands_s
from data.week_past import Brief, Past
from data.week_text import lines
from protocols.charts import BEYOND, POINTS_MIN, quantile
from protocols.errors import DiskError, RecordDamaged
from tests.record.recorded_bench import RecordedBench, document
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, busy_week, copied, three_weeks

START = "2026-11-25T08:00:00+01:00"


def figures(bench, week: str = WEEK):
    return week_figures(bench.disk, bench.journal, week)


def test_cycles_by_family_and_what_went_otherwise() -> None:
    bench = busy_week()
    found = figures(bench)
    assert [one[:4] for one in found.families] == [
        ("bronchoscope", 1, 1, 0), ("gastroscope", 0, 0, 1),
    ]  # fmt: skip
    assert found.cycles == 3 and not found.closed and found.through == bench.journal.head[0]
    # B2 and B3 passed theirs, G4 did not.
    assert (found.leak_tests, found.leak_failed) == (3, 1)
    assert (found.strips, found.strips_failed, found.strips_void) == (1, 0, 0)


def test_turnaround_is_half_and_nine_of_ten_of_the_completed_ones() -> None:
    bench = RecordedBench(START)
    times = []
    for tap_s in (5, 10, 20, 40):
        bench.tap_s = tap_s
        started = bench.clock.true_ms
        bench.whole_cycle("B2")
        times.append((bench.clock.true_ms - started) / 1000)
    (family,) = figures(bench).families
    assert family.median_s == pytest.approx(quantile(times, 0.5), abs=tap_s)
    assert family.p90_s == pytest.approx(quantile(times, 0.9), abs=tap_s)


def test_limits_passed_are_named_by_their_cause_and_repeats_are_counted() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "brush-suction-channel")
    for _ in range(3):
        bench.wait(5)
        bench.must("pass", "B2", debris="seen", **bench.given("B2"))
    bench.soaking("B2")
    step = bench.step("B2")
    bench.wait(bench.cycle("B2").soak.max_s + 30)
    bench.must("lift", "B2", temp_c=21)
    while bench.cycle("B2").hold is None or bench.step("B2").stage == "final rinse":
        bench.go("B2")
    bench.must("decide", "B2", decision="continue", reason="by the IFU")
    bench.whole_cycle("B2")
    found = figures(bench)
    assert [(late.cause, late.times, late.longest_s) for late in found.lates] == [(f"lift: {step.id}", 1, 30)]
    assert (found.late_cycles, found.debris_passes, found.brushed) == (1, 3, 1)


def test_delays_known_and_unknown() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "immerse")
    bench.wait(2 * 3600)
    bench.whole_cycle("B2")
    bench.receive("B3", procedure_end=None, preclean_start=None, preclean_end=None, precleaned="unknown")
    bench.wait(1)
    bench.must("void", "B3", reason="wrong tag")
    found = figures(bench)
    assert (found.delayed, found.delay_unknown) == (1, 1)
    assert found.lates[0].cause.startswith("cleaning begun: ")


def test_hands_on_time_is_what_lies_between_two_taps_of_one_person_on_one_scope() -> None:
    bench = RecordedBench(START)
    bench.tap_s = 40
    bench.whole_cycle("B2")
    events = bench.events
    one = document(bench, "B2")
    steps = [e for e in one["events"] if e["kind"] not in ("lift", "check", "run-end")]
    waits = [e for e in one["events"] if e["kind"] == "start" and (e["data"].get("timer") or {}).get("kind") != "each"]
    # 40 s before every tap but the receipt; a rinse that has to last is waited out in hand. The time before a lift or
    # a check is the bath's.
    whole_s = (events[-1].elapsed - next(e.elapsed for e in events if e.id == one["cycle"])) / 1000
    assert 40 * (len(steps) - 1) <= hands_s([one])[one["cycle"]] < whole_s - 600 * len(waits[:1])


def test_work_on_another_scope_and_breaks_are_no_hands_on_time() -> None:
    bench = RecordedBench(START)
    for between in ("scope", "break", "person"):
        bench.receive("B2")
        bench.wait(60)
        if between == "scope":
            bench.receive("B3")
            bench.wait(60)
            bench.must("void", "B3", reason="wrong tag")
            bench.wait(60)
        if between == "break":
            bench.wait(GAP_S_MAX)
        bench.must("void", "B2", reason="wrong tag", by="ann")
        one = document(bench, "B2")
        both = [one, document(bench, "B3")]
        assert hands_s(both).get(one["cycle"], 0) == (60 if between == "person" else 0)
        bench.wait(2)


def test_a_closed_week_comes_from_the_ledger_and_else_from_the_record() -> None:
    bench = three_weeks()
    disk = MemoryDisk()
    disk.files = {path: bytearray(content) for path, content in copied(bench).items()}
    plain = [documents_of(disk, bench.journal, week) for week in (WEEK, NEXT_WEEK, THIRD_WEEK)]
    ledger = Ledger(disk)
    catch_up(ledger, bench.journal)
    assert [documents_of(disk, bench.journal, week) for week in (WEEK, NEXT_WEEK, THIRD_WEEK)] == plain
    disk.replace(f"ledger/{WEEK}.json", b"{rubbish")
    assert documents_of(disk, bench.journal, WEEK) == plain[0]
    assert documents_of(disk, bench.journal, "2020-W01") == []


def test_charts_look_back_two_months_and_mark_only_this_week() -> None:
    def brief(week: int, day: int, minutes: float, late: bool = False) -> Brief:
        return Brief(f"2026-W{week:02}", f"{date.fromisocalendar(2026, week, day)}T10:00:00+01:00", "gastroscope", True,
                     minutes * 60, late, 6 * late)  # fmt: skip

    before = [brief(week, day, 60 + (day * 7 + week * 5) % 11) for week in range(10, 18) for day in range(1, 6)]
    these = [brief(18, day, minutes, minutes > 100) for day, minutes in ((1, 61), (2, 190), (3, 66))]
    charts = {one.what: one for one in week_charts(before, these)}
    assert set(charts) == {TURNAROUND, RANGE, LATE_SHARE, EXCEPTIONS}
    turnaround = charts[TURNAROUND]
    assert len(turnaround.chart.points) == 43 and turnaround.since == 40 and turnaround.of == "gastroscope"
    assert turnaround.unusual == [41] and BEYOND in turnaround.chart.points[41].signals
    assert turnaround.chart.points[41].value == pytest.approx(190 * 60)
    assert charts[RANGE].since == 39 and charts[RANGE].unusual == [40, 41]
    # One late cycle on a day of one is no change; six exceptions in one cycle are.
    assert charts[LATE_SHARE].unusual == [] and charts[EXCEPTIONS].unusual == [41]
    quiet = {one.what: one for one in week_charts(before, [brief(18, 1, 61), brief(18, 2, 66)])}
    assert all(one.unusual == [] for one in quiet.values())


def test_too_few_points_make_no_chart_and_too_many_are_cut() -> None:
    ticks = count()
    many = [
        Brief("2026-W18", f"2026-04-{1 + number // 24:02}T{number % 24:02}:00:00+02:00", "gastroscope", True,
              3600 + next(ticks) % 7, False, 0)
        for number in range(POINTS_MAX + 20)
    ]  # fmt: skip
    assert list(week_charts([], many[: POINTS_MIN - 1])) == []
    assert {len(one.chart.points) for one in week_charts([], many) if one.what == TURNAROUND} == {POINTS_MAX}
    assert list(week_charts(many, [])) == []


def test_only_so_many_weeks_before_count() -> None:
    bench = three_weeks()
    assert len(past(bench.disk, bench.journal, THIRD_WEEK).briefs) == sum(
        len(read_week(bench.journal, week).documents()) for week in (WEEK, NEXT_WEEK)
    )
    assert WEEKS_BACK == 8


def test_warnings_against_what_came_and_hand_times_against_what_was_known() -> None:
    bench = RecordedBench(START)
    bench.tap_s = 30
    before = Past()
    for _ in range(8):
        bench.whole_cycle("B2")
        before.add("2026-W47", [document(bench, "B2")])
    bench.receive("B3", advice="Starting B3 now would leave G4 4 min past the limit")
    bench.take_to("G4", "immerse")
    bench.wait(2 * 3600)
    bench.whole_cycle("G4")
    bench.whole_cycle("B3")
    bench.whole_cycle("B2")
    documents = [document(bench, tag) for tag in ("G4", "B3", "B2")]
    held = figures_of(documents, before, False, 1, "2026-W48", Counter()).forecasts
    # G4 was late while B3, received against the warning, went on; B3 was late itself while G4 did.
    assert (held.warned, held.warned_late) == (1, 1) and held.unwarned == 2
    assert held.times > 0 and held.below_half <= held.below_nine <= held.times
    low, high = held.nine
    assert low <= held.below_nine / held.times <= high


def test_the_interval_of_a_share_is_the_one_that_statsmodels_gives() -> None:
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    for hits, of in ((0, 9), (4, 9), (81, 263), (15, 148), (20, 20)):
        held = Forecasts(0, 0, 0, 0, of, hits, hits)
        assert held.half == pytest.approx(proportion.proportion_confint(hits, of, method="wilson"))


def test_refusals_are_counted_beside_the_record_and_survive_a_full_disk() -> None:
    disk = MemoryDisk()
    refused = Refused(disk)
    refused.note(WEEK, "no-strip")
    refused.note(WEEK, "too-cold")
    refused.note("../x", "no-strip")
    real = disk.replace

    def full(path: str, data: bytes) -> None:
        raise DiskError("full")

    disk.replace = full  # type: ignore[method-assign]
    assert not refused.write() and refused_in(disk, WEEK) == Counter()
    disk.replace = real  # type: ignore[method-assign]
    assert refused.write() and refused.write()
    refused.note(WEEK, "no-strip")
    assert refused.write()
    assert refused_in(disk, WEEK) == {"no-strip": 2, "too-cold": 1}
    assert list(disk.files) == [f"refused/{WEEK}.json"]
    # What can't be read for a moment is not written over by what was counted since.
    refused.note(WEEK, "too-cold")
    reads = disk.read
    disk.read = lambda path: full(path, b"")  # type: ignore[method-assign,assign,return-value,func-returns-value]
    assert not refused.write() and refused_in(disk, WEEK) == Counter()
    disk.read = reads  # type: ignore[method-assign]
    assert refused.write() and refused_in(disk, WEEK) == {"no-strip": 2, "too-cold": 2}
    for rubbish in (b"", b"[]", b'{"rules": {"no-strip": "many"}}', b'{"rules": 3}'):
        disk.replace(f"refused/{WEEK}.json", rubbish)
        assert refused_in(disk, WEEK) == Counter()


def test_it_reads_beside_the_app_and_not_past_the_witness(tmp_path) -> None:
    bench = busy_week()
    home = tmp_path / "home"
    disk = RealDisk(home)
    for path, content in copied(bench).items():
        disk.replace(path, content)
    disk.lock(LOCK, "the app")
    disk.append(f"journal/{WEEK}.jsonl", b'{"half')  # a line that is being written
    before = sorted((p, p.read_bytes()) for p in home.rglob("*") if p.is_file())
    record = beside(home)
    assert week_figures(record.disk, record, WEEK) == figures(bench)
    with pytest.raises(UnknownWeek):
        week_figures(record.disk, record, "2026-W01")
    assert sorted((p, p.read_bytes()) for p in home.rglob("*") if p.is_file()) == before
    disk.remove("head")
    with pytest.raises(RecordDamaged):
        Beside(disk)
    disk.close()


def test_a_running_app_and_the_table_agree(tmp_path, capsys) -> None:
    home = tmp_path / "home"
    assert main.main(["rehearse", "--hours", "6", "--scopes", "5", "--seed", "4", "--out", str(home)]) == 0
    capsys.readouterr()
    to = tmp_path / "week.csv"
    assert main.main(["--home", str(home), "week", WEEK, "--csv", str(to)]) == 0
    text = capsys.readouterr().out
    record = beside(home)
    found = week_figures(record.disk, record, WEEK)
    assert text == "\n".join(lines(found)) + "\n" and found.refusals
    rows = list(csv.DictReader(to.read_text("utf-8-sig").splitlines()))
    counted = {(row["figure"], row["of"]): row["value"] for row in rows if not row["at"]}
    assert counted["leak tests failed", ""] == str(found.leak_failed)
    assert all(counted["refused", rule] == str(times) for rule, times in found.refusals)
    points = [row for row in rows if row["figure"] == "chart, turnaround"]
    assert len(points) == sum(len(one.labels) for one in found.charts if one.what == TURNAROUND)
    assert main.main(["--home", str(home), "week", "2026-W01"]) == 1
    assert main.main(["--home", str(home), "week", "48"]) == 1
    assert main.main(["--home", str(tmp_path / "none"), "week", WEEK]) == 2
    capsys.readouterr()


def test_a_record_of_the_door_gives_the_same_week() -> None:
    bench = busy_week()
    assert isinstance(bench.door, Door)
    assert figures(bench) == week_figures(bench.disk, Beside(bench.disk), WEEK)
