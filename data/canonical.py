"""One spelling for every value: the bytes that are hashed.

RFC 8785 (JSON Canonicalization Scheme) over the values that a record holds: text, whole numbers that every reader
holds exactly, finite numbers, true, false, null, lists, and objects with text as keys. Python's own encoder, written
in C, already writes almost that; `_plain` finds the few values where it does not, and only those go through the slow
writer below it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from protocols.errors import Defect

# Largest whole number that an IEEE double, and so every JSON reader, holds without loss. Source: RFC 8785, 3.2.2.3.
WHOLE_MAX = 2**53 - 1

# Beyond these bounds Python and ECMAScript spell a float differently: Python goes over to an exponent below 1e-4 and
# from 1e16 on. Source of ECMAScript's rule: RFC 8785, 3.2.2.3.
_PLAIN_MIN, _PLAIN_MAX = 1e-4, 1e15

# Writes one text with its quotes, as RFC 8785, 3.2.2.2 wants it: as it is but for quote, backslash and controls.
quote = json.encoder.encode_basestring


def _encoder() -> Callable[[Any, int], Iterable[str]]:
    # Made once: JSONEncoder.encode makes the same C encoder anew at every call, a third of the time of writing a line.
    make: Any = getattr(json.encoder, "c_make_encoder", None)
    whole = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))
    if make is None:
        return lambda value, _: (whole.encode(value),)
    encoder: Callable[[Any, int], Iterable[str]] = make(None, whole.default, quote, None, ":", ",", True, False, False)
    return encoder


_encode = _encoder()


def canonical(value: object) -> bytes:
    """Promise the one RFC 8785 spelling of a value, as UTF-8 bytes without a line end.

    Takes str, int within +-(2**53-1), finite float, bool, None, list, tuple and dict with str keys, of exactly these
    types. A float with a whole value is written as a whole number. Reading the bytes back and writing them again gives
    the same bytes. Raises Defect for anything else, a lone surrogate included: such a value has to be refused before
    it comes near the record.
    """
    try:
        return canonical_text(value).encode()
    except UnicodeEncodeError as error:
        raise Defect(
            f"text with a lone surrogate {error.object[error.start : error.end]!r} can't be recorded; refuse it"
        ) from error
    except RecursionError as error:
        raise Defect("a value that holds itself, or is nested without end, can't be recorded") from error


def canonical_text(value: object) -> str:
    """Promise what `canonical` promises, as text in which a lone surrogate is still to be found by encoding it."""
    return "".join(_encode(value, 0)) if _plain((value,)) else _write(value, "value")


def _plain(items: Iterable[Any]) -> bool:
    """True when Python's encoder writes all of these as RFC 8785 does; False sends them to the slow writer."""
    for item in items:
        kind = type(item)
        if kind is str:
            continue
        if kind is int:
            if not -WHOLE_MAX <= item <= WHOLE_MAX:
                return False
        elif kind is dict:
            if not _keys_sort_plainly(item) or not _plain(item.values()):
                return False
        elif kind is float:
            if not _PLAIN_MIN <= abs(item) < _PLAIN_MAX or not item % 1:
                return False
        elif kind is list or kind is tuple:
            if not _plain(item):
                return False
        elif item is not None and kind is not bool:
            return False
    return True


def _keys_sort_plainly(value: dict[Any, Any]) -> bool:
    try:
        keys = "".join(value)
    except TypeError:
        return False
    # Order by code point and order by UTF-16 unit part only beyond the basic plane.
    return keys.isascii() or max(keys) <= "\uffff"


def _write(value: Any, where: str) -> str:
    """The slow writer: RFC 8785 spelled out. `where` names the spot in an error."""
    kind = type(value)
    if kind is str:
        return quote(value)
    if value is None:
        return "null"
    if kind is bool:
        return "true" if value else "false"
    if kind is int:
        if not -WHOLE_MAX <= value <= WHOLE_MAX:
            raise Defect(f"{where} is {value}, beyond +-{WHOLE_MAX}; not every reader holds it exactly")
        return str(value)
    if kind is float:
        return _number(value, where)
    if kind is list or kind is tuple:
        return "[" + ",".join([_write(item, f"{where}[{k}]") for k, item in enumerate(value)]) + "]"
    if kind is dict:
        return _write_dict(value, where)
    raise Defect(f"{where} is a {kind.__name__}; a record holds text, numbers, true, false, null, lists and objects")


def _write_dict(value: dict[Any, Any], where: str) -> str:
    for key in value:
        if type(key) is not str:
            raise Defect(f"{where} has the key {key!r}, a {type(key).__name__}; keys are text")
    # "surrogatepass" leaves a lone surrogate to the final encoding, which refuses it in one place for all.
    keys = sorted(value, key=lambda key: key.encode("utf-16-be", "surrogatepass"))
    return "{" + ",".join([f"{quote(key)}:{_write(value[key], f'{where}.{key}')}" for key in keys]) + "}"


def _number(value: float, where: str) -> str:
    """The ECMAScript spelling of a float: the shortest digits that read back, placed by ECMAScript's rules."""
    size = abs(value)
    if not size < float("inf"):
        raise Defect(f"{where} is {value!r}; a record holds finite numbers only")
    if size < 1e21 and value == int(value):
        if size > WHOLE_MAX:
            # It would be read back as a whole number that not every reader holds exactly.
            raise Defect(f"{where} is {value!r}, beyond +-{WHOLE_MAX}; not every reader holds it exactly")
        return str(int(value))
    text = repr(value)
    if 1e-6 <= size < 1e21:
        return f"{Decimal(text):f}"
    digits, exponent = text.split("e")
    return f"{digits}e{int(exponent):+d}"
