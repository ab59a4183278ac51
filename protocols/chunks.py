"""A packet of bytes as short texts for QR codes, and back: any order, any repetition, nothing altered.

Only capital letters and digits are used, which QR codes hold most densely and every keyboard wedge sends alike. A text
is: mark, id of the whole (8), index and count (3 digits each, from 1), check (6), then its part of the packet in
base32. The check is over everything else in the text, the id over the whole packet; a text that fails either is told
apart from one of another set. Sizes in characters.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass, field
from hashlib import sha256

MARK = "BASINBELL1"
_ID, _NUMBER, _CHECK = 8, 3, 6
_HEAD = len(MARK) + _ID + 2 * _NUMBER + _CHECK
# A QR code of version 18 at level M holds 816 capital letters and digits (ISO/IEC 18004, table 7): still read from a
# handheld's screen at arm's length. The choice is ours.
CHUNK_LONGEST = 816
# What a packet may become when it is unpacked: a bench of cycles with their histories and texts.
UNPACKED_MOST = 16_777_216


class ChunkFault(ValueError):
    """A text is no whole chunk, or a packet can't be put together; the words say what to do."""


def _letters(digest: bytes, count: int) -> str:
    return base64.b32encode(digest).decode()[:count]


def chunks(packet: bytes, longest: int = CHUNK_LONGEST) -> list[str]:
    """Promise the texts of a packet, each of at most `longest` characters. ChunkFault when it is too long for 999."""
    body = base64.b32encode(zlib.compress(packet, 9)).decode().rstrip("=")
    size = longest - _HEAD
    parts = [body[i : i + size] for i in range(0, len(body), size)]
    if len(parts) > 999:
        raise ChunkFault(f"it would take {len(parts)} codes, 999 is the most; use a file")
    name = _letters(sha256(body.encode()).digest(), _ID)
    return [_sealed(f"{name}{index:03d}{len(parts):03d}", part) for index, part in enumerate(parts, 1)]


def _sealed(head: str, part: str) -> str:
    return f"{MARK}{head}{_letters(sha256(f'{head}{part}'.encode()).digest(), _CHECK)}{part}"


def is_chunk(text: str) -> bool:
    """Promise whether a scanned text says that it is a chunk, whole or not."""
    return text.strip().upper().startswith(MARK)


@dataclass
class Gathering:
    """Chunks read so far, of one packet at a time: one of another packet starts anew."""

    name: str = ""
    count: int = 0
    parts: dict[int, str] = field(default_factory=dict)

    def take(self, text: str) -> None:
        """Count a scanned text in. ChunkFault, and nothing changed, where it is no whole chunk."""
        text = text.strip().upper()
        head, part = text[len(MARK) : _HEAD - _CHECK], text[_HEAD:]
        if not text.startswith(MARK) or not part or text != _sealed(head, part):
            raise ChunkFault("this code was not read whole; read it again")
        name, index, count = head[:_ID], head[_ID : _ID + _NUMBER], head[_ID + _NUMBER :]
        # Other scripts have digits too, and not all of them can be read as a number.
        if not (f"{index}{count}".isascii() and f"{index}{count}".isdigit() and 1 <= int(index) <= int(count)):
            raise ChunkFault("this code is none of a set; read another")
        if (name, int(count)) != (self.name, self.count):
            self.name, self.count, self.parts = name, int(count), {}
        self.parts[int(index)] = part

    @property
    def missing(self) -> list[int]:
        """The numbers of the codes still to be read."""
        return [number for number in range(1, self.count + 1) if number not in self.parts]

    def packet(self) -> bytes:
        """Promise the packet once nothing is missing. ChunkFault where it is not the one that was cut up."""
        body = "".join(self.parts[number] for number in sorted(self.parts))
        if self.missing or not self.count or _letters(sha256(body.encode()).digest(), _ID) != self.name:
            raise ChunkFault("the codes do not make one whole; read all of them again")
        try:
            unpacker = zlib.decompressobj()
            packet = unpacker.decompress(base64.b32decode(body + "=" * (-len(body) % 8)), UNPACKED_MOST)
        except (ValueError, zlib.error) as error:
            raise ChunkFault("the codes do not make one whole; read all of them again") from error
        if not unpacker.eof:
            raise ChunkFault("what the codes hold is too long; use a file")
        return packet
