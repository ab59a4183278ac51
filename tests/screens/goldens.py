"""Golden pictures: what a screen looked like when somebody last looked at it and agreed.

Regenerate all of them with one command, then look at what changed before keeping it:

    BASINBELL_REGENERATE_GOLDENS=1 python -m pytest tests/screens
"""

from __future__ import annotations

import os
from pathlib import Path

from PIL import Image, ImageChops

FOLDER = Path(__file__).parent / "golden"
REGENERATE = os.environ.get("BASINBELL_REGENERATE_GOLDENS") == "1"

# Software renderers of different ages round edges differently, so single pixels may differ a lot; a shape
# that moved, changed colour or is gone differs over many pixels. Own figures, set so that one changed digit
# in a tag fails.
_LEVELS_THAT_DIFFER = 48
_SHARE_THAT_MAY_DIFFER = 0.0004


class GoldenMissing(AssertionError):
    """There is no golden picture of this name yet."""


def share_that_differs(one: Image.Image, other: Image.Image) -> float:
    """Give the share of pixels (0 to 1) that differ clearly; 1 when the pictures differ in size."""
    if one.size != other.size:
        return 1.0
    difference = ImageChops.difference(one.convert("RGB"), other.convert("RGB"))
    worst = max(difference.split(), key=lambda band: sum(band.histogram()[_LEVELS_THAT_DIFFER:]))
    return sum(worst.histogram()[_LEVELS_THAT_DIFFER:]) / (one.width * one.height)


def check(name: str, image: Image.Image, found_folder: Path) -> None:
    """Compare a picture with its golden one; on failure the picture found is left in `found_folder`.

    Raises GoldenMissing when there is none, AssertionError when too much differs. Writes instead when
    regenerating.
    """
    golden = FOLDER / f"{name}.png"
    if REGENERATE:
        FOLDER.mkdir(exist_ok=True)
        image.convert("RGB").save(golden, optimize=True)
        return
    if not golden.exists():
        raise GoldenMissing(
            f"no golden picture {golden.name}; see tests/screens/goldens.py for the command that makes it"
        )
    share = share_that_differs(image, Image.open(golden).convert("RGB"))
    if share > _SHARE_THAT_MAY_DIFFER:
        found = found_folder / f"{name}.png"
        image.save(found)
        raise AssertionError(f"{name}: {share:.2%} of the picture differs from its golden one; found: {found}")
