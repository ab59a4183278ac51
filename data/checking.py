"""Checking protocol and chemistry files for the people who write them."""

from __future__ import annotations

import tomllib

from protocols.errors import Finding, ProtocolFault
from protocols.load import read_claims, read_protocol


def check_file(content: bytes, file: str) -> tuple[list[Finding], str]:
    """Promise every fault of a protocol or chemistry file, and what kind of file it is."""
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        remedy = "save it as UTF-8 text"
        return [Finding(file, f"byte {error.start}", "it is not UTF-8 text", remedy)], "not a text"
    chemistries = _holds_claims(text)
    try:
        if chemistries:
            claims = read_claims(text, file)
            return [], f"{len(claims)} chemistry claims"
        protocol = read_protocol(text, file)
        return [], f"protocol {protocol.id}, {len(protocol.steps)} steps"
    except ProtocolFault as fault:
        return fault.findings, "chemistry claims" if chemistries else "a protocol"


def _holds_claims(text: str) -> bool:
    try:
        return "claim" in tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False
