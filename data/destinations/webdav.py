"""A WebDAV server (RFC 4918) as destination: MKCOL, PUT, GET, MOVE and DELETE over TLS."""

from __future__ import annotations

from urllib.parse import quote, unquote, urlsplit
from xml.etree import ElementTree

from data.destinations.credentials import Credentials
from data.destinations.errors import DeliveryError
from data.destinations.web import SILENCE_S, Answer, Web
from data.disk import checked_path

# RFC 4918: 9.3 (MKCOL: 405 where something is there already), 9.7 (PUT), 9.9 (MOVE: 412 where Overwrite is F and
# something is there), 9.6 (DELETE); 507 is "no space left" (11.5), 423 "locked" (11.3).
_REMEDIES = {507: "it has no space left; free some there", 423: "somebody holds it locked there", 409: "a folder is "
             "missing there"}  # fmt: skip


# What a folder holds is asked for by name only (RFC 4918, 9.1); nothing larger than this is taken for an answer.
_ASKED = b'<?xml version="1.0" encoding="utf-8"?><propfind xmlns="DAV:"><prop><resourcetype/></prop></propfind>'
LISTING_BYTES_MAX = 1_000_000


def listed(body: bytes, url: str) -> list[str]:
    """Promise the names in a PROPFIND answer about the folder `url`, in order.

    Raises DeliveryError for what is no such answer, entities and longer ones included: a listing needs none.
    """
    if len(body) > LISTING_BYTES_MAX or b"<!" in body.replace(b"<![CDATA[", b""):
        raise DeliveryError("the server's listing is too long or not plain; ask whoever keeps the server")
    try:
        hrefs = [str(one.text or "") for one in ElementTree.fromstring(body).iter("{DAV:}href")]
        found = [unquote(urlsplit(href).path) for href in hrefs]
    except (ElementTree.ParseError, ValueError) as error:
        raise DeliveryError(f"the server's listing can't be read ({error}); ask whoever keeps it") from error
    base, names = unquote(url).rstrip("/") + "/", set()
    for path in found:
        name = path.removeprefix(base).strip("/") if path.startswith(base) else ""
        if name and "/" not in name:
            names.add(name)
    return sorted(names)


class WebDavDestination:
    """A folder of a WebDAV server, by its https address. The folder itself must be there."""

    def __init__(
        self, address: str, credentials: Credentials, certificates: str = "", silence_s: float = SILENCE_S
    ) -> None:
        """Raises CommandFault for an address that is not https, or certificates that can't be read."""
        self._web = Web(address, credentials, certificates, silence_s)

    @property
    def label(self) -> str:
        return self._web.address

    def read(self, path: str, bytes_max: int) -> bytes | None:
        answer = self._web.ask("GET", self._url(path), bytes_max=bytes_max)
        if answer.status == 404:
            return None
        self._require(answer, "reading", path, (200,))
        return answer.body

    def names(self, path: str) -> list[str]:
        url = (self._url(path) if path else self._web.path) + "/"
        headers = {"Depth": "1", "Content-Type": "application/xml"}
        answer = self._web.ask("PROPFIND", url, _ASKED, headers, LISTING_BYTES_MAX)
        if answer.status == 404:
            return []
        self._require(answer, "looking into", path or "it", (207,))
        return listed(answer.body, url)

    def write(self, path: str, content: bytes) -> None:
        headers = {"Content-Type": "application/octet-stream"}
        self._require(self._web.ask("PUT", self._url(path), content, headers), "writing", path, (200, 201, 204))

    def make_folder(self, path: str) -> None:
        parts = path.split("/")
        for depth in range(1, len(parts) + 1):
            part = "/".join(parts[:depth])
            self._require(self._web.ask("MKCOL", self._url(part) + "/"), "making", part, (201, 405))

    def rename(self, path: str, new: str) -> None:
        base = self._web.address.removesuffix(self._web.path)
        headers = {"Destination": f"{base}{self._url(new)}/", "Overwrite": "F", "Depth": "infinity"}
        self._require(self._web.ask("MOVE", self._url(path) + "/", None, headers), "renaming", path, (201, 204))

    def remove(self, path: str) -> None:
        answer = self._web.ask("DELETE", self._url(path) + "/", None, {"Depth": "infinity"})
        self._require(answer, "removing", path, (200, 204, 404))

    def close(self) -> None:
        self._web.close()

    def _url(self, path: str) -> str:
        return f"{self._web.path}/{quote(checked_path(path), safe='/')}"

    def _require(self, answer: Answer, doing: str, path: str, fine: tuple[int, ...]) -> None:
        if answer.status not in fine:
            remedy = _REMEDIES.get(answer.status, "send again, or ask whoever keeps the server")
            raise DeliveryError(f"{doing} {path} at {self.label}: the server says {answer.status}; {remedy}")
