"""Which keys a keypad has and where: plain functions, no window needed."""

from __future__ import annotations

import string
from dataclasses import dataclass
from typing import Literal

Kind = Literal["tags", "words", "names", "figures", "small", "capitals", "digits", "signs"]
KINDS: tuple[Kind, ...] = ("tags", "words", "names", "figures", "small", "capitals", "digits", "signs")


@dataclass(frozen=True)
class Key:
    """One key: `char` is what it types, or `action` is erase or done; `span` is its width in columns."""

    char: str = ""
    action: Literal["", "erase", "done"] = ""
    span: int = 1


_CHARS: dict[Kind, str] = {
    "tags": string.digits + string.ascii_uppercase + "-",
    "words": string.digits + string.ascii_uppercase + " ",
    "names": string.ascii_uppercase + "-'. ",
    "figures": "789456123.0",
    # Together every sign of ASCII, for addresses and passwords; `PLANES` in their order.
    "small": string.ascii_lowercase + "./",
    "capitals": string.ascii_uppercase + "./",
    "digits": "1234567890:/.-_@%~+=&?#,;! ",
    "signs": "$*()'\"<>[]\\^`{|}",
}
PLANES: tuple[Kind, ...] = ("small", "capitals", "digits", "signs")
COLUMNS = (10, 8, 5)


def columns_for(kind: Kind, width_dp: float, key_dp: float, gap_dp: float) -> int:
    """Give how many columns of keys at least `key_dp` wide fit the width: figures always stand in three.

    Only counts that fill the keypad without holes, with room for the word on done, are given: five, eight or ten.
    """
    if kind == "figures":
        return 3
    fits = int((width_dp + gap_dp) // (key_dp + gap_dp))
    return next((count for count in COLUMNS if fits >= count), COLUMNS[-1])


def key_rows(kind: Kind, columns: int) -> list[list[Key]]:
    """Give the keys row by row; every row fills `columns`, the last ends with done.

    All keys are on one plane: a switch between letters and figures is a mode to get lost in. Only addresses and
    passwords, which are typed once in a long while, need more signs than find room.
    """
    keys = [Key(char=char) for char in _CHARS[kind]]
    free = columns - len(keys) % columns
    if free == 1 or (free == 2 and columns > COLUMNS[-1]):
        # Done never shrinks to one column where there is room for one more row: it takes that.
        keys += [Key(action="erase", span=free), Key(action="done", span=columns)]
    else:
        erase = max(1, free // 3)
        keys += [Key(action="erase", span=erase), Key(action="done", span=free - erase)]
    rows: list[list[Key]] = [[]]
    for key in keys:
        if sum(other.span for other in rows[-1]) + key.span > columns:
            rows.append([])
        rows[-1].append(key)
    return rows
