"""Published numbers, held here a second time with their source, against what the shipped files say.

CDC-T4 is Table 4, CDC-T1 is Table 1 of the CDC Guideline for Disinfection and Sterilization in Healthcare
Facilities (2008). ISO limits are those of ISO 15883-5:2021 as listed by a Swedish laboratory (second-hand).
"""

from __future__ import annotations

import pytest

from data.library import shipped_claims_text, shipped_protocol_texts
from protocols.load import read_claims, read_protocol
from protocols.model import Claim, Figure, Limit
from protocols.steps import judge

CLAIMS = read_claims(shipped_claims_text(), "chemistries.toml")
SHELF = [read_protocol(text, name) for name, text in shipped_protocol_texts().items()]
MIN = 60


def value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value


def row(claim: Claim) -> tuple[str, float | None, float | None, float | None, float | None]:
    return (
        claim.use, claim.contact_s_min.value / MIN, value(claim.temp_c_min), value(claim.reuse_d_max),
        value(claim.mec_pct),
    )  # fmt: skip


# claim: (use, minutes, lowest °C, reuse days, MEC %)
PUBLISHED = {
    # CDC-T4: "12 minutes @ 20°C", 14 days, "Yes (0.3% OPA)"
    "opa-055-20c": ("manual", 12, 20, 14, 0.3),
    # CDC-T4: "5 minutes @ 25°C in AER": never by hand
    "opa-055-25c-machine": ("machine", 5, 25, 14, 0.3),
    # Maker's 7-step sheet for OPA 0.575 %: 10 min at 20 °C, "not to exceed 28 days"
    "opa-0575-20c": ("manual", 10, 20, 28, None),
    "opa-0575-25c-machine": ("machine", 5, 25, 28, None),
    # CDC-T4: "30 minutes @ 20°C", "21 days", "Yes (6%)"
    "h2o2-75": ("manual", 30, 20, 21, 6),
    # CDC-T4: "15 minutes @ 20°C", 14 days, MEC column "No"
    "h2o2-paa-735": ("manual", 15, 20, 14, None),
    # CDC-T4: sterilant "12 minutes @ 50-56°C", "Single use"; no high-level disinfection claim
    "paa-02-sterilant": ("sterilant", 12, 50, None, None),
    # CDC recommendations as copied (second-hand): 20 min at 20 °C; CDC-T4: 14-30 days, 1.5 % or higher
    "glut-2-society-20c": ("manual", 20, 20, 14, 1.5),
    # The same page (second-hand): labels from 20 to 90 min at 25 °C
    "glut-2-label-25c": ("manual", 90, 25, 14, 1.5),
    # CDC-T1: "5 minutes at 35°C", heated and automated only
    "glut-25-35c-machine": ("machine", 5, 35, None, 1.5),
    # FDA list of December 2023: "7 min at 20ºC", "5 days Maximum Reuse"
    "paa-3100-ppm": ("manual", 7, 20, 5, None),
    # Infect Dis Clin North Am 2016;30(3):609 Table 1: "2.0% HP (8 min at 20°C)"; 21 days second-hand;
    # MEC from memory
    "h2o2-20-accelerated": ("manual", 8, 20, 21, 1.5),
    # The same table: "8.3% HP with 7.0% PA (5 h)", hours and not minutes
    "h2o2-83-paa-70-sterilant": ("sterilant", 5 * 60, None, None, None),
    # The same table: "(20 min at 25°C)"; 14 days from memory
    "glut-112-phenol-193": ("manual", 20, 25, 14, None),
    # The same table: "(10 min at 20°C)"
    "glut-34-isopropanol-26": ("manual", 10, 20, None, None),
    # The same table: "1.0% HP with 0.08% PA (25 min)"; 20 °C and 14 days from memory
    "h2o2-10-paa-008": ("manual", 25, 20, 14, None),
    # A conference deck of 2004: 45 min at 25 °C (second-hand); 14 days from memory
    "glut-24-25c": ("manual", 45, 25, 14, 1.5),
    # Unsourced (memory): 90 min at 25 °C, 28 days; 1.8 % is a seller's figure for a 28-day product
    "glut-34-25c": ("manual", 90, 25, 28, 1.8),
    # FDA list, copy of 2022: sterilant "6 hrs at 25ºC", "14 days Maximum Reuse"
    "glut-34-isopropanol-201-sterilant": ("sterilant", 6 * 60, 25, 14, None),
    # CDC-T4, sterilisation with the same liquids: 10 h at 20-25 °C, 6 h, 3 h
    "glut-2-sterilant": ("sterilant", 10 * 60, 20, None, None),
    "h2o2-75-sterilant": ("sterilant", 6 * 60, None, None, None),
    "h2o2-paa-735-sterilant": ("sterilant", 3 * 60, None, None, None),
    # FDA list of December 2023: "2 min at 20°C", ultrasound probes only, single use
    "clo2-320-ppm-foam": ("unsuitable", 2, 20, None, None),
    # CDC text as quoted (second-hand): "about 144 mg/L", effective 5 min when at most 48 h old
    "super-oxidised-144": ("unsuitable", 5, None, None, None),
    # Infect Dis Clin North Am 2016: "400–450 ppm chlorine (10 min at 20°C)"; single use from memory
    "hocl-400-ppm": ("manual", 10, 20, None, None),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_claim_is_the_published_row(name: str) -> None:
    assert row(CLAIMS[name]) == PUBLISHED[name]


def test_no_claim_is_shipped_without_a_published_row() -> None:
    assert set(CLAIMS) == set(PUBLISHED)


def test_the_short_opa_time_and_02_percent_paa_are_never_manual() -> None:
    """CDC-T4: 5 min only "in AER"; PAA 0.2 % has no such claim by hand and is automated, single use."""
    opa = [c for c in CLAIMS.values() if c.id.startswith("opa-055") and c.use == "manual"]
    assert [c.contact_s_min.value for c in opa] == [720]
    paa = CLAIMS["paa-02-sterilant"]
    assert paa.use != "manual" and paa.single_use and value(paa.temp_c_max) == 56


def test_second_clocks_of_opened_bottles() -> None:
    """OPA 0.55 %: 75 days (maker's guide); accelerated H2O2 2.0 %: 90 days (audit form, second-hand)."""
    assert value(CLAIMS["opa-055-20c"].opened_d_max) == 75
    assert value(CLAIMS["h2o2-20-accelerated"].opened_d_max) == 90


def test_society_and_label_time_of_glutaraldehyde_are_two_claims() -> None:
    """CDC recommendations as copied: 20 min at 20 °C (societies), up to 90 min at 25 °C (labels)."""
    society, label = CLAIMS["glut-2-society-20c"], CLAIMS["glut-2-label-25c"]
    assert society.contact_s_min != label.contact_s_min and society.temp_c_min != label.temp_c_min
    assert all(c.needs_activation for c in CLAIMS.values() if c.id.startswith("glut-"))


def limits(method: str) -> list[Limit]:
    found = [x for p in SHELF for s in p.steps for x in s.limits if x.method == method]
    assert len(found) >= len(SHELF)
    return found


ISO_15883_5 = [
    ("protein", "µg/cm²", {2.9: "pass", 3.0: "alert", 6.3: "alert", 6.4: "fail"}),
    ("haemoglobin", "µg/cm²", {0.9: "pass", 1.0: "alert", 2.1: "alert", 2.2: "fail"}),
    ("carbohydrate", "µg/cm²", {0.8: "pass", 0.9: "alert", 1.7: "alert", 1.8: "fail"}),
    ("TOC", "µg/cm²", {5.9: "pass", 6: "alert", 11.9: "alert", 12: "fail"}),
    ("ATP amount", "fmol/cm²", {9.9: "pass", 10: "alert", 21.9: "alert", 22: "fail"}),
]


@pytest.mark.parametrize(("method", "unit", "readings"), ISO_15883_5)
def test_readings_by_alert_and_action_level(method: str, unit: str, readings: dict[float, str]) -> None:
    assert limits(method)
    for limit in limits(method):
        assert limit.unit == unit
        assert {reading: judge(limit, reading) for reading in readings} == readings


# Endosc Int Open 2024;12:E68: "<200 relative light units"; BMC Res Notes 2016: "≤100 RLUs" for a sponge kit.
# Its Table 3: soiled 9747, flushed only 6601, fully cleaned 29, after disinfection and storage 14 RLU.
RLU = {
    "meter A (sponge kit)": {100: "pass", 101: "fail", 9747: "fail", 6601: "fail", 29: "pass", 14: "pass"},
    "meter B": {199: "pass", 200: "fail", 9747: "fail", 6601: "fail", 29: "pass", 14: "pass"},
}


def test_rlu_limits_belong_to_their_meter() -> None:
    assert {x.meter for x in limits("ATP")} == set(RLU)
    for limit in limits("ATP"):
        assert limit.unit == "RLU"
        assert {reading: judge(limit, reading) for reading in RLU[limit.meter]} == RLU[limit.meter]


PUBLISHED_STEPS = [
    # TJC 2015 as summarised: rinsed 3 times
    ("final-rinse", "times", 3, "read-2nd"),
    # ANSI/AAMI ST91:2021 as summarised by an association: at least 10 min of air; alcohol 70 to 90 %
    ("drying-air", "soak_s_min", 600, "read-2nd"),
    ("alcohol-flush", "alcohol_pct_min", 70, "read-2nd"),
    ("alcohol-flush", "alcohol_pct_max", 90, "read-2nd"),
    # A trade article: delayed soak up to 10 h, the longest figure read
    ("extended-soak", "soak_s_max", 10 * 3600, "read-2nd"),
]


@pytest.mark.parametrize(("step", "key", "published", "how"), PUBLISHED_STEPS)
def test_a_step_carries_the_published_figure(step: str, key: str, published: float, how: str) -> None:
    found = [getattr(s, key) for p in SHELF for s in p.steps if s.id == step]
    assert len(found) >= 5
    assert {(f.value, f.how) for f in found} == {(published, how)}


def test_delay_and_short_clean_are_the_published_ones() -> None:
    """Multisociety 2021 as summarised: "usually within an hour"; a study: "7 minutes or less"."""
    for protocol in SHELF:
        assert protocol.delay.limit_s_max.value == 60 * MIN
        assert value(protocol.short_clean_s) == 7 * MIN
