"""Published numbers of solutions against what the engine does with them, each number held here again with its source.

Read: CDC-T4 and CDC-T5 (CDC guideline 2008, Tables 4 and 5), REV-2016 (Infect Dis Clin North Am 2016;30(3):609,
Table 1), FDA list of December 2023, LBL1 to LBL3 (makers' label sheets), HICPAC-AUD (HICPAC sample audit tool),
RINSE-2012.
Second-hand: COPY2 (CDC recommendations), DECK (a conference deck, 2004), AUDIT1 (an audit form), GIE-HLD (a society's
table), NIOSH-R and OSHA-C (glutaraldehyde brochure and course), CIHQ (ANSI/AAMI ST58 on the log).
"Unsourced" marks a figure that rests on memory.
"""

from __future__ import annotations

from typing import Any

import pytest
from driver import TODAY, Bench
from load_cases import at_top
from odd_protocols import odd

from data.cycles import summarise
from data.exporters.cycle_columns import CYCLE_COLUMNS
from protocols import bath as baths

MIN, DAY = 60, 86_400
FREE = at_top('claims = ["opa-055-20c"]\n', "")
# What a lead types from the label to enable a row that ships disabled.
LABELS: dict[str, dict[str, Any]] = {
    "h2o2-20-accelerated": {"contact_s": 480, "temp_c": 20, "reuse_d": 21, "mec_pct": 1.5},
    "h2o2-10-paa-008": {"contact_s": 1500, "temp_c": 20, "reuse_d": 14},
    "paa-3100-ppm": {"contact_s": 420, "temp_c": 20, "reuse_d": 5},
    "glut-24-25c": {"contact_s": 2700, "temp_c": 25, "reuse_d": 14},
    "glut-34-25c": {"contact_s": 5400, "temp_c": 25, "reuse_d": 28, "mec_pct": 1.8},
    "glut-112-phenol-193": {"contact_s": 1200, "temp_c": 25, "reuse_d": 14},
    "glut-34-isopropanol-26": {"contact_s": 600, "temp_c": 20, "reuse_d": 14},
    "hocl-400-ppm": {"contact_s": 600, "temp_c": 20, "single_use": True},
}


def poured(claim: str, **values: Any) -> Bench:
    """A bench with bath H8 of that claim, confirmed by the label first where the row ships disabled."""
    bench = odd(FREE)
    if claim in LABELS:
        bench.must("confirm-claim", claim, label="label in hand", by_hand=True, **LABELS[claim])
    activated = {"activated": TODAY} if bench.shelf.claims[claim].needs_activation else {}
    bench.pour("H8", claim, **activated, **values)
    return bench


# claim, minutes, lowest °C, days; None where no life in days was read or typed.
ROWS = [
    ("opa-055-20c", 12, 20, 14),  # CDC-T4
    ("opa-0575-20c", 10, 20, 28),  # LBL1: 10 min and "not to exceed 28 days", not 12 and 14
    ("h2o2-75", 30, 20, 21),  # CDC-T4: "30 minutes @ 20°C", "21 days"
    ("h2o2-paa-735", 15, 20, 14),  # CDC-T4: "15 minutes @ 20°C", 14 days
    ("h2o2-20-accelerated", 8, 20, 21),  # REV-2016: "2.0% HP (8 min at 20°C)"; AUDIT1: "21 days from the pour date"
    ("h2o2-10-paa-008", 25, 20, 14),  # REV-2016: "1.0% HP with 0.08% PA (25 min)"; 20 °C and 14 days unsourced
    ("paa-3100-ppm", 7, 20, 5),  # FDA list: "7 min at 20ºC", "5 days Maximum Reuse"
    ("glut-2-society-20c", 20, 20, 14),  # COPY2: "20 minutes at 20ºC"; CDC-T4: 14-30 days, the shortest
    ("glut-2-label-25c", 90, 25, 14),  # COPY2: "at 25oC range from 20-90 minutes", the longest
    ("glut-24-25c", 45, 25, 14),  # DECK: "45m/25oC"; 14 days unsourced
    ("glut-34-25c", 90, 25, 28),  # unsourced
    ("glut-112-phenol-193", 20, 25, 14),  # REV-2016: "(20 min at 25°C)"; 14 days unsourced
    ("glut-34-isopropanol-26", 10, 20, 14),  # REV-2016: "(10 min at 20°C)"; the days are the test's label
    ("hocl-400-ppm", 10, 20, None),  # REV-2016: "400–450 ppm chlorine (10 min at 20°C)"; single use unsourced
]


@pytest.mark.parametrize(("claim", "minutes", "temp_c", "days"), ROWS)
def test_a_row_soaks_for_its_time_at_its_temperature_and_lives_its_days(
    claim: str, minutes: float, temp_c: float, days: int | None
) -> None:
    bench = poured(claim)
    bench.take_to("X1", "hld")
    bench.strip("X1", "H8")
    bench.wait(1)
    bench.checked_refusal("too-cold", "start", "X1", **bench.start_values("X1", "H8", temp_c - 0.1))
    bench.must("start", "X1", **bench.start_values("X1", "H8", temp_c))
    bench.wait(minutes * MIN - 1)
    bench.checked_refusal("early-lift", "lift", "X1", temp_c=temp_c)
    bench.wait(1)
    assert bench.must("lift", "X1", temp_c=temp_c).data["result"] == "full"
    if days is not None:
        # Poured on day 0, usable through day `days`: our convention.
        assert baths.days_left(bench.bath("H8"), bench.now, "UTC") == days
        bench.wait(days * DAY)
        assert baths.unusable(bench.bath("H8"), bench.unit, bench.now) is None
        bench.wait(DAY)
        assert baths.unusable(bench.bath("H8"), bench.unit, bench.now).key == "bath-expired"  # type: ignore[union-attr]


def test_no_warmer_bath_is_ever_faster() -> None:
    # No extrapolation between temperatures: the row holds from its lowest temperature upward.
    for claim, minutes, temp_c, _ in ROWS:
        bench = poured(claim)
        bench.take_to("X1", "hld")
        bench.strip("X1", "H8")
        bench.wait(1)
        started = bench.must("start", "X1", **bench.start_values("X1", "H8", temp_c + 15))
        assert started.data["soak"]["required_s"] == minutes * MIN, claim


def test_the_claims_limit_decides_what_a_strip_shows() -> None:
    # CDC-T4: OPA "Yes (0.3% OPA)", glutaraldehyde "1.5% or higher", H2O2 "Yes (6%)"; LBL2: a 28-day product 1.8 %.
    claims = Bench().shelf.claims
    limit = {name: claim.mec_pct.value for name, claim in claims.items() if claim.mec_pct}
    assert limit["opa-055-20c"] <= 0.30 and not limit["opa-055-20c"] <= 0.29
    assert limit["glut-2-label-25c"] <= 1.6 and not limit["glut-34-25c"] <= 1.6
    assert limit["h2o2-75"] == 6
    # so the strips for one do not vouch for the other, and every claim with a limit names its strips
    types = {name: claims[name].strip_type for name in limit}
    assert all(f"{limit[name]:g} %" in text for name, text in types.items())
    bench = poured("glut-34-25c")
    bench.bottle("S15", "glutaraldehyde 1.5 %")
    bench.take_to("X1", "hld")
    given = {"scope": "X1", "result": "pass"}
    bench.checked_refusal("strip-kind", "strip-test", "H8", **given, strip_lot="S15")
    bench.strip("X1", "H8")


def test_the_earliest_of_bath_bottle_and_printed_date_wins() -> None:
    # LBL3: OPA 0.55 % "can be stored up to 75 days"; AUDIT1: accelerated H2O2 "90 days from the open date", never past
    # its printed expiry.
    for claim, life in (("opa-055-20c", 75), ("h2o2-20-accelerated", 90)):
        assert poured(claim).bath("H8").opened_d_max == life
    last = baths.last_day(poured("opa-055-20c", opened="2026-09-15").bath("H8"), "UTC")
    assert last is not None and (last[0].isoformat(), last[1]) == ("2026-11-29", "the opened container's life")
    last = baths.last_day(poured("h2o2-20-accelerated", opened="2026-09-15", expires="2026-12-05").bath("H8"), "UTC")
    assert last is not None and (last[0].isoformat(), last[1]) == ("2026-12-05", "the printed expiry")


NOT_BY_HAND = [
    "paa-02-sterilant", "h2o2-83-paa-70-sterilant", "glut-2-sterilant", "glut-34-isopropanol-201-sterilant",
    "clo2-320-ppm-foam", "super-oxidised-144",
]  # fmt: skip


@pytest.mark.parametrize("claim", NOT_BY_HAND)
def test_what_is_no_manual_disinfectant_can_not_even_be_poured(claim: str) -> None:
    # CDC-T4: PAA 0.2 % "12 minutes @ 50-56°C", "Single use", automated; FDA list: foam for ultrasound probes only.
    bench = Bench()
    given = {"kind": "disinfectant", "claim": claim, "lot": "L", "expires": "2027-01-31", "opened": TODAY}
    given["activated"] = TODAY
    unsuitable = bench.shelf.claims[claim].use == "unsuitable"
    bench.checked_refusal("unsuitable" if unsuitable else "not-manual", "pour-bath", "H8", **given)


def test_five_hours_are_not_five_minutes() -> None:
    # REV-2016: "8.3% HP with 7.0% PA (5 h)".
    assert Bench().shelf.claims["h2o2-83-paa-70-sterilant"].contact_s_min.value == 5 * 3600


def test_glutaraldehyde_without_its_activation_date_is_not_poured() -> None:
    # CDC-T4: "Yes (alkaline glutaraldehyde)".
    bench = Bench()
    given = {"kind": "disinfectant", "lot": "L", "expires": "2027-01-31", "opened": TODAY}
    for claim in ("glut-2-society-20c", "glut-2-label-25c"):
        bench.checked_refusal("bath-not-activated", "pour-bath", "H8", claim=claim, **given)


def test_a_strip_for_this_use() -> None:
    # HICPAC-AUD: "for monitoring solution potency before each use".
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    bench.whole_cycle("B2")
    bench.take_to("B2", "disinfectant-soak")
    bench.wait(1)
    bench.checked_refusal("no-strip", "start", "B2", **bench.start_values("B2"))
    used = next(iter(bench.bath("H4").tests))
    bench.checked_refusal("strip-other", "start", "B2", **bench.start_values("B2"), test=used)


def test_the_same_detergent_lot_serves_many_scopes_the_same_bath_one() -> None:
    # HICPAC-AUD and Queensland Health 5.4: fresh detergent for every endoscope.
    bench = Bench()
    bench.must("register-container", "K1", kind="detergent", lot="D-1", expires="2027-01-31", opened=TODAY)
    for tag in ("B2", "B3"):
        bench.take_to(tag, "immerse")
    bench.must("pour-bath", "W9", container="K1")
    bench.wait(1)
    given = {"outcome": "under", "temp_c": 30, "under": True}
    bench.must("look", "B2", bath="W9", **given)
    bench.checked_refusal("bath-used", "look", "B3", bath="W9", **given)
    bench.must("pour-bath", "W10", container="K1")
    bench.must("look", "B3", bath="W10", **given)


def test_cautions_for_those_who_handle_it() -> None:
    # NIOSH-R: nitrile or butyl, "Latex gloves do not provide adequate protection"; OSHA-C: flush eyes at least 15 min;
    # CDC-T5: OPA stains, "hypersensitivity in some patients with bladder cancer"; RINSE-2012: not for urology.
    met: set[str] = set()
    for name, claim in Bench().shelf.claims.items():
        exposure, never = " ".join(claim.exposure), " ".join(claim.never_for)
        if name.startswith("glut"):
            assert "Nitrile or butyl, never latex" in claim.gloves and "at least 15 min" in exposure, name
        if name.startswith("opa"):
            assert "Stains skin" in exposure and "Urological" in never and "bladder cancer" in never, name
        if "h2o2" in name:
            assert "Serious eye damage" in exposure, name
        met.update(word for word in ("glut", "opa", "h2o2") if word in name)
    assert met == {"glut", "opa", "h2o2"}


def test_the_log_holds_what_the_standard_asks() -> None:
    # CIHQ, quoting ANSI/AAMI ST58: lot, shelf-life date, opened, use life of the open container, activated or diluted,
    # poured, reuse life, exposure time and temperature, operator; GIE-HLD: strip result and expiry.
    bench = Bench()
    bench.must("register-container", "K1", kind="disinfectant", claim="opa-055-20c", lot="C-1", expires="2027-06-30",
               opened="2026-11-20", activated="2026-11-21")  # fmt: skip
    bench.must("pour-bath", "H5", by="tim", container="K1")
    events = bench.whole_cycle("B2", "H5")
    own = [e for e in events if e.kind == "receive" or e.refs.get("cycle")]
    document = summarise(own, "UTC", {e.id: e for e in bench.events if e.kind == "pour-bath"})
    bath = next(b for b in document["baths"] if b["kind"] == "disinfectant")
    kept = {"lot": "C-1", "expires": "2027-06-30", "opened": "2026-11-20", "opened_d_max": 75, "reuse_d_max": 14,
            "activated": "2026-11-21", "poured_by": "tim", "last_day": "2026-12-05"}  # fmt: skip
    assert {name: bath[name] for name in kept} == kept and bath["poured"] and bath["container"]
    soak, strip = document["disinfection"]["soaks"][0], document["disinfection"]["strip_tests"][0]
    assert soak["contact_s"] >= 720 and soak["temp_c"] == 21 and soak["started_by"] == "ann"
    assert strip["result"] == "pass" and strip["strip_expires"] == "2030-06-30" and strip["strip_type"] == "OPA 0.3 %"
    names = {column.name for column in CYCLE_COLUMNS}
    assert {"hld_lot", "hld_expires", "hld_opened", "hld_opened_life_d", "hld_activated", "hld_poured_at",
            "hld_reuse_life_d", "contact_proven_s", "contact_temp_start_c", "disinfected_by", "strip_result",
            "strip_expires"} <= names  # fmt: skip
