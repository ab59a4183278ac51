"""The texts a decision may consult: protocols by content hash, shipped protocols by id, claims and limit sets by id.

What is shipped is parsed when it is first asked for: a start waits only for the protocols of the scopes on its bench.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from hashlib import sha256

from protocols.errors import Defect
from protocols.limits import Limits, read_limits
from protocols.load import read_claims, read_protocol
from protocols.model import Claim, Protocol


class Shelf:
    """Texts and what was read from them, kept for the life of the process. Holds no state of the unit.

    Threads may ask at the same time; at worst one text is then parsed twice, to equal protocols.
    """

    def __init__(
        self, protocol_texts: Mapping[str, str], claims_text: str, claims_file: str = "chemistries.toml",
        limits_text: str = "", limits_file: str = "limits.toml",
    ) -> None:  # fmt: skip
        """`protocol_texts` maps file names to TOML texts; without `limits_text` there is no limit set to choose.

        A faulty text raises ProtocolFault when it is first needed.
        """
        self._parsed: dict[str, Protocol] = {}
        self._shipped_files = {sha256(text.encode()).hexdigest(): file for file, text in protocol_texts.items()}
        self._texts: dict[str, str] = {sha256(text.encode()).hexdigest(): text for text in protocol_texts.values()}
        self._claims = (claims_text, claims_file)
        self._limits = (limits_text, limits_file)

    @cached_property
    def claims(self) -> Mapping[str, Claim]:
        """Promise the shipped claims by id."""
        return read_claims(*self._claims)

    @cached_property
    def limits(self) -> Limits:
        """Promise the shipped limit sets."""
        return read_limits(*self._limits) if self._limits[0] else Limits({}, {})

    @cached_property
    def shipped(self) -> Mapping[str, str]:
        """Promise the content hash of each shipped protocol by its id, in the order given."""
        return {self.protocol(sha).id: sha for sha in self._shipped_files}

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
        if found is not None:
            return found
        if sha256 not in self._texts:
            raise Defect(f"the protocol text {sha256[:12]} is in use but not on the shelf")
        return self.read(self._texts[sha256], self._shipped_files.get(sha256, "stored text"))

    def text(self, sha256: str) -> str:
        return self._texts[sha256]

    def holds(self, sha256: str) -> bool:
        return sha256 in self._texts
