"""Drawings of our own for steps: a scope in a few lines, and on it what to brush, which opening, where to look.

Plain data on a sheet 100 wide and 46 high, y upwards; no window needed. A drawing is a scheme, not a picture of any one
scope: the maker's instructions for use show the real places.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

WIDE, HIGH = 100.0, 46.0
Points = tuple[float, ...]

# The scope, from the connector at the left to the tip at the right.
CONNECTOR: Points = (3, 6, 12, 6, 12, 14, 3, 14)
CORD: Points = (12, 10, 20, 9, 28, 13, 34, 22)
CONTROL: Points = (34, 18, 54, 18, 54, 29, 34, 29)
BOOT: Points = (54, 23.5, 60, 23.5)
INSERTION: Points = (60, 23.5, 68, 23, 75, 19, 81, 13)
BENDING: Points = (81, 13, 86, 9.5, 91, 9)
TIP: Points = (91, 9, 97, 10)
SUCTION_CYLINDER, AIR_WATER_CYLINDER = (40.0, 31.0), (46.0, 31.0)
PORT: Points = (57, 25, 62, 32)
PORT_MOUTH = (62.5, 33.0)
AUXILIARY_PORT = (12.0, 15.5)
TIP_AT = (97.0, 10.0)

# Channels inside, as far as the drawing knows them.
_TO_TIP: Points = (60, 23.5, 68, 23, 75, 19, 81, 13, 86, 9.5, 91, 9, 97, 10)
_SUCTION_TO_TIP: Points = (40, 31, 43, 25, 54, 23.5, *_TO_TIP)
_PORT_TO_TIP: Points = (62, 32, 58, 25, *_TO_TIP)
_SUCTION_TO_CONNECTOR: Points = (40, 31, 38, 25, 34, 22, 28, 13, 20, 9, 12, 10, 4, 10)
_AIR_WATER: Points = (4, 10, 12, 10, 20, 9, 28, 13, 34, 22, 46, 26, 54, 23.5, *_TO_TIP)
_AUXILIARY: Points = (12, 15.5, 20, 12, 28, 15, 36, 22, 54, 23.5, *_TO_TIP)

# The tip from near, with the elevator: its hinge, and its end raised or lowered.
NEAR_TIP: Points = (12, 12, 62, 12, 74, 16, 74, 32, 62, 36, 12, 36)
_HINGE = (52.0, 20.0)
RAISED: Points = (52, 20, 68, 31)
LOWERED: Points = (52, 20, 70, 19)
# A basin: its walls, and the surface of what is in it.
BASIN: Points = (1, 44, 3, 2, 97.5, 2, 99, 44)
SURFACE = 40.0


@dataclass(frozen=True, slots=True)
class Sketch:
    """What to draw: the scope or its tip from near, and on it the lines to work on and the places to look at.

    `work` are lines in the colour of what to do, `arrow` True where the work leads to their end; `wide` lines are parts
    to wipe. `look` are places to look at, ringed. `under` draws the basin with its surface, `bubbles` those of a leak.
    """

    work: tuple[Points, ...] = ()
    wide: tuple[Points, ...] = ()
    look: tuple[tuple[float, float], ...] = ()
    arrow: bool = True
    under: bool = False
    bubbles: bool = False
    near: str = ""


SKETCHES: Mapping[str, Sketch] = MappingProxyType(
    {
        "take-apart": Sketch(look=(SUCTION_CYLINDER, AIR_WATER_CYLINDER, PORT_MOUTH)),
        "leak-test": Sketch(look=(TIP_AT,), under=True, bubbles=True),
        "immerse": Sketch(under=True),
        "detergent-soak": Sketch(work=(_SUCTION_TO_TIP,), arrow=False, under=True),
        "disinfectant-soak": Sketch(work=(_SUCTION_TO_TIP, _SUCTION_TO_CONNECTOR), arrow=False, under=True),
        "wipe-control": Sketch(wide=((36, 23.5, 52, 23.5),)),
        "wipe-boot": Sketch(wide=(BOOT,), look=((57.0, 23.5),)),
        "wipe-insertion": Sketch(wide=(INSERTION,), look=((86.0, 9.5),)),
        "brush-suction-cylinder": Sketch(look=(SUCTION_CYLINDER,)),
        "brush-air-water-cylinder": Sketch(look=(AIR_WATER_CYLINDER,)),
        "brush-port": Sketch(look=(PORT_MOUTH,)),
        "brush-auxiliary-port": Sketch(look=(AUXILIARY_PORT,)),
        "brush-tip": Sketch(look=(TIP_AT,)),
        "brush-balloon-groove": Sketch(look=((91.0, 9.0),)),
        "brush-suction-channel": Sketch(work=(_SUCTION_TO_TIP,), look=(TIP_AT,)),
        "brush-cord-channel": Sketch(work=(_SUCTION_TO_CONNECTOR,), look=((4.0, 10.0),)),
        "brush-insertion-channel": Sketch(work=(_SUCTION_TO_TIP,), look=(TIP_AT,)),
        "brush-biopsy-channel": Sketch(work=(_PORT_TO_TIP,), look=(TIP_AT,)),
        "flush-suction-channel": Sketch(work=(_SUCTION_TO_TIP,)),
        "flush-suction-biopsy-channel": Sketch(work=(_SUCTION_TO_TIP, _PORT_TO_TIP)),
        "flush-air-water-channel": Sketch(work=(_AIR_WATER,)),
        "flush-auxiliary-water-channel": Sketch(work=(_AUXILIARY,)),
        "flush-balloon-channel": Sketch(work=(_AIR_WATER,), look=((91.0, 9.0),)),
        "flush-elevator-channel": Sketch(work=(_AUXILIARY,), look=(TIP_AT,)),
        "brush-elevator-raised": Sketch(near="raised", look=((58.0, 27.0),)),
        "brush-elevator-lowered": Sketch(near="lowered", look=((60.0, 22.0),)),
        "flush-elevator-raised": Sketch(near="raised", work=((84, 38, 64, 24),)),
        "flush-elevator-lowered": Sketch(near="lowered", work=((84, 38, 62, 24),)),
        "inspect": Sketch(look=(TIP_AT, PORT_MOUTH, SUCTION_CYLINDER, (57.0, 23.5))),
        "drying-air": Sketch(work=(_AIR_WATER, _PORT_TO_TIP)),
    }
)
"""The drawing of a step, by its id in the shipped protocols; a step that a unit adds has none."""
