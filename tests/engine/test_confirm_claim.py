"""A claim that rests on memory is enabled only by a lead who types the label's figures anew, and never made laxer."""

from __future__ import annotations

from typing import Any

import pytest
from driver import TODAY, Bench
from load_cases import at_top
from odd_protocols import odd

LABEL: dict[str, Any] = {"label": "insert, revision 4", "by_hand": True}
GLUT = {**LABEL, "contact_s": 5400, "temp_c": 25, "reuse_d": 28, "mec_pct": 1.8}
POUR = {"kind": "disinfectant", "lot": "L", "expires": "2027-06-30", "opened": TODAY, "activated": TODAY}


def test_a_memory_row_can_be_poured_once_confirmed_with_the_labels_figures() -> None:
    bench = Bench()
    bench.checked_refusal("not-enabled", "pour-bath", "H8", **POUR, claim="glut-34-25c")
    bench.checked_refusal("lead-only", "confirm-claim", "glut-34-25c", by="tim", **GLUT)
    label = {**GLUT, "reuse_d": 21, "strip_type": "glut 1.8", "opened_d": 90}
    event = bench.must("confirm-claim", "glut-34-25c", **label)
    assert event.data["row"]["reuse_d_max"] == {"value": 28, "source": "FDA list", "how": "memory"}
    bath = bench.must("pour-bath", "H8", **POUR, claim="glut-34-25c").data
    assert (bath["bath"]["contact_s_min"], bath["bath"]["reuse_d_max"], bath["bath"]["opened_d_max"]) == (5400, 21, 90)
    source = f"label read by ann on {TODAY}: insert, revision 4"
    assert bath["sources"]["reuse_d_max"] == {"source": source, "how": "IFU"}
    assert bath["bath"]["strip_type"] == "glut 1.8"
    bench.checked_refusal("no-change", "confirm-claim", "glut-34-25c", **label)
    bench.must("confirm-claim", "glut-34-25c", **GLUT)  # a new label; the bath keeps what it was poured with
    assert bench.bath("H8").reuse_d_max == 21


def test_every_figure_from_memory_is_typed_anew() -> None:
    bench = Bench()
    for name in ("contact_s", "temp_c", "reuse_d", "mec_pct"):
        given = {key: value for key, value in GLUT.items() if key != name}
        no = bench.checked_refusal("label-figures", "confirm-claim", "glut-34-25c", **given)
        assert name in no.why
    for by_hand in ({}, {"by_hand": False}):
        given = {**{k: v for k, v in GLUT.items() if k != "by_hand"}, **by_hand}
        bench.checked_refusal("not-by-hand", "confirm-claim", "glut-34-25c", **given)
    bench.must("confirm-claim", "glut-34-isopropanol-26", **LABEL, contact_s=600, temp_c=20, reuse_d=14)
    bench.must("confirm-claim", "paa-3100-ppm", **LABEL, contact_s=420, temp_c=20, reuse_d=5)


@pytest.mark.parametrize(
    ("name", "stricter", "laxer"),
    [("contact_s", 721, 719), ("temp_c", 21, 19.5), ("reuse_d", 13, 15), ("opened_d", 74, 76), ("mec_pct", 0.31, 0.29)],
)
def test_a_read_row_can_be_made_stricter_never_laxer(name: str, stricter: float, laxer: float) -> None:
    # CDC-T4: OPA 0.55 % 12 min, 20 °C, 14 days, 0.3 %; LBL3: 75 days.
    bench = Bench()
    row = {**LABEL, "contact_s": 720, "temp_c": 20, "reuse_d": 14}
    no = bench.checked_refusal("label-differs", "confirm-claim", "opa-055-20c", **{**row, name: laxer})
    assert f"{laxer:g} is laxer than the row's" in no.why
    bench.must("confirm-claim", "opa-055-20c", **{**row, name: stricter})


def test_no_label_makes_a_manual_soak_of_what_is_not_one() -> None:
    bench = Bench()
    for claim in ("opa-055-25c-machine", "paa-02-sterilant", "clo2-320-ppm-foam", "super-oxidised-144"):
        bench.checked_refusal("not-manual", "confirm-claim", claim, **GLUT)
    bench.checked_refusal("unknown-claim", "confirm-claim", "soup", **GLUT)


def test_single_use_or_a_reuse_life_as_the_label_says() -> None:
    bench = odd(at_top('claims = ["opa-055-20c"]\n', ""))
    row = {**LABEL, "contact_s": 600, "temp_c": 20}
    bench.checked_refusal("label-both", "confirm-claim", "hocl-400-ppm", **row, single_use=True, reuse_d=1)
    bench.must("confirm-claim", "hocl-400-ppm", **row, single_use=True)
    bench.pour("H8", "hocl-400-ppm")
    assert bench.bath("H8").single_use and bench.bath("H8").reuse_d_max is None
    bench.must("confirm-claim", "hocl-400-ppm", **row, reuse_d=2)
    bench.pour("H9", "hocl-400-ppm")
    assert not bench.bath("H9").single_use and bench.bath("H9").reuse_d_max == 2
    bench.take_to("X1", "hld")
    bench.strip("X1", "H9")
    bench.must("start", "X1", **bench.start_values("X1", "H9"))


def test_a_protocol_may_name_a_claim_once_it_is_confirmed() -> None:
    text = at_top('"opa-055-20c"', '"glut-34-25c"')
    bench = Bench()
    bench.checked_refusal("protocol-fault", "adopt-protocol", "good", toml=text)
    bench.must("confirm-claim", "glut-34-25c", **GLUT)
    bench.must("adopt-protocol", "good", toml=text)


def test_the_window_of_the_claims_strips_holds_where_the_bottle_names_none() -> None:
    # The window is invented: no label was read.
    bench = Bench()
    row = {**LABEL, "contact_s": 720, "temp_c": 20, "reuse_d": 14}
    turned = {"strip_read_s_from": 90, "strip_read_s_to": 75}
    bench.checked_refusal("window-order", "confirm-claim", "opa-055-20c", **row, **turned)
    bench.checked_refusal("window-order", "confirm-claim", "opa-055-20c", **{**row, "temp_c": 30}, temp_c_most=25)
    bench.must("confirm-claim", "opa-055-20c", **row, strip_read_s_from=75, strip_read_s_to=90, strip_dip_s=2)
    bench.pour("H5", "opa-055-20c")
    bench.take_to("B2", "disinfectant-soak", "H5")
    strip = {"scope": "B2", "result": "pass", "strip_lot": "S"}
    dipped = bench.must("dip-strip", "H5", scope="B2", strip_lot="S").data
    assert (dipped["dip"]["min_s"], dipped["dip"]["max_s"], dipped["dip_s"]) == (75, 90, 2)
    bench.bottle("S7")  # its label says nothing of either
    bench.wait(1)
    dipped = bench.must("dip-strip", "H5", scope="B2", strip_lot="S7").data
    assert (dipped["dip"]["min_s"], dipped["dip"]["max_s"], dipped["dip_s"]) == (75, 90, 2)
    bench.bottle("S8", dip_s=1, read_s_from=60)  # what the bottle says holds, and a window wholly
    bench.wait(1)
    dipped = bench.must("dip-strip", "H5", scope="B2", strip_lot="S8").data
    assert (dipped["dip"]["min_s"], dipped["dip"]["max_s"], dipped["dip_s"]) == (60, None, 1)
    bench.checked_refusal("needs-read-time", "strip-test", "H5", **strip)
    assert bench.must("strip-test", "H5", **strip, read_after_s=91).data["result"] == "void"
    bench.wait(1)
    bench.bottle("S9", read_s_to=120)
    assert bench.must("strip-test", "H5", **{**strip, "strip_lot": "S9"}, read_after_s=91).data["result"] == "pass"
