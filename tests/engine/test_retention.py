"""How long weeks are kept, and what keeps one from being purged: all that still rests on it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from protocols.errors import CommandFault
from protocols.event import Event
from protocols.refusals import Refusal
from protocols.wall import week_begins, weeks_between
from tests.engine.driver import Bench

WEEK, DAY_S = "2026-W48", 86_400
HASH = "ab" * 32


def _purge(bench: Bench, last_seq: int, by: str = "ann", week: str = WEEK, first_seq: int = 1) -> Event | Refusal:
    values: dict[str, Any] = {"first_seq": first_seq, "last_seq": last_seq, "to": "the share"}
    return bench.give("purge", week, by, **values, head=HASH, stub=HASH, manifest=HASH)


def _later(bench: Bench, weeks: int = 2) -> int:
    """Let some weeks pass; gives the last seq of the first one."""
    last = bench.unit.seq
    bench.wait(weeks * 7 * DAY_S)
    bench.must("set-unit", "unit", keep_weeks=1)
    return last


def _refused(answer: Event | Refusal) -> str:
    assert isinstance(answer, Refusal)
    return answer.key if answer.key != "week-needed" else answer.why


# ISO 8601: week 1 holds the year's first Thursday, so 2026 has 53 weeks and 2027 begins in its last one.
def test_weeks_are_counted_as_iso_8601_has_them() -> None:
    assert week_begins("2026-W01") == date(2025, 12, 29) and week_begins("2026-W53") == date(2026, 12, 28)
    assert weeks_between("2026-W53", date(2027, 1, 4)) == 1 and weeks_between("2026-W53", date(2027, 1, 3)) == 0
    assert weeks_between("2026-W48", date(2026, 12, 7)) == 2
    for text in ("2027-W53", "2026-W00", "2026-W54", "2026-48", "", "../2026-W48"):
        with pytest.raises(CommandFault):
            week_begins(text)


def test_nothing_is_purged_until_the_unit_has_said_how_long_weeks_are_kept() -> None:
    bench = Bench()
    last = bench.unit.seq
    assert bench.unit.settings.keep_weeks == 0
    bench.wait(600 * 7 * DAY_S)
    assert _refused(_purge(bench, last)) == "no-retention"
    bench.checked_refusal("lead-only", "set-unit", "unit", "tim", keep_weeks=5)
    bench.must("set-unit", "unit", keep_weeks=600)
    assert _refused(_purge(bench, last)) == "week-kept"
    bench.must("set-unit", "unit", keep_weeks=599)
    assert isinstance(_purge(bench, last), Event)


def test_a_week_goes_once_it_is_older_than_the_unit_keeps_and_only_in_order() -> None:
    bench = Bench()
    last = _later(bench, 1)
    assert _refused(_purge(bench, last)) == "week-kept"
    bench.wait(7 * DAY_S)
    assert _refused(_purge(bench, last, first_seq=2)) == "purge-order"
    assert _refused(_purge(bench, bench.unit.seq + 1)) == "purge-order"
    assert _refused(_purge(bench, last, "tim")) == "lead-only"
    event = _purge(bench, last)
    assert isinstance(event, Event) and bench.unit.purged == (WEEK, last, HASH, HASH)
    assert _refused(_purge(bench, last)) == "purge-order"
    bench.wait(7 * DAY_S)
    assert isinstance(_purge(bench, last + 2, week="2026-W49", first_seq=last + 1), Event)
    assert bench.replayed() == bench.unit


def test_a_cycle_under_way_keeps_its_week() -> None:
    bench = Bench()
    bench.receive("B2")
    last = _later(bench)
    assert "B2 is still in a cycle that began by then" in _refused(_purge(bench, last))
    assert isinstance(_purge(bench, last - 1), Event), "a week before the receipt does not wait for it"


def test_a_scope_that_hangs_ready_or_is_out_on_a_case_keeps_its_week() -> None:
    bench = Bench()
    bench.must("choose-limits", "storage-30d", seen=True)
    bench.whole_cycle("B2")
    last = _later(bench)
    bench.must("close-bath", "H4", reason="old")
    assert "B2 hangs ready in storage since then" in _refused(_purge(bench, last))
    bench.must("release", "B2")
    assert "B2 hangs ready in storage since then" in _refused(_purge(bench, last))
    bench.must("issue-scope", "B2", case="26-0001")
    assert "B2 is out on a case since then" in _refused(_purge(bench, last))
    bench.must("correct", "B2", what="issue", reason="another scope")
    bench.must("void", "B2", reason="hung in a wet cabinet")
    assert isinstance(_purge(bench, last), Event)


def test_a_stored_scope_past_its_hang_time_does_not() -> None:
    bench = Bench()
    bench.must("choose-limits", "storage-7d", seen=True)
    bench.whole_cycle("B2")
    last = _later(bench)
    bench.must("close-bath", "H4", reason="old")
    bench.checked_refusal("not-releasable", "release", "B2")
    assert isinstance(_purge(bench, last), Event)


def test_a_held_scope_and_a_bath_that_would_look_back_keep_their_week() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("release", "B2")
    last = _later(bench)
    assert "a failing strip of bath H4 would hold scopes" in _refused(_purge(bench, last))
    bench.must("strip-test", "H4", scope="B3", result="fail", strip_lot=bench.strips_for("H4"))
    assert bench.unit.scopes["B2"].hold is not None
    assert "B2 is held" in _refused(_purge(bench, last))
    bench.must("decide", "B2", decision="keep", reason="by the IFU")
    bench.must("close-bath", "H4", reason="failed")
    assert isinstance(_purge(bench, last), Event)


def test_an_act_that_nobody_signed_keeps_its_week() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(1)
    bench.must("interrupt", "B2", "unconfirmed", reason="the bath leaks")
    bench.must("void", "B2", reason="given up")
    last = _later(bench)
    bench.must("close-bath", "H4", reason="old")
    assert "nobody has signed an act on B2" in _refused(_purge(bench, last))
    bench.must("confirm-acts", "B2", "tim")
    assert isinstance(_purge(bench, last), Event)
