"""Every colour, type step and size of the app, once.

Pages and widgets ask for a role ("ink", "over"), never for a colour, so that a theme can be exchanged and so
that one test can read here which text stands on which ground. Nothing in this module needs Kivy.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

MM_PER_INCH = 25.4
DP_PER_INCH = 160.0
"""One dp is 1/160 inch by definition (Android density-independent pixel)."""

# WCAG 2.2 success criteria 1.4.6 (enhanced) and 1.4.3 (minimum); 1.4.11 for marks that are not text.
CONTRAST_TO_READ_FAST = 7.0
CONTRAST_TEXT = 4.5
CONTRAST_MARK = 3.0


class UnknownRole(KeyError):
    """A colour role, type step or theme that does not exist was asked for (a defect of the caller)."""


def dp_of_mm(length_mm: float) -> float:
    """Give the length in dp of a length in millimetres on the glass."""
    return length_mm / MM_PER_INCH * DP_PER_INCH


# Rounded up to whole dp: 15 mm is 94.49 dp, 9 mm is 56.69 dp. Own figures for gloved hands: no published
# study of gloved touch targets was found; bare finger studies see no gain above 20 mm.
TARGET_CYCLE_DP = 95.0
TARGET_OTHER_DP = 57.0
GAP_DP = 8.0
MARGIN_DP = 12.0
PAD_DP = 12.0
RADIUS_DP = 14.0
COIL_DP = 60.0
TAG_COLUMN_DP = 76.0
RULE_DP = 1.5

STEPS_SP: Mapping[str, float] = MappingProxyType(
    {
        "shout": 46.0,  # the tag in the one thing to do now
        "tag": 34.0,
        "figure": 40.0,  # times: read from two metres
        "lane": 28.0,  # times in a lane: read from an arm's length, so that four lanes are seen at once
        "headline": 26.0,
        "button": 24.0,
        "title": 19.0,
        "body": 16.0,
        "detail": 14.5,
        "mark": 13.0,
    }
)
"""Type steps in sp; the person's type size multiplies them."""

TimeOrInstruction = Literal["read_fast", "text", "mark"]


@dataclass(frozen=True)
class Pair:
    """Promise that `text` may stand on `ground`, with the contrast that `need` asks for."""

    text: str
    ground: str
    need: TimeOrInstruction

    @property
    def ratio_min(self) -> float:
        """Give the least contrast ratio that this pair must have."""
        return {"read_fast": CONTRAST_TO_READ_FAST, "text": CONTRAST_TEXT, "mark": CONTRAST_MARK}[self.need]


PAIRS: tuple[Pair, ...] = (
    *(Pair("ink", ground, "read_fast") for ground in ("ground", "panel", "rail")),
    *(Pair("quiet", ground, "text") for ground in ("ground", "panel", "rail")),
    Pair("over_text", "rail", "text"),
    *(Pair("over_text", ground, "read_fast") for ground in ("ground", "panel")),
    Pair("act_ink", "act", "read_fast"),
    Pair("over_ink", "over", "read_fast"),
    Pair("ready_ink", "ready", "read_fast"),
    Pair("caution_ink", "caution", "read_fast"),
    Pair("released", "panel", "text"),
    Pair("released", "ground", "text"),
    # Marks: shapes that carry a state and must be seen against what lies under them.
    Pair("caution_sign", "caution", "mark"),
    Pair("caution_sign", "panel", "mark"),
    Pair("over", "panel", "mark"),
    Pair("fill", "panel", "mark"),
    Pair("fill", "ground", "mark"),
    Pair("fill", "track", "mark"),
    Pair("act", "ground", "mark"),
    Pair("over", "ground", "mark"),
    Pair("todo", "ground", "mark"),
    Pair("todo", "panel", "mark"),
)
"""Which role may be written or drawn on which ground. A widget that needs another pair adds it here."""

_ENAMEL = {
    "ground": "F4F1EA",
    "panel": "FFFFFF",
    "rail": "E6E2D6",
    "rule": "D3CEC0",
    "ink": "16202E",
    "quiet": "565F6C",
    "act": "17569C",
    "act_ink": "FFFFFF",
    "over": "A3123B",
    "over_ink": "FFFFFF",
    "over_text": "9E1139",
    "ready": "16202E",
    "ready_ink": "FFFFFF",
    "caution": "FFEFC7",
    "caution_ink": "16202E",
    "caution_sign": "8A5A00",
    "fill": "17569C",
    "track": "C6D3E3",
    "todo": "7F8792",
    "released": "1B6B3A",
}

_NIGHT = {
    "ground": "10161E",
    "panel": "1C2530",
    "rail": "161D26",
    "rule": "36424F",
    "ink": "F1EEE6",
    "quiet": "A9B3BF",
    "act": "8CC2F5",
    "act_ink": "0B1117",
    "over": "FF8FA0",
    "over_ink": "2A0510",
    "over_text": "FF8FA0",
    "ready": "F1EEE6",
    "ready_ink": "10161E",
    "caution": "3A2E10",
    "caution_ink": "F1EEE6",
    "caution_sign": "FFC65C",
    "fill": "8CC2F5",
    "track": "3B4A5C",
    "todo": "79848F",
    "released": "7BD6A0",
}

THEMES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {"enamel": MappingProxyType(_ENAMEL), "night": MappingProxyType(_NIGHT)}
)
DEFAULT_THEME = "enamel"

RELEASED_ROLES = frozenset({"released"})
"""The only green role. Green reads as clean, so nothing may use it for a scope that no named person has
released."""

_in_use = DEFAULT_THEME


def use(name: str) -> None:
    """Make `name` the theme of everything built from now on; pages already built keep theirs until rebuilt.

    Raises UnknownRole when there is no such theme.
    """
    global _in_use
    if name not in THEMES:
        raise UnknownRole(f"there is no theme {name!r}; choose one of {', '.join(THEMES)}")
    _in_use = name


def name_in_use() -> str:
    """Give the name of the theme in use."""
    return _in_use


def colour(role: str, theme: str | None = None) -> str:
    """Give the colour of a role as six hexadecimal digits; raises UnknownRole."""
    colours = THEMES[theme or _in_use]
    if role not in colours:
        raise UnknownRole(f"the theme has no colour role {role!r}; its roles are {', '.join(colours)}")
    return colours[role]


def rgba(role: str, alpha: float = 1.0) -> tuple[float, float, float, float]:
    """Give the colour of a role in the theme in use as four floats of 0 to 1."""
    digits = colour(role)
    red, green, blue = (int(digits[at : at + 2], 16) / 255.0 for at in (0, 2, 4))
    return red, green, blue, alpha


def step_sp(step: str) -> float:
    """Give the type size of a step in sp; raises UnknownRole for a step that does not exist."""
    if step not in STEPS_SP:
        raise UnknownRole(f"the theme has no type step {step!r}; its steps are {', '.join(STEPS_SP)}")
    return STEPS_SP[step]


def luminance(hex_digits: str) -> float:
    """Give the relative luminance (0 to 1) of an sRGB colour, by the definition in WCAG 2.2."""
    channels = []
    for at in (0, 2, 4):
        level = int(hex_digits[at : at + 2], 16) / 255.0
        channels.append(level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4)
    red, green, blue = channels
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """Give the contrast ratio (1 to 21) of two colours, in either order, by the definition in WCAG 2.2."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)
