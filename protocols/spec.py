"""What a command's specification is made of: its values, whom it is for, and short ways to write them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a command: its type, whether it must be there, its choices or range, and what it means."""

    type: str
    means: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Spec:
    """One command: on a "scope", a "bath", a "container", a "person" and so on; `lead` if only leads may.

    `admin` if, of those, only administrators may; `open` if it is given before anybody is signed in.
    """

    on: str
    means: str
    values: Mapping[str, Value]
    lead: bool = False
    admin: bool = False
    open: bool = False


def text(means: str, required: bool = False) -> Value:
    """Promise a text."""
    return Value("text", means, required)


def choice(means: str, *choices: str, required: bool = True) -> Value:
    """Promise one of the choices."""
    return Value("choice", means, required, choices)


def number(means: str, low: float, high: float, required: bool = False) -> Value:
    """Promise a number within a range."""
    return Value("number", means, required, (), low, high)


def among(means: str, low: int, high: int) -> Value:
    """Promise a whole number within a range."""
    return Value("whole", means, False, (), low, high)


def whole(means: str, required: bool = True) -> Value:
    """Promise a count from 0 to 50."""
    return Value("whole", means, required, (), 0, 50)
