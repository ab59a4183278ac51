"""Chemistry claims as they hold for this unit: the shipped row, with what a lead read from the label in hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from protocols.model import Claim, Figure
from protocols.shelf import Shelf
from protocols.stock import Confirmed
from protocols.unit import Unit

# Figures that a lead may retype from a label, by the name of the command's value.
RETYPED = {
    "contact_s": "contact_s_min", "temp_c": "temp_c_min", "temp_c_most": "temp_c_max", "reuse_d": "reuse_d_max",
    "opened_d": "opened_d_max", "mec_pct": "mec_pct", "rinse_times": "rinse_times", "rinse_s": "rinse_s_min",
    "strip_dip_s": "strip_dip_s", "strip_read_s_from": "strip_read_s_min", "strip_read_s_to": "strip_read_s_max",
}  # fmt: skip


def effective(claim: Claim | None, confirmed: Confirmed | None) -> Claim | None:
    """Promise the claim with the label's figures in place of the row's, and enabled, once a lead has confirmed it."""
    if claim is None or confirmed is None:
        return claim
    source = f"label read by {confirmed.by} on {confirmed.day}: {confirmed.label}"
    changes: dict[str, Any] = {name: Figure(value, source, "IFU") for name, value in confirmed.figures.items()}
    if confirmed.single_use:
        changes["reuse_d_max"] = None
    return replace(
        claim, enabled=True, single_use=confirmed.single_use, needs_activation=confirmed.needs_activation,
        strip_type=confirmed.strip_type or claim.strip_type, **changes,
    )  # fmt: skip


def claims_of(unit: Unit, claims: Mapping[str, Claim]) -> dict[str, Claim]:
    """Promise every claim as it holds for the unit."""
    found = {name: effective(claim, unit.claims.get(name)) for name, claim in claims.items()}
    return {name: claim for name, claim in found.items() if claim is not None}


def claim_of(unit: Unit, shelf: Shelf, name: str) -> Claim | None:
    """Promise one claim as it holds for the unit, None for an unknown one."""
    return effective(shelf.claims.get(name), unit.claims.get(name))
