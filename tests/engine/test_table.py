"""The one table: every state against every command, who may give what, and commands given twice or too late."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from driver import SCOPES, TODAY, Bench

from protocols.commands import SPECS
from protocols.cycle import COMMANDS, HANDLERS, TABLE, TABLE_TEXT, State, read_table
from protocols.decide import decide
from protocols.errors import ClockError, CommandFault, Defect
from protocols.event import Command, Event
from protocols.refusals import WORDS, Refusal, refuse
from protocols.register import HANDLERS as REGISTER

# What a scope accepts in each state, held here apart from the table. Everything else is refused.
ANY_TIME = {"note", "out-of-service", "void", "report-fault", "hand-over"}
ACCEPTED: dict[State, set[str]] = {
    State.NONE: {"receive", "procedure-ended", "report-fault"},
    State.LOOK: ANY_TIME | {"look", "choose"},
    State.PASS: ANY_TIME | {"pass", "choose"},
    State.COUNT: ANY_TIME | {"count"},
    State.RINSE: ANY_TIME | {"start"},
    State.READING: ANY_TIME | {"read", "skip", "choose"},
    State.OUT: ANY_TIME | {"start", "choose"},
    State.IN: ANY_TIME | {"lift", "interrupt"},
    State.AIR_OFF: ANY_TIME | {"start"},
    State.AIR_ON: ANY_TIME | {"check", "interrupt"},
    State.RUN_OFF: ANY_TIME | {"start", "choose"},
    State.RUN_ON: ANY_TIME | {"run-end", "interrupt"},
    State.WAITING: ANY_TIME | {"decide"},
    State.OFFERED: {"out-of-service", "void", "confirm-handover"},
}


def _late(bench: Bench) -> None:
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    while bench.state("B2") is not State.WAITING:
        bench.go("B2")


def _at(step: str, more: Callable[[Bench], Any] = lambda bench: None) -> Callable[[Bench], Any]:
    return lambda bench: (bench.take_to("B2", step), bench.wait(60), more(bench))


WAYS: dict[State, Callable[[Bench], Any]] = {
    State.NONE: lambda bench: None,
    State.LOOK: _at("wipe-boot"),
    State.PASS: _at("brush-tip"),
    State.COUNT: _at("final-flush"),
    State.RINSE: _at("final-rinse"),
    State.READING: _at("verify"),
    State.OUT: _at("disinfectant-soak", lambda bench: bench.strip("B2")),
    State.IN: lambda bench: (bench.soaking("B2"), bench.wait(720)),
    State.AIR_OFF: _at("drying-air"),
    State.AIR_ON: _at("drying-air", lambda bench: (bench.must("start", "B2"), bench.wait(600))),
    State.RUN_OFF: _at("verify", lambda bench: (bench.must("choose", "B2", way="machine"), bench.go("B2"))),
    State.RUN_ON: _at(
        "verify",
        lambda bench: (bench.must("choose", "B2", way="machine"), bench.go("B2"), bench.go("B2"), bench.wait(1200)),
    ),
    State.WAITING: _late,
    State.OFFERED: _at("brush-tip", lambda bench: bench.must("hand-over", "B2", device="hh2")),
}


def _answer(bench: Bench) -> str:
    cycle = bench.unit.cycles.get("B2")
    offer = cycle.offer.id if cycle and cycle.offer else ""
    return json.dumps({"v": 1, "kind": "answer", "offer": offer, "taken": True, "cycle": "hh2-000001", "head": "0"})


def values(bench: Bench, do: str) -> dict[str, Any]:
    """Good values for a command on B2 in its present state."""
    given = bench.given("B2") if bench.step("B2") else {}
    if do == "start" and bench.state("B2") in (State.OUT, State.IN):
        given = {**given, "bath": "H4", "temp_c": 21}
    if do == "start" and bench.state("B2") is State.RUN_OFF:
        given = {"machine": "M1", "run": "4"}
    known: dict[str, dict[str, Any]] = {
        "receive": {"case": "1", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "no"},
        "look": {"outcome": "clean", **given}, "pass": {"debris": "seen"}, "count": given, "start": given,
        "lift": {"temp_c": 21}, "check": {"dry": True},
        "read": {"method": "protein", "meter": "P", "value": 1}, "run-end": {"result": "complete"},
        "skip": {"reason": "r"}, "choose": {"way": "machine"}, "interrupt": {"reason": "r"},
        "note": {"what": "other", "text": "t"}, "out-of-service": {"reason": "r", "owner": "ann"},
        "decide": {"decision": "continue", "reason": "r"}, "correct": {"what": "leak", "reason": "r"},
        "void": {"reason": "r"}, "undo": {}, "release": {}, "issue-scope": {"case": "1"},
        "procedure-ended": {"case": "1", "procedure_end": "2026-11-25T07:30:00+00:00"},
        "hand-over": {"device": "hh2"}, "take-over": {"offer": "{}", "signature": "ab" * 64},
        "decline-offer": {"offer": "{}", "signature": "ab" * 64},
        "confirm-handover": {"answer": _answer(bench), "signature": "ab" * 64},
        "report-fault": {"kind": "damage", "text": "t"}, "decontaminate": {"how": "wiped"},
        "send-for-repair": {"to": "maker"}, "return-checked": {"leak_test": "pass", "inspection": "pass"},
    }  # fmt: skip
    if do == "choose" and bench.state("B2") in (State.RUN_OFF, State.RUN_ON):
        return {"way": "soak"}
    return known[do]


@pytest.mark.parametrize("state", State, ids=lambda s: s.name)
def test_every_command_in_every_state(state: State) -> None:
    bench = Bench()
    bench.must("pair-handheld", "hh2", public_key="ab" * 32)
    WAYS[state](bench)
    bench.wait(30)  # past undo and past a doubled tap
    assert bench.state("B2") is state
    start, events = bench.unit, list(bench.events)
    for do in sorted(COMMANDS):
        answer = bench.give(do, "B2", **values(bench, do))
        if do in ACCEPTED[state]:
            assert isinstance(answer, Event), f"{do} in {state.name}: {answer}"
            assert bench.replayed() == bench.unit != start
        else:
            assert isinstance(answer, Refusal), f"{do} in {state.name} was accepted"
            assert bench.unit is start
            assert answer.why and answer.remedy
        bench.unit, bench.events = start, list(events)


# What each refusal must name for a person to know what is meant: the step, the bath, the reason, the other handheld.
NAMED = {
    State.LOOK: ("count", "B2 is at step 'wipe-boot' (", ", which is a look; count does not fit"),
    State.IN: ("look", "B2 is still in H4"),
    State.WAITING: ("look", "B2 waits for a lead: "),
    State.OFFERED: ("look", "hh2"),
    State.NONE: ("look", "B2"),
}  # fmt: skip


@pytest.mark.parametrize("state", NAMED, ids=lambda s: s.name)
def test_a_refusal_names_what_it_is_about(state: State) -> None:
    bench = Bench()
    bench.must("pair-handheld", "hh2", public_key="ab" * 32)
    WAYS[state](bench)
    bench.wait(30)
    do, *parts = NAMED[state]
    refused = bench.give(do, "B2", **values(bench, do))
    assert isinstance(refused, Refusal)
    step, hold = bench.step("B2"), bench.unit.cycles["B2"].hold if state is State.WAITING else None
    expected = [*parts, step.says] if state is State.LOOK and step else [*parts, hold.why] if hold else parts
    assert all(part in refused.why for part in expected), refused.why


def test_the_table_has_a_cell_for_every_state_and_command_and_a_handler_for_every_command() -> None:
    on_scope = {name for name, spec in SPECS.items() if spec.on == "scope"} - {"add-scope"}
    assert on_scope | {"correct"} == COMMANDS
    assert set(TABLE) == {(state, do) for state in State for do in COMMANDS}
    assert {cell for cell in TABLE.values() if not cell.startswith("!")} == set(HANDLERS)
    assert COMMANDS | set(REGISTER) == set(SPECS) and not COMMANDS & set(REGISTER)


FAULTY_TABLES = [
    ("LOOK", "NONE", "the table has holes"), ("receive  ", "receive  none-such", "cells"),
    ("!none", "perhaps", "neither"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), FAULTY_TABLES)
def test_a_table_with_a_hole_or_an_unknown_cell_is_a_defect(old: str, new: str, words: str) -> None:
    assert read_table(TABLE_TEXT) == TABLE
    with pytest.raises(Defect, match=words):
        read_table(TABLE_TEXT.replace(old, new, 1))


def test_refusals_are_worded_and_an_unworded_one_is_a_defect() -> None:
    assert all(why and remedy for why, remedy in WORDS.values())
    with pytest.raises(Defect, match="no words"):
        refuse("because")


def test_two_fingers_are_one_tap() -> None:
    bench = Bench()
    bench.take_to("B2", "flush-suction-channel")
    bench.wait(1)
    bench.must("count", "B2")
    bench.wait(0.499)
    bench.checked_refusal("doubled", "count", "B2")
    bench.wait(0.001)
    bench.must("count", "B2")
    assert bench.cycle("B2").done == 2


def test_notes_may_follow_each_other_at_once() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    for text in ("splash", "gloves changed"):
        bench.must("note", "B2", what="other", text=text)
    assert [e.data["text"] for e in bench.events if e.kind == "note"] == ["splash", "gloves changed"]


def test_a_tap_on_an_older_view_is_refused() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    seen = bench.cycle("B2").last_seq
    bench.wait(1)
    bench.must("look", "B2", outcome="clean", after=seen)
    bench.wait(1)
    bench.checked_refusal("stale-view", "look", "B2", outcome="clean", after=seen)
    bench.must("look", "B2", outcome="clean", after=bench.cycle("B2").last_seq)


def test_an_empty_unit_takes_its_first_lead_from_anybody_and_nothing_else() -> None:
    bench = Bench(ready=False)
    bench.must("set-unit", "unit", by="someone", zone="Europe/Berlin")
    bench.checked_refusal("unknown-person", "adopt-protocol", "gastroscope", by="someone")
    bench.checked_refusal("first-lead", "add-person", "tim", by="someone", name="Tim", role="technician")
    bench.must("add-person", "ann", by="someone", name="Ann", role="lead")
    bench.checked_refusal("unknown-person", "add-person", "eve", by="someone", name="Eve", role="lead")
    bench.checked_refusal("person-known", "add-person", "ann", name="Ann", role="technician")
    assert bench.unit.lead("ann") and not bench.unit.lead("tim")


LEAD_ONLY = {
    "set-unit", "add-person", "adopt-protocol", "decide", "correct", "void", "choose-limits", "confirm-claim",
    "retire-person", "set-badge", "return-checked", "purge", "pair-handheld", "record-competency",
}  # fmt: skip


def test_what_only_a_lead_may() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    needed: dict[str, dict[str, Any]] = {
        "set-unit": {"soon_s": 90}, "add-person": {"name": "Eve", "role": "lead"}, "adopt-protocol": {},
        "decide": {"decision": "continue", "reason": "r"}, "correct": {"what": "leak", "reason": "r"},
        "void": {"reason": "r"}, "choose-limits": {}, "confirm-claim": {"label": "l"},
        "retire-person": {"reason": "r"}, "set-badge": {"badge": "b"},
        "return-checked": {"leak_test": "pass", "inspection": "pass"}, "pair-handheld": {"public_key": "ab" * 32},
        "record-competency": {"what": "w", "done": TODAY, "until": TODAY},
        "purge": {"first_seq": 1, "last_seq": 9, "to": "x", **dict.fromkeys(("head", "stub", "manifest"), "ab" * 32)},
    }  # fmt: skip
    assert {name for name, spec in SPECS.items() if spec.lead} == LEAD_ONLY == set(needed)
    for do, given in needed.items():
        bench.checked_refusal("lead-only", do, "B2", by="tim", **given)


FAULTS: list[tuple[Any, str, Any, str]] = [
    ("dance", "B2", {}, "no command is called 'dance'"),
    (["look"], "B2", {}, "no command is called"),
    ("look", " B2", {"outcome": "clean"}, "subject is ' B2'"),
    ("look", "B" * 81, {"outcome": "clean"}, "subject is"),
    ("look", "B2", {}, "look lacks outcome"),
    ("look", "B2", {"outcome": "clean", "mood": 1}, "takes no value 'mood'"),
    ("look", "B2", {"outcome": "\x07"}, "control character"),
    ("look", "B2", {"outcome": "\ud800"}, "control character"),
    ("look", "B2", {"outcome": "x" * 201}, "text of 1 to 200"),
    ("look", "B2", {"outcome": "clean", "under": 1}, "true or false"),
    ("lift", "B2", {"temp_c": "21"}, "it must be a number"),
    ("lift", "B2", {"temp_c": True}, "it must be a number"),
    ("lift", "B2", {"temp_c": float("nan")}, "it must be a number"),
    ("lift", "B2", {"temp_c": 100}, "from 0 to 99"),
    ("lift", "B2", {"temp_c": -0.1}, "from 0 to 99"),
    ("lift", "B2", {"temp_c": 10**5000}, "a number of more than 60 digits"),
    ("pass", "B2", {"debris": "some"}, "one of seen, none"),
    ("pass", "B2", {"debris": []}, "one of the choices"),
    ("pour-bath", "H5", {"kind": "detergent", "lot": "1", "expires": "2026-02-30", "opened": TODAY}, "a date like"),
    ("set-unit", "unit", {"zone": "Mars/Olympus"}, "an IANA time zone"),
    ("set-unit", "unit", {"zone": ["UTC"]}, "an IANA time zone"),
    ("look", "B2", [1], "an object of named values"),
]


@pytest.mark.parametrize(("do", "subject", "given", "words"), FAULTS)
def test_a_command_of_the_wrong_shape_is_a_fault(do: Any, subject: str, given: Any, words: str) -> None:
    bench = Bench()
    with pytest.raises(CommandFault) as caught:
        decide(bench.unit, Command(do, subject, given, "ann"), bench.now, bench.shelf)
    assert words in str(caught.value) and len(str(caught.value)) < 500


def test_unknown_tags_and_doubled_lists() -> None:
    bench = Bench()
    bench.checked_refusal("unknown-scope", "look", "Z9", outcome="clean")
    bench.checked_refusal("unknown-scope", "release", "Z9")
    bench.checked_refusal("no-cycle", "look", "B2", outcome="clean")
    bench.checked_refusal("scope-known", "add-scope", "B2", protocol="gastroscope")
    bench.checked_refusal("unknown-protocol", "add-scope", "Z9", protocol="none-such")
    bench.checked_refusal("no-change", "set-unit", "unit")
    bench.checked_refusal("no-change", "adopt-protocol", "gastroscope")
    bench.receive("B2")
    bench.wait(1)
    given = {"case": "2", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "no"}
    bench.checked_refusal("in-cycle", "receive", "B2", **given)
    assert set(SCOPES) == set(bench.unit.scopes)


def test_a_reading_of_a_boot_that_the_record_does_not_know_is_a_clock_fault() -> None:
    bench = Bench()
    bench.clock.reboot(5)
    with pytest.raises(ClockError, match="reopen the record"):
        _ = bench.now
