"""One HTTP request after another over TLS, with the standard library alone: what a handheld surely has.

The server's certificate is always checked, against the system's list or a file given for it; nothing, credentials
least of all, is sent before that. Redirections are not followed: they would carry credentials elsewhere.
"""

from __future__ import annotations

import http.client
import re
import ssl
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote, urlsplit

from data.destinations.credentials import Credentials
from data.destinations.errors import CertificateRefused, CredentialsRefused, DeliveryError, DestinationAway
from protocols.errors import CommandFault

_PEM = re.compile(r"-----BEGIN CERTIFICATE-----.+?-----END CERTIFICATE-----", re.DOTALL)
# Longest silence of the server before a request counts as failed (our choice).
SILENCE_S = 30.0
# What a server may say besides files; more than this is not read.
_ANSWER_BYTES_MAX = 1_000_000


class Answer(NamedTuple):
    """Status and body of an answer; the body is cut to what was asked for."""

    status: int
    body: bytes


class Web:
    """Requests to one https server. A connection that the server closed while it lay idle is opened again once."""

    def __init__(
        self, address: str, credentials: Credentials, certificates: str = "", silence_s: float = SILENCE_S,
        connect: Callable[..., http.client.HTTPSConnection] = http.client.HTTPSConnection,
    ) -> None:  # fmt: skip
        """Promise a server at an https address. Raises CommandFault for an address that can't be one."""
        try:
            parts = urlsplit(address)
            host, port = parts.hostname or "", parts.port or 443
        except ValueError as error:
            raise CommandFault("the address can't be read; write it like https://server/folder") from error
        if parts.scheme != "https" or not host or parts.query or parts.fragment:
            raise CommandFault("the address is not like https://server/folder")
        if parts.username is not None or parts.password is not None:
            raise CommandFault("the address holds a name or password; leave it out, it is asked for and never kept")
        self.host, self.port, self.path = host, port, quote(parts.path.rstrip("/"), safe="/%")
        self._credentials = credentials
        self._silence_s = silence_s
        self._connect = connect
        self._context = _context(certificates)
        self._connection: http.client.HTTPSConnection | None = None

    @property
    def address(self) -> str:
        """Promise the address without credentials."""
        shown = f"[{self.host}]" if ":" in self.host else self.host
        return f"https://{shown}{'' if self.port == 443 else f':{self.port}'}{self.path}"

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None,
        bytes_max: int = _ANSWER_BYTES_MAX,
    ) -> Answer:  # fmt: skip
        """Promise the answer to one request, its body cut to `bytes_max` and one byte more.

        Raises DestinationAway, CertificateRefused, CredentialsRefused or DeliveryError.
        """
        idle = self._connection is not None
        try:
            return self._ask(method, path, body, headers or {}, bytes_max)
        except (http.client.RemoteDisconnected, ConnectionError) as error:
            self.close()
            if not idle:
                raise DestinationAway(f"{self.address} ended the connection ({error}); send again") from error
        except (OSError, http.client.HTTPException, ValueError) as error:
            self.close()
            raise self._failed(method, error) from error
        try:
            return self._ask(method, path, body, headers or {}, bytes_max)
        except (OSError, http.client.HTTPException, ValueError) as error:
            self.close()
            raise self._failed(method, error) from error

    def close(self) -> None:
        if self._connection is not None:
            with suppress(OSError):
                self._connection.close()
            self._connection = None

    def _ask(
        self, method: str, path: str, body: bytes | None, headers: Mapping[str, str], bytes_max: int
    ) -> Answer:  # fmt: skip
        if self._connection is None:
            self._connection = self._connect(self.host, self.port, timeout=self._silence_s, context=self._context)
            self._connection.connect()  # the certificate is checked here, before anything is said
        self._connection.request(method, path, body, {**self._credentials.header(), **headers})
        response = self._connection.getresponse()
        content = response.read(bytes_max + 1)
        if len(content) > bytes_max or response.read(1):
            self.close()  # more would follow; a new connection is cheaper than reading it
        if response.status == 403:
            # Who it is may be right: what is asked is not allowed to them, as where the place is read-only.
            raise CredentialsRefused(
                f"{self.address} says 403 to {method}: this name may not do that there; give another name and "
                "password, or ask whoever keeps the server to let this one write"
            )
        if response.status in (401, 407):
            raise CredentialsRefused(f"{self.address} says {response.status} to {method}; give name and password again")
        return Answer(response.status, content)

    def _failed(self, method: str, error: Exception) -> DeliveryError:
        if isinstance(error, ssl.SSLCertVerificationError):
            return CertificateRefused(
                f"{self.address} can't prove who it is ({error.verify_message}); nothing was sent: ask the unit's IT "
                "for its certificate and give that file, or correct the address"
            )
        if isinstance(error, ssl.SSLError):
            return CertificateRefused(f"no safe connection to {self.address} ({error.reason or error}); nothing sent")
        if isinstance(error, TimeoutError):
            return DestinationAway(f"{self.address} said nothing for {self._silence_s:g} s; send again later")
        return DestinationAway(f"{method} at {self.address} failed ({error}); send again when it can be reached")


# Where Android keeps the certificates that it trusts, a file each: since Android 14, and before (from memory). Python's
# own list is empty there. What a person added by hand lies elsewhere and is not read: its file can be named instead.
_OF_ANDROID = ("/apex/com.android.conscrypt/cacerts", "/system/etc/security/cacerts")


def system_certificates(folders: Sequence[str | Path]) -> str | None:
    """Promise the certificates in the first of these folders that is there, as one text (PEM); None where none is."""
    for folder in map(Path, folders):
        if folder.is_dir():
            texts = [path.read_text("ascii", "ignore") for path in sorted(folder.iterdir()) if path.is_file()]
            # Readable text may stand around a certificate.
            return "\n".join(found for text in texts for found in _PEM.findall(text)) or None
    return None


def _context(certificates: str) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(
            cafile=certificates or None, cadata=None if certificates else system_certificates(_OF_ANDROID)
        )
    except (OSError, ssl.SSLError) as error:
        raise CommandFault(f"{certificates} holds no certificates that can be read ({error})") from error
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context
