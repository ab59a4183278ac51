"""One line of the journal: an event, its place in the chain, and its hash.

The body is the canonical JSON of the envelope, the hash of the line before (`prev`) included. The line on disk is the
body with one more member at its very end:

    {"boot":...,"prev":"<64 hex>",...,"wall":"..."}                          the body, which is hashed (SHA-256)
    {"boot":...,"prev":"<64 hex>",...,"wall":"...","hash":"<64 hex>"}\\n      the line

The tail is always 76 bytes long, so checking a line means hashing all bytes before the tail and a closing brace:
nothing is parsed or written again. To check a line with other tools: read the JSON object, take `hash` out, write the
rest by RFC 8785, take SHA-256.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any, NamedTuple

from data.canonical import canonical, canonical_text, quote
from protocols.errors import Defect, RecordDamaged

# What stands as `prev` in the first line of a record.
NO_LINE_BEFORE = "0" * 64

_TAIL_START = b',"hash":"'
_TAIL_END = b'"}\n'
TAIL_LENGTH = len(_TAIL_START) + 64 + len(_TAIL_END)
_PREV_MARK = b',"prev":"'


# What whoever appends hands in; the journal adds seq and prev.
FIELDS = frozenset(("v", "device", "kind", "subject", "refs", "elapsed", "wall", "boot", "by", "data"))

# Copied for each hash: making one anew looks the algorithm up again, which takes longer than hashing a line.
begin_hash = sha256().copy


def sha256_text(data: bytes) -> str:
    """Promise the SHA-256 of some bytes as 64 hex digits."""
    state = begin_hash()
    state.update(data)
    return state.hexdigest()


def seal(envelope: dict[str, Any]) -> tuple[bytes, str]:
    """Promise the line for an envelope, with its line end, and the line's hash (64 hex).

    The envelope holds `FIELDS`, `seq` and `prev`, nothing else: v, elapsed and seq are int, refs and data dict, the
    rest str. Raises Defect for another shape, a value that `canonical` refuses, or refs that would hide `prev`.
    """
    try:
        body = _body(envelope)
    except (KeyError, TypeError, UnicodeEncodeError, RecursionError) as error:
        canonical(envelope)  # names the spot where a value is at fault
        raise Defect(f"an envelope of another shape can't be recorded ({error!r}): {sorted(envelope)}") from error
    # Checked before it is written, not only when it is read: a "prev" further right would hide the envelope's own.
    if len(envelope) != len(FIELDS) + 2 or _prev_in(body, 0, len(body)) != envelope["prev"].encode():
        raise Defect(f"an envelope has {len(FIELDS) + 2} members, and refs has no prev: {sorted(envelope)}")
    digest = sha256_text(body)
    return b"".join((body[:-1], _TAIL_START, digest.encode(), _TAIL_END)), digest


def _body(envelope: dict[str, Any]) -> bytes:
    """What `canonical` gives for an envelope, in half its time: the order of the members is known."""
    v, elapsed, seq = envelope["v"], envelope["elapsed"], envelope["seq"]
    if not type(v) is type(elapsed) is type(seq) is int:
        raise TypeError("v, elapsed and seq are int")
    return (
        f'{{"boot":{quote(envelope["boot"])},"by":{quote(envelope["by"])},"data":{canonical_text(envelope["data"])},'
        f'"device":{quote(envelope["device"])},"elapsed":{elapsed},"kind":{quote(envelope["kind"])},'
        f'"prev":{quote(envelope["prev"])},"refs":{canonical_text(envelope["refs"])},"seq":{seq},'
        f'"subject":{quote(envelope["subject"])},"v":{v},"wall":{quote(envelope["wall"])}}}'
    ).encode()


def open_line(line: bytes, prev: str | None, seq: int | None) -> dict[str, Any]:
    """Promise the envelope of one line, with `hash`, once everything about it fits.

    `prev` and `seq` are what the line must carry; None takes the line's own, for the first line of a stretch whose
    start is known by other means. Raises RecordDamaged saying what differs.
    """
    digest = _checked_hash(line, 0, len(line))
    if digest is None:
        raise RecordDamaged(_what_differs(line))
    try:
        envelope = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise RecordDamaged(f"its hash fits but it is not JSON ({error})") from error
    if not isinstance(envelope, dict) or envelope.get("hash") != digest.decode():
        raise RecordDamaged("its hash fits but it is not an object that ends with it")
    if type(envelope.get("seq")) is not int or (seq is not None and envelope["seq"] != seq):
        raise RecordDamaged(f"its seq is {envelope.get('seq')!r}, the line before calls for {seq}")
    if type(envelope.get("prev")) is not str or (prev is not None and envelope["prev"] != prev):
        raise RecordDamaged(f"its prev is {envelope.get('prev')!r}, the line before has the hash {prev}")
    return envelope


def first_line(data: bytes) -> bytes:
    """Promise the first whole line of some bytes with its line end, b"" where there is none."""
    return data[: data.find(b"\n") + 1]


def last_line(data: bytes) -> bytes:
    """Promise the last line of bytes that end with a line end."""
    return data[data.rfind(b"\n", 0, len(data) - 1) + 1 :]


class Chain(NamedTuple):
    """How far the lines of a stretch of bytes follow each other: their number, their bytes, and the last one's hash.

    `fault` says what is wrong with the line after those, or is None when there is none.
    """

    lines: int
    size: int
    hash: str | None
    fault: str | None


def follow_chain(data: bytes, prev: str | None) -> Chain:
    """Promise how far the lines of `data` are whole and follow each other; never raises.

    The quick way through a record: each line's hash and `prev` without reading any JSON, so `seq` is covered only by
    the hashes. `prev` is the hash before the first line, or None to take that line's own.
    """
    expected = None if prev is None else prev.encode()
    start, count, fault = 0, 0, None
    # Spelled out, for calling `_checked_hash` and `_prev_in` on each line takes longer than hashing it.
    while start < len(data):
        end = data.find(b"\n", start) + 1 or len(data)
        tail = end - TAIL_LENGTH
        state = begin_hash()
        state.update(data[start:tail])
        state.update(b"}")
        digest = state.hexdigest().encode()
        if tail <= start or data[tail:end] != b',"hash":"%b"}\n' % digest:
            fault = _what_differs(data[start:end])
            break
        mark = data.rfind(_PREV_MARK, start, tail)
        found = data[mark + len(_PREV_MARK) : mark + len(_PREV_MARK) + 64]
        if mark < 0 or (found != expected and expected is not None):
            fault = f"its prev is {_text(found) if mark >= 0 else None}, the line before has the hash {_text(expected)}"
            break
        expected = digest
        start = end
        count += 1
    return Chain(count, start, _text(expected), fault)


def _text(digest: bytes | None) -> str | None:
    return None if digest is None else digest.decode("ascii", "replace")


def _checked_hash(data: bytes, start: int, end: int) -> bytes | None:
    """The hash in the tail of the line at [start:end] when it is that of the body, else None."""
    tail = end - TAIL_LENGTH
    digest = sha256_text(data[start:tail] + b"}").encode()
    # One comparison of the whole tail covers its member name, its hash, its brace and its line end.
    if data[tail:end] == b"".join((_TAIL_START, digest, _TAIL_END)) and tail > start:
        return digest
    return None


def _prev_in(data: bytes, start: int, end: int) -> bytes | None:
    # In canonical order only refs, seq, subject, v and wall come after prev, so the last mark is the envelope's own;
    # within a text a quote is escaped and can't make one.
    mark = data.rfind(_PREV_MARK, start, end)
    return None if mark < 0 else data[mark + len(_PREV_MARK) : mark + len(_PREV_MARK) + 64]


def _what_differs(line: bytes) -> str:
    if not line.endswith(b"\n"):
        return f"it has no line end after {len(line)} bytes"
    start = len(line) - TAIL_LENGTH
    if start < 1 or not line[start:].startswith(_TAIL_START) or not line.endswith(_TAIL_END):
        return f"its {len(line)} bytes do not end with a hash"
    held = line[start + len(_TAIL_START) : -len(_TAIL_END)]
    return f"it holds the hash {_text(held)}, its bytes have {sha256_text(line[:start] + b'}')}"
