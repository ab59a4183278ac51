"""The loader's rules on claims, broken one at a time, and on the claims that a protocol names."""

from __future__ import annotations

import pytest
from load_cases import FIGURE, GOOD, fig

from protocols.errors import ProtocolFault
from protocols.load import read_claims, read_protocol
from protocols.rules import claim_findings

CLAIM = '[[claim]]\nid = "a-1"\ntitle = "A"\nuse = "manual"\n' + "".join(
    fig(name, value) for name, value in [("contact_s_min", 720), ("temp_c_min", 20), ("reuse_d_max", 14)]
)
MEMORY = '{ value = 14, source = "none", how = "memory" }'
CLAIM_FAULTS = [
    (
        CLAIM.replace('"manual"', '"by hand"'),
        'use: "by hand" is not known; use one of: manual, machine, sterilant, unsuitable',
    ),
    (
        CLAIM.replace(fig("contact_s_min", 720), ""),
        'contact_s_min: is missing; write { value = 600, source = "where it stands", how = "IFU" }',
    ),
    (CLAIM + fig("temp_c_max", 19), "temp_c_max: 19 is below temp_c_min 20; mend one of the two"),
    (CLAIM + "single_use = true\n", "reuse_d_max: stands beside single_use; keep one of the two"),
    (
        CLAIM.replace(fig("temp_c_min", 20), ""),
        "temp_c_min: is missing; a manual claim needs the lowest temperature of its label",
    ),
    (
        CLAIM.replace(fig("reuse_d_max", 14), ""),
        "reuse_d_max: is missing; give the reuse life of the label, or single_use = true",
    ),
    (
        CLAIM.replace(FIGURE % 14, MEMORY),
        "reuse_d_max: rests on memory, yet the claim is enabled; "
        'confirm it against the label and write how = "IFU", or write enabled = false',
    ),
    (CLAIM + "mec = 1\n", 'mec: is not a key that is known here; did you mean "mec_pct"?'),
]


@pytest.mark.parametrize(("text", "expected"), CLAIM_FAULTS)
def test_a_claim_that_breaks_one_rule(text: str, expected: str) -> None:
    with pytest.raises(ProtocolFault) as caught:
        read_claims(text, "c.toml")
    assert [str(f) for f in caught.value.findings] == [f'c.toml: claim[1] "a-1".{expected}']


def test_claims_are_read_in_order_and_only_once_each() -> None:
    read = read_claims(CLAIM + CLAIM.replace("a-1", "a-2") + "enabled = false\n", "c.toml")
    assert list(read) == ["a-1", "a-2"] and read["a-1"].enabled and not read["a-2"].enabled
    with pytest.raises(ProtocolFault) as caught:
        read_claims(CLAIM + CLAIM, "c.toml")
    assert str(caught.value) == 'c.toml: claim[2] "a-1".id: stands there twice; give each claim its own id'


def test_a_disabled_claim_may_rest_on_memory() -> None:
    read = read_claims(CLAIM.replace(FIGURE % 14, MEMORY) + "enabled = false\n", "c.toml")
    assert read["a-1"].reuse_d_max is not None and read["a-1"].reuse_d_max.how == "memory"


@pytest.mark.parametrize(
    ("claims", "expected"),
    [
        (CLAIM, '"opa-055-20c": is not among the chemistries; use one of: a-1'),
        (CLAIM.replace("a-1", "opa-055-20c").replace("manual", "machine"),
         '"opa-055-20c": is a machine claim; a manual soak needs a manual claim'),
        (CLAIM.replace("a-1", "opa-055-20c") + "enabled = false\n",
         '"opa-055-20c": is not enabled; confirm it against the label first, or take it out'),
    ],
)  # fmt: skip
def test_a_protocol_names_only_claims_for_a_manual_soak(claims: str, expected: str) -> None:
    found = claim_findings(read_protocol(GOOD, "f.toml"), read_claims(claims, "c.toml"), "f.toml")
    assert [str(f) for f in found] == [f"f.toml: claims {expected}"]
    good = read_claims(CLAIM.replace("a-1", "opa-055-20c"), "c.toml")
    assert claim_findings(read_protocol(GOOD, "f.toml"), good, "f.toml") == []
