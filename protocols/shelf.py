"""The texts a decision may consult: protocols by content hash, shipped protocols by id, claims and limit sets by id."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from protocols.errors import Defect
from protocols.limits import Limits, read_limits
from protocols.load import read_claims, read_protocol
from protocols.model import Claim, Protocol


class Shelf:
    """Parsed texts, kept for the life of the process. Holds no state of the unit."""

    def __init__(
        self, protocol_texts: Mapping[str, str], claims_text: str, claims_file: str = "chemistries.toml",
        limits_text: str = "", limits_file: str = "limits.toml",
    ) -> None:  # fmt: skip
        """`protocol_texts` maps file names to TOML texts; without `limits_text` there is no limit set to choose.

        Raises ProtocolFault when a text is faulty.
        """
        self._texts: dict[str, str] = {}
        self._parsed: dict[str, Protocol] = {}
        self.shipped: dict[str, str] = {}
        self.claims: Mapping[str, Claim] = read_claims(claims_text, claims_file)
        self.limits: Limits = read_limits(limits_text, limits_file) if limits_text else Limits({}, {})
        for file, text in protocol_texts.items():
            protocol = self.read(text, file)
            self.shipped[protocol.id] = protocol.text_sha256

    def read(self, text: str, file: str) -> Protocol:
        """Promise the protocol of that text, parsed once and put on the shelf; ProtocolFault when it is faulty."""
        protocol = read_protocol(text, file)
        self._texts[protocol.text_sha256] = text
        self._parsed[protocol.text_sha256] = protocol
        return protocol

    def add(self, texts: Iterable[str]) -> None:
        """Put stored texts of a record back on the shelf."""
        for text in texts:
            self.read(text, "stored text")

    def protocol(self, sha256: str) -> Protocol:
        """Promise the protocol with that content hash; Defect when its text was never put on the shelf."""
        found = self._parsed.get(sha256)
        if found is None:
            raise Defect(f"the protocol text {sha256[:12]} is in use but not on the shelf")
        return found

    def text(self, sha256: str) -> str:
        return self._texts[sha256]

    def holds(self, sha256: str) -> bool:
        return sha256 in self._parsed
