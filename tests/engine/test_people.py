"""Who may do what, PINs and their delays, and what nobody may be kept from."""

from __future__ import annotations

from typing import Any

import pytest

from protocols.event import Event
from protocols.refusals import Refusal
from protocols.signin import wait_after
from protocols.unconfirmed import UNCONFIRMED
from tests.engine.driver import Bench

GOOD, BAD, SALT = "ab" * 32, "cd" * 32, "00" * 16
PIN = {"salt": SALT, "hash": GOOD, "n": 16_384, "r": 8, "p": 1}


def _pinned() -> Bench:
    bench = Bench()
    bench.must("set-pin", "ann", **PIN)
    return bench


def _try(bench: Bench, digest: str, person: str = "ann") -> Event | Refusal:
    return bench.give("sign-in", person, UNCONFIRMED, hash=digest)


def test_only_an_administrator_changes_people_and_settings_once_there_is_one() -> None:
    bench = Bench()
    bench.must("add-person", "ada", name="Ada", role="administrator")  # ann, a lead, still may: nobody else could
    bench.checked_refusal("administrator-only", "add-person", "eve", name="Eve", role="technician")
    bench.checked_refusal("administrator-only", "set-unit", "unit", soon_s=30)
    bench.checked_refusal("administrator-only", "retire-person", "tim", reason="left")
    bench.must("set-unit", "unit", "ada", soon_s=30)
    assert bench.unit.lead("ada") and bench.unit.lead("ann") and not bench.unit.lead("tim")
    bench.take_to("B2", "wipe-boot")
    bench.must("void", "B2", "ada", reason="wrong scope")  # and whatever a lead may


def test_the_first_person_runs_the_unit() -> None:
    for role in ("administrator", "lead"):
        bench = Bench(ready=False)
        bench.must("add-person", "ann", "ann", name="Ann", role=role)
        bench.must("set-unit", "unit", "ann", soon_s=30)


def test_a_retired_person_gives_no_command_and_the_id_is_never_used_again() -> None:
    bench = Bench()
    bench.checked_refusal("last-administrator", "retire-person", "ann", reason="left")
    bench.must("retire-person", "tim", reason="left")
    bench.checked_refusal("unknown-person", "note", "B2", "tim", what="other", text="x")
    bench.checked_refusal("person-known", "add-person", "tim", name="Another", role="technician")
    bench.checked_refusal("no-person", "retire-person", "tim", reason="again")
    assert bench.unit.retired["tim"].name == "Tim" and bench.replayed() == bench.unit
    bench.must("add-person", "ada", name="Ada", role="administrator")
    bench.checked_refusal("last-administrator", "retire-person", "ada", "ada", reason="left")


def test_no_person_takes_a_name_that_the_record_uses_itself() -> None:
    for name in (UNCONFIRMED, "device"):
        Bench().checked_refusal("reserved-person", "add-person", name, name="X", role="lead")


def test_a_badge_names_one_person() -> None:
    bench = Bench()
    bench.must("set-badge", "tim", badge="K-0017")
    bench.checked_refusal("badge-known", "set-badge", "ann", badge="k-0017")
    bench.checked_refusal("no-change", "set-badge", "tim", badge="K-0017")
    assert bench.unit.people["tim"].badge == "K-0017" and bench.replayed() == bench.unit


def test_a_pin_is_set_by_oneself_or_an_administrator() -> None:
    bench = Bench()
    bench.must("set-pin", "tim", "tim", **PIN)
    bench.must("set-pin", "tim", "ann", **{**PIN, "n": 32_768.0})
    assert bench.unit.people["tim"].pin is not None and isinstance(bench.unit.people["tim"].pin.n, int)
    bench.checked_refusal("pin-of-other", "set-pin", "ann", "tim", **PIN)
    bench.checked_refusal("pin-cost", "set-pin", "ann", **{**PIN, "n": 20_000})
    bench.checked_refusal("no-person", "set-pin", "eve", **PIN)
    assert bench.replayed() == bench.unit


def test_pins_are_required_only_when_an_administrator_has_one_and_stay_possible() -> None:
    bench = Bench()
    bench.checked_refusal("pins-without-one", "set-unit", "unit", pins_required=True)
    bench.must("set-pin", "ann", **PIN)
    bench.must("set-unit", "unit", pins_required=True)
    bench.must("add-person", "ada", name="Ada", role="lead")
    bench.checked_refusal("last-pin", "retire-person", "ann", reason="left")
    bench.must("set-pin", "ada", "ada", **PIN)
    bench.must("retire-person", "ann", reason="left")


# NIST SP 800-63B, 5.2.2, gives from 30 s up to an hour for delays that grow with wrong tries (from memory); the steps
# between, and two tries without a delay, are our own.
DELAYS = {1: 0, 2: 0, 3: 30, 4: 60, 5: 120, 6: 240, 9: 1920, 10: 3600, 11: 3600, 10**9: 3600}


@pytest.mark.parametrize(("wrong", "seconds"), DELAYS.items())
def test_the_delay_grows_up_to_an_hour(wrong: int, seconds: int) -> None:
    assert wait_after(wrong) == seconds


def test_wrong_pins_are_kept_and_wait_on_proven_time_only() -> None:
    bench = _pinned()
    for number in (1, 2, 3):
        event = _try(bench, BAD)
        assert isinstance(event, Event) and (event.kind, event.data["wrong"]) == ("pin-wrong", number)
        assert GOOD not in str(event) and BAD not in str(event)
    # Neither the right PIN nor a step of the wall clock helps before the time is over.
    bench.checked_refusal("pin-wait", "sign-in", "ann", UNCONFIRMED, hash=GOOD)
    bench.clock.step(3600)
    bench.wait(29.9)
    bench.checked_refusal("pin-wait", "sign-in", "ann", UNCONFIRMED, hash=GOOD)
    bench.wait(0.1)
    assert isinstance(_try(bench, BAD), Event)  # the fourth: 60 s
    # Switched off for a day: the delay goes on from where the clock was last seen.
    bench.wait(20)
    _ = bench.now
    bench.reboot(86_400)
    bench.clock.step(-86_400)
    bench.wait(39)
    bench.checked_refusal("pin-wait", "sign-in", "ann", UNCONFIRMED, hash=GOOD)
    bench.wait(1)
    right = _try(bench, GOOD)
    assert isinstance(right, Event) and (right.kind, right.data["wrong_before"]) == ("sign-in", 4)
    assert bench.unit.people["ann"].wrong == 0 and bench.replayed() == bench.unit
    assert isinstance(_try(bench, BAD), Event) and isinstance(_try(bench, GOOD), Event)


def test_one_persons_wrong_pins_keep_nobody_else_out() -> None:
    bench = _pinned()
    bench.checked_refusal("no-pin", "sign-in", "tim", UNCONFIRMED, hash=GOOD)
    bench.must("set-pin", "tim", "tim", **PIN)
    for _ in range(3):
        _try(bench, BAD)
    answer = _try(bench, GOOD, "tim")
    assert isinstance(answer, Event) and answer.kind == "sign-in"
    bench.checked_refusal("unknown-person", "sign-in", "eve", UNCONFIRMED, hash=GOOD)
    bench.checked_refusal("sign-in-by", "sign-in", "ann", "ann", hash=GOOD)


def test_a_new_pin_ends_the_delay() -> None:
    bench = _pinned()
    for _ in range(3):
        _try(bench, BAD)
    bench.must("set-pin", "ann", **{**PIN, "hash": BAD})
    answer = _try(bench, BAD)
    assert isinstance(answer, Event) and answer.kind == "sign-in"


def test_a_lift_and_the_final_rinse_need_nobody_signed_in_until_somebody_confirms_them() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(bench.left_s("B2"))
    event = bench.must("lift", "B2", UNCONFIRMED, temp_c=21)
    assert event.by == UNCONFIRMED and event.data["unconfirmed"] is True
    acts = [event.id]
    while bench.cycle("B2").step.startswith("final-rinse"):
        bench.wait(1)
        bench.wait(bench.left_s("B2"))
        do, values = bench.ordinary("B2")
        acts.append(bench.must(do, "B2", UNCONFIRMED, **values).id)
    assert len(acts) > 2 and list(bench.unit.unconfirmed) == acts
    bench.checked_refusal("not-signed-in", "confirm-acts", "B2", UNCONFIRMED)
    bench.checked_refusal("unknown-person", "confirm-acts", "B2", "nobody")
    bench.whole_cycle("B2")
    bench.checked_refusal("acts-unconfirmed", "release", "B2", "tim")
    confirmed = bench.must("confirm-acts", "B2", "tim")
    assert confirmed.data["acts"] == acts and not bench.unit.unconfirmed
    bench.checked_refusal("nothing-to-confirm", "confirm-acts", "B2", "tim")
    bench.checked_refusal("not-signed-in", "release", "B2", UNCONFIRMED)
    bench.must("release", "B2", "tim")
    assert bench.replayed() == bench.unit


def test_interrupt_and_out_of_service_need_nobody_signed_in() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(1)
    bench.must("interrupt", "B2", UNCONFIRMED, reason="the bath leaks")
    bench.wait(1)
    bench.must("out-of-service", "B2", UNCONFIRMED, reason="cut", owner="ann")
    assert len(bench.unit.unconfirmed) == 2 and "B2" not in bench.unit.cycles
    bench.checked_refusal("no-cycle", "lift", "B2", UNCONFIRMED)
    bench.checked_refusal("unknown-scope", "lift", "Z9", UNCONFIRMED)


def test_an_unconfirmed_act_that_is_taken_back_needs_nobody_to_stand_for_it() -> None:
    bench = Bench()
    bench.take_to("B2", "final-rinse")
    bench.wait(1)
    do, values = bench.ordinary("B2")
    bench.must(do, "B2", UNCONFIRMED, **values)
    assert bench.unit.unconfirmed
    bench.wait(1)
    bench.must("undo", "B2", "tim")
    assert not bench.unit.unconfirmed and bench.replayed() == bench.unit


OTHERS: list[tuple[str, str, dict[str, Any]]] = [
    ("undo", "B2", {}), ("note", "B2", {"what": "other", "text": "x"}), ("void", "B2", {"reason": "r"}),
    ("look", "B2", {"outcome": "clean"}), ("skip", "B2", {"reason": "r"}), ("release", "B3", {}),
    ("receive", "B3", {"case": "1", "procedure_date": "2026-11-25", "procedure_type": "x", "precleaned": "no"}),
    ("decide", "B2", {"decision": "continue", "reason": "r"}), ("close-bath", "H4", {"reason": "r"}),
    ("strip-test", "H4", {"scope": "B2", "result": "pass", "strip_lot": "S"}), ("set-unit", "unit", {"soon_s": 1}),
    ("set-pin", "ann", PIN), ("add-person", "eve", {"name": "Eve", "role": "lead"}),
]  # fmt: skip


@pytest.mark.parametrize(("do", "subject", "values"), OTHERS)
def test_everything_else_needs_somebody_signed_in(do: str, subject: str, values: dict[str, Any]) -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    bench.wait(30)
    bench.checked_refusal("not-signed-in", do, subject, UNCONFIRMED, **values)


def test_a_flush_with_detergent_or_a_soak_is_no_rinse() -> None:
    bench = Bench()
    bench.take_to("B2", "flush-suction-channel")
    bench.wait(1)
    bench.checked_refusal("not-signed-in", "count", "B2", UNCONFIRMED, **bench.given("B2"))
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    bench.checked_refusal("not-signed-in", "start", "B2", UNCONFIRMED, **bench.start_values("B2"))
