"""The whole table of roles: which command whom needs, and the safety act that a technician must never be kept from."""

from __future__ import annotations

from typing import Any

import pytest

from protocols.bath import unusable
from protocols.commands import SPECS
from protocols.refusals import Refusal
from tests.engine.driver import Bench

GOOD = "ab" * 32

ANYBODY = {
    "receive", "look", "pass", "count", "start", "lift", "check", "read", "run-end", "skip", "choose", "interrupt",
    "undo", "note", "out-of-service", "release", "pour-bath", "top-up", "close-bath", "register-container",
    "close-container", "register-strips", "strip-control", "close-strips", "strip-test", "confirm-acts", "set-pin",
    "issue-scope", "procedure-ended", "report-fault", "decontaminate", "send-for-repair",
    "add-scope",
}  # fmt: skip
# Void with a reason, correct strip and leak results, edit protocols and limits, purge; and what waits for a decision.
LEADS = {"void", "correct", "adopt-protocol", "choose-limits", "confirm-claim", "purge", "decide", "return-checked",
         "pair-handheld"}  # fmt: skip
ADMINISTRATORS = {"set-unit", "add-person", "retire-person", "set-badge"}
VALUES: dict[str, dict[str, Any]] = {
    "purge": {"first_seq": 1, "last_seq": 2, "to": "x", **dict.fromkeys(("head", "stub", "manifest"), GOOD)},
    "correct": {"what": "leak", "reason": "r"}, "decide": {"decision": "continue", "reason": "r"},
    "void": {"reason": "r"}, "adopt-protocol": {}, "choose-limits": {}, "confirm-claim": {"label": "l"},
    "return-checked": {"leak_test": "pass", "inspection": "pass"},
    "set-unit": {"soon_s": 1}, "add-person": {"name": "E", "role": "lead"}, "retire-person": {"reason": "r"},
    "set-badge": {"badge": "b"}, "pair-handheld": {"public_key": GOOD},
}  # fmt: skip


SUBJECTS = {"purge": "2026-W40"}


def _roles() -> Bench:
    bench = Bench()
    bench.must("add-person", "ada", name="Ada", role="administrator")
    return bench


def test_what_leads_and_administrators_alone_may_is_this_and_what_anybody_must_be_able_to_is_open() -> None:
    closed = {name for name, spec in SPECS.items() if spec.lead}
    # The whole list stands in test_table.py; whatever is added there, none of this is ever given away.
    assert closed >= LEADS | ADMINISTRATORS and not closed & ANYBODY
    assert {name for name, spec in SPECS.items() if spec.admin} == ADMINISTRATORS
    assert {name for name, spec in SPECS.items() if spec.open} == {"sign-in"}
    assert SPECS.keys() >= ANYBODY


@pytest.mark.parametrize("do", sorted(LEADS | ADMINISTRATORS))
def test_a_technician_may_none_of_it_and_a_lead_not_what_an_administrator_may(do: str) -> None:
    bench = _roles()
    bench.checked_refusal("lead-only", do, SUBJECTS.get(do, "B2"), "tim", **VALUES[do])
    if do in ADMINISTRATORS:
        bench.checked_refusal("administrator-only", do, "B2", "ann", **VALUES[do])
    for by in ("ada", *(() if do in ADMINISTRATORS else ("ann",))):
        answer = bench.give(do, SUBJECTS.get(do, "B2"), by, **VALUES[do])
        assert not isinstance(answer, Refusal) or answer.key not in ("lead-only", "administrator-only"), (do, by)


@pytest.mark.parametrize("do", sorted(ANYBODY))
def test_no_role_is_refused_as_such_what_anybody_may(do: str) -> None:
    values = {
        name: value.choices[0] if value.choices else _ANY[value.type](value)
        for name, value in SPECS[do].values.items()
        if value.required
    }
    if do == "choose":
        values["way"] = values.pop("by")
    for by in ("tim", "ann", "ada"):
        bench = _roles()
        answer = bench.give(do, "B2", by, **values)
        assert not isinstance(answer, Refusal) or answer.key not in ("lead-only", "administrator-only", "not-signed-in")


_ANY: dict[str, Any] = {
    "text": lambda value: "x", "date": lambda value: "2026-11-25", "time": lambda value: "2026-11-25T07:00:00Z",
    "number": lambda value: value.low, "whole": lambda value: value.low, "bool": lambda value: True,
    "hex": lambda value: GOOD if value.low is None else value.low,
}  # fmt: skip


def test_a_technician_takes_any_bath_out_of_use_at_once_and_a_lead_closes_it() -> None:
    bench = Bench()
    bench.soaking("B3")
    event = bench.must("close-bath", "H4", "tim", reason="a glove fell in")
    assert event.kind == "withdraw-bath" and event.data["doubt"]["scopes"] == ["B3"]
    bath = bench.unit.baths["H4"]
    assert (bath.withdrawn, bath.closed) == ("a glove fell in", "")
    bench.checked_refusal("bath-withdrawn", "close-bath", "H4", "tim", reason="again")
    refused = unusable(bath, bench.unit, bench.now)
    assert refused is not None and refused.key == "bath-withdrawn"
    # A strip of it still looks back at the scopes that lay in it: closing it for good would have ended that.
    bench.wait(3600)
    bench.must("lift", "B3", "tim", temp_c=21)
    strip = bench.must("strip-test", "H4", "tim", scope="B2", result="fail", strip_lot=bench.strips_for("H4"))
    assert [one["scope"] for one in strip.data["holds"]] == ["B3"]
    assert bench.must("close-bath", "H4", reason="soiled").kind == "close-bath"
    assert bench.unit.baths["H4"].closed == "soiled" and bench.replayed() == bench.unit


def test_what_can_not_be_used_any_more_and_detergent_anybody_closes() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.must("strip-test", "H4", "tim", scope="B3", result="fail", strip_lot=bench.strips_for("H4"))
    assert bench.must("close-bath", "H4", "tim", reason="failed its strip").kind == "close-bath"
    bench.pour("H5")
    bench.wait(60 * 86_400)
    assert bench.must("close-bath", "H5", "tim", reason="past its life").kind == "close-bath"
    bench.pour("W9", kind="detergent")
    assert bench.must("close-bath", "W9", "tim", reason="served its scope").kind == "close-bath"
