"""Checking protocol, chemistry and limit files for the people who write them."""

from __future__ import annotations

from protocols.durations import read_durations
from protocols.errors import Finding, ProtocolFault
from protocols.limits import read_limits
from protocols.load import parsed, read_claims, read_protocol


def check_file(content: bytes, file: str) -> tuple[list[Finding], str]:
    """Promise every fault of a protocol, chemistry or limit file, and what kind of file it is."""
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        remedy = "save it as UTF-8 text"
        return [Finding(file, f"byte {error.start}", "it is not UTF-8 text", remedy)], "not a text"
    kind = _kind(text)
    try:
        if kind == "chemistry claims":
            return [], f"{len(read_claims(text, file))} {kind}"
        if kind == "limit sets":
            return [], f"{len(read_limits(text, file).sets)} {kind}"
        if kind == "hand times":
            return [], f"{len(read_durations(text, file).guesses)} {kind}"
        protocol = read_protocol(text, file)
        return [], f"protocol {protocol.id}, {len(protocol.steps)} steps"
    except ProtocolFault as fault:
        return fault.findings, kind


def _kind(text: str) -> str:
    try:
        top = parsed(text, "").data
    except ProtocolFault:
        return "a protocol"
    kinds = {"claim": "chemistry claims", "limit": "limit sets", "hands": "hand times"}
    return next((kind for key, kind in kinds.items() if key in top), "a protocol")
