"""One difference that an audit found: where, and what is not as it was written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Difference:
    """One place that differs: file, what, and where known the line (from 1), its first byte (from 0) and its seq."""

    file: str
    what: str
    line: int | None = None
    byte: int | None = None
    seq: int | None = None

    def __str__(self) -> str:
        place = [self.file]
        if self.line is not None:
            place.append(f"line {self.line}")
        if self.byte is not None:
            place.append(f"byte {self.byte}")
        if self.seq is not None:
            place.append(f"seq {self.seq}")
        return f"{', '.join(place)}: {self.what}"


def first_unlike(found: Any, expected: Any, where: str = "") -> str:
    """Promise the first member of two JSON values that is unlike, with both sides; "" where they are the same."""
    if type(found) is dict and type(expected) is dict:
        for name in sorted({*found, *expected}):
            inner = f"{where}.{name}" if where else name
            if name not in found or name not in expected:
                return f"{inner} is {'missing' if name not in found else 'too much'}"
            unlike = first_unlike(found[name], expected[name], inner)
            if unlike:
                return unlike
        return ""
    if type(found) is list and type(expected) is list and len(found) == len(expected):
        for number, pair in enumerate(zip(found, expected, strict=True)):
            unlike = first_unlike(*pair, f"{where}[{number}]")
            if unlike:
                return unlike
        return ""
    return "" if found == expected else f"{where} is {_short(found)}, the journal says {_short(expected)}"


def bytes_unlike(found: bytes, expected: bytes) -> tuple[int, int]:
    """Promise the line (from 1) and byte (from 0) at which two unequal contents part."""
    low, high = 0, min(len(found), len(expected))
    while low < high:
        middle = (low + high) // 2
        if found[low : middle + 1] == expected[low : middle + 1]:
            low = middle + 1
        else:
            high = middle
    return found.count(b"\n", 0, low) + 1, low


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."
