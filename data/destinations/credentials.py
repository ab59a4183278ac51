"""Who asks a server: a name and a password, in memory only."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Credentials:
    """Name and password for a server; both empty for none. They are never written down, and never shown."""

    user: str = ""
    password: str = ""

    def __repr__(self) -> str:
        return "Credentials(...)"

    def header(self) -> dict[str, str]:
        """Promise the header of RFC 7617 (Basic), in UTF-8, or none."""
        if not self.user:
            return {}
        return {"Authorization": "Basic " + b64encode(f"{self.user}:{self.password}".encode()).decode()}
