"""An export put into a folder: all of it under its final name or nothing, and never over another week's truth."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from data.exporters.csv_week import CONTENTS
from data.exporters.manifest import MANIFEST, SIGNATURE, ExportRefused, read_manifest, require_files
from protocols.errors import DiskError, TechnicianError


class ExportDiffers(TechnicianError):
    """Another export of that week lies in the folder, and an exported week never changes."""


def write_export(files: Mapping[str, bytes], folder: Path) -> tuple[Path, str]:
    """Promise that `folder`/<week> holds exactly these files; gives it and "written", "unchanged" or "replaced".

    Everything is written beside it under a name with a leading dot, made durable, then renamed at once. What is there
    with the same bytes is left. Only an export that said "week still open" is replaced, and only by one that goes at
    least as far. Raises ExportDiffers naming the file, and DiskError; then what was there is as it was.
    """
    contents = json.loads(files[CONTENTS])
    week = contents["week"]
    target, part, former = folder / week, folder / f".{week}.part", folder / f".{week}.former"
    try:
        if former.exists() and not target.exists():
            # A replacement was cut off between its two renames; the older export comes back first.
            former.rename(target)
        replacing = target.exists()
        if replacing:
            differing = _differing(files, target)
            if not differing or _says_the_same(files, target):
                return target, "unchanged"
            _check_replaceable(target, contents, differing)
        for leftover in (part, former):
            if leftover.exists():
                shutil.rmtree(leftover)
        _write_all(files, part)
        if replacing:
            target.rename(former)
        part.rename(target)
        _sync_folder(folder)
        if replacing:
            shutil.rmtree(former)
    except OSError as error:
        raise DiskError(
            f"writing the export of {week} into {folder} failed ({error.strerror or error}); the record is as it was: "
            "give another folder, or free space, and export again"
        ) from error
    return target, "replaced" if replacing else "written"


def _differing(files: Mapping[str, bytes], target: Path) -> list[str]:
    """The names of files that are missing there, differ there, or are there and belong to no export."""
    there = {p.relative_to(target).as_posix(): p for p in target.rglob("*") if p.is_file()} if target.is_dir() else {}
    return sorted(n for n in {*files, *there} if n not in files or n not in there or there[n].read_bytes() != files[n])


def _says_the_same(files: Mapping[str, bytes], target: Path) -> bool:
    """Whether a whole, signed export of the same state of the record lies there, as an older app or print made it."""
    if MANIFEST not in files:
        return False
    try:
        there = read_manifest((target / MANIFEST).read_bytes(), (target / SIGNATURE).read_bytes())
        mine = read_manifest(files[MANIFEST], files[SIGNATURE])
        require_files(there, lambda name: (target / name).read_bytes() if (target / name).is_file() else None)
    except (OSError, ExportRefused):
        return False
    here = {p.relative_to(target).as_posix() for p in target.rglob("*") if p.is_file()}
    return there.same_week(mine) and here == {*there.files, MANIFEST, SIGNATURE}


def _check_replaceable(target: Path, contents: dict[str, Any], differing: list[str]) -> None:
    try:
        before = json.loads((target / CONTENTS).read_bytes())
        is_open, through, listed = before["closed"] is False, int(before["through"]), {*before["files"], CONTENTS}
        if (target / MANIFEST).exists():
            listed |= {*json.loads((target / MANIFEST).read_bytes())["files"], MANIFEST, SIGNATURE}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ExportDiffers(
            f"{target} is there and its {CONTENTS} is not that of an export; nothing has been written: move it away or "
            "give another folder"
        ) from error
    strange = [n for n in differing if n not in listed and (target / n).exists()]
    if strange:
        raise ExportDiffers(f"{target} holds {strange[0]}, which is not part of its export; move that file away first")
    if not is_open or through > contents["through"]:
        state = "an exported week never changes" if not is_open else f"it goes on to line {through} of the record"
        raise ExportDiffers(
            f"{target / differing[0]} differs from this export, and {state}; nothing has been written: keep both by "
            "giving another folder, and find out which record it came from"
        )


def _write_all(files: Mapping[str, bytes], part: Path) -> None:
    for name, content in files.items():
        path = part / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    for made in {(part / name).parent for name in files}:
        _sync_folder(made)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
