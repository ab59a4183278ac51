"""`rehearse --pictures`: real pages, each with what it is to show."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parents[2]


def test_a_rehearsal_leaves_pictures_of_pages_that_have_read_what_they_show(tmp_path: Path) -> None:
    command = [sys.executable, "main.py", "rehearse", "--scopes", "4", "--hours", "3", "--seed", "2", "--plan"]
    done = subprocess.run([*command, "--pictures", "--out", str(tmp_path)], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    said = [line.removeprefix("picture: ") for line in done.stdout.splitlines() if line.startswith("picture: ")]
    assert sorted(Path(path).name for path in said) == sorted(path.name for path in (tmp_path / "pictures").iterdir())
    for name in ("ledger", "bench-busy", "steps-soak"):
        with Image.open(tmp_path / "pictures" / f"{name}.png") as picture:
            wide, high = picture.size
            # between the head and the way to the other pages
            middle = picture.convert("RGB").crop((0, high // 6, wide, high // 2))
        ground = middle.getpixel((1, middle.height - 1))
        drawn = sum(count for count, colour in middle.getcolors(wide * high) or () if colour != ground)
        assert drawn > 0.2 * middle.width * middle.height, name
