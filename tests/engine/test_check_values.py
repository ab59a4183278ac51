"""Published contact conditions against what the engine does. Each number stands here a second time, with its source.

Read: CDC-T4 is Table 4 of the CDC Guideline for Disinfection and Sterilization in Healthcare Facilities (2008),
REV-2016 is Table 1 of Infect Dis Clin North Am 2016;30(3):609. Read at second hand: COPY2 (a copy of the CDC
recommendations), AUDIT1 (an audit form).
"""

from __future__ import annotations

import pytest
from driver import TODAY, Bench
from load_cases import GOOD, at_top
from odd_protocols import enabled, odd

from protocols import bath as baths

MIN = 60


def soaked(claim: str, temp_c: float, activated: bool = False, claims: str = "") -> tuple[Bench, str]:
    """A bench whose scope X1 has just begun its soak in that claim's solution, or the refusal that stopped it."""
    bench = (
        odd(GOOD.replace('claims = ["opa-055-20c"]\n', ""), claims)
        if claims
        else odd(at_top('claims = ["opa-055-20c"]\n', ""))
    )
    bench.pour("H8", claim, **({"activated": TODAY} if activated else {}))
    bench.take_to("X1", "hld")
    bench.strip("X1", "H8")
    answer = bench.give("start", "X1", **bench.start_values("X1", "H8", temp_c))
    return bench, getattr(answer, "key", "")


# claim, minutes, lowest °C, reuse days; None: no figure of that kind was read.
MANUAL = [
    ("opa-055-20c", 12, 20, 14),  # CDC-T4: "12 minutes @ 20°C", 14 days
    ("h2o2-75", 30, 20, 21),  # CDC-T4: "30 minutes @ 20°C", "21 days"
    ("h2o2-paa-735", 15, 20, 14),  # CDC-T4: "15 minutes @ 20°C", 14 days
    ("glut-2-society-20c", 20, 20, None),  # COPY2: "glutaraldehyde for 20 minutes at 20ºC"
    ("glut-2-label-25c", 90, 25, None),  # COPY2: labels "at 25oC range from 20-90 minutes", the longest
]


@pytest.mark.parametrize(("claim", "minutes", "temp_c", "days"), MANUAL)
def test_contact_time_and_temperature(claim: str, minutes: float, temp_c: float, days: int | None) -> None:
    glut = claim.startswith("glut")
    bench, key = soaked(claim, temp_c - 0.1, glut)
    assert key == "too-cold"  # derived: the row's temperature is a minimum, whatever the time
    bench, key = soaked(claim, temp_c, glut)
    assert key == ""
    bench.wait(minutes * MIN - 1)
    bench.checked_refusal("early-lift", "lift", "X1", temp_c=temp_c)
    bench.wait(1)
    assert bench.must("lift", "X1", temp_c=temp_c).data["result"] == "full"
    if days is not None:
        # Usable through the last day, blocked on the next: the count of days is our own convention.
        for passed, words in ((days, ""), (1, "bath-expired")):
            bench.wait(passed * 86_400 - (1000 if words == "" else 0))
            refusal = baths.unusable(bench.bath("H8"), bench.unit, bench.now)
            assert (refusal.key if refusal else "") == words


def test_warmer_opa_is_not_faster_by_hand() -> None:
    # CDC-T4: "5 minutes @ 25°C in AER", an automated processor only.
    bench, _ = soaked("opa-055-20c", 25)
    bench.wait(5 * MIN)
    bench.checked_refusal("early-lift", "lift", "X1", temp_c=25)
    _, key = soaked("opa-055-25c-machine", 25)
    assert key == "not-manual"


def test_accelerated_peroxide_once_a_lead_has_confirmed_it() -> None:
    # REV-2016: "2.0% HP (8 min at 20°C)". AUDIT1, second-hand and matched from memory: 21 days from the pour date,
    # 90 days from the open date, never past the printed expiry.
    shipped = odd()
    refused = {
        "kind": "disinfectant",
        "claim": "h2o2-20-accelerated",
        "lot": "L",
        "expires": "2027-01-31",
        "opened": TODAY,
    }
    shipped.checked_refusal("not-enabled", "pour-bath", "H8", **refused)
    bench, key = soaked("h2o2-20-accelerated", 20, claims=enabled("h2o2-20-accelerated"))
    assert key == ""
    bench.wait(8 * MIN - 1)
    bench.checked_refusal("early-lift", "lift", "X1")
    bench.wait(1)
    bench.must("lift", "X1")
    days = {}
    for label, dates in (
        ("P", {}), ("Q", {"opened": "2026-09-05"}), ("R", {"opened": "2026-09-05", "expires": "2026-12-01"}),
    ):  # fmt: skip
        bench.pour(label, "h2o2-20-accelerated", **dates)
        last = baths.last_day(bench.bath(label), "UTC")
        days[label] = last[0].isoformat() if last else ""
    assert days == {"P": "2026-12-16", "Q": "2026-12-04", "R": "2026-12-01"}


def test_a_sterilant_is_no_manual_bath() -> None:
    # CDC-T4: peracetic acid 0.2 % "12 minutes @ 50-56°C", "Single use", automated, no high-level disinfection claim.
    bench = Bench()
    given = {"kind": "disinfectant", "claim": "paa-02-sterilant", "lot": "L", "expires": "2027-01-31", "opened": TODAY}
    bench.checked_refusal("not-manual", "pour-bath", "H8", **given)


def test_the_two_times_of_glutaraldehyde_stay_two_claims() -> None:
    # CDC-T4 "20-90 minutes @ 20o-25°C"; COPY2: the societies' 20 min at 20 °C and the label's time at 25 °C.
    society, label = Bench().shelf.claims["glut-2-society-20c"], Bench().shelf.claims["glut-2-label-25c"]
    assert (society.contact_s_min.value, label.contact_s_min.value) == (20 * MIN, 90 * MIN)
    bench = odd(at_top('"opa-055-20c"', '"glut-2-label-25c"'))
    bench.pour("H8", "glut-2-society-20c", activated=TODAY)
    bench.take_to("X1", "hld")
    bench.strip("X1", "H8")
    bench.checked_refusal("claim-not-allowed", "start", "X1", **bench.start_values("X1", "H8", 25))
    # CDC-T4: alkaline glutaraldehyde must be activated.
    no_date = {
        "kind": "disinfectant",
        "claim": "glut-2-label-25c",
        "lot": "L",
        "expires": "2027-01-31",
        "opened": TODAY,
    }
    bench.checked_refusal("bath-not-activated", "pour-bath", "H9", **no_date)
