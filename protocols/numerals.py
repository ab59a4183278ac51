"""Numbers as people write them: plain figures with at most one point, the same for keys, tables and the command line.

Python's own readers take more: underscores, exponents, nan, figures of other scripts.
"""

from __future__ import annotations

import re

# More figures than a float holds for certain are no amount that anybody measures.
_PLAIN = re.compile(r"[0-9]{1,15}(\.[0-9]{0,15})?|\.[0-9]{1,15}")
_WHOLE = re.compile(r"[0-9]{1,15}")
# A thousand in half of the world, and one in the other half.
_EITHER = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")


def plain_number(text: str) -> int | float | None:
    """Promise the number that stands there, as int where it is whole; None for any other text."""
    if not _PLAIN.fullmatch(text):
        return None
    value = float(text)
    return int(value) if value.is_integer() else value


def plain_count(text: str) -> int | None:
    """Promise the count that stands there, in figures alone; None for any other text."""
    return int(text) if _WHOLE.fullmatch(text) else None


def reads_two_ways(text: str) -> bool:
    """Promise whether the point may as well part thousands, as in 1.000."""
    return bool(_EITHER.fullmatch(text))


def counted(count: int, one: str, more: str = "") -> str:
    """Promise a count with its noun, like 1 row or 3 rows; `more` is the plural where that is not `one` with an s."""
    return f"{count} {one if count == 1 else more or f'{one}s'}"
