"""Whatever lies where exports are looked for: gather and verify take it or refuse it by name, and stay inside."""

from __future__ import annotations

import csv
import os
from pathlib import Path
from random import Random

import pytest

from data.audit import verify_exports
from data.destinations.errors import DeliveryError
from data.destinations.folder import FolderDestination
from data.exporters.manifest import (
    EXPORT_BYTES_MAX,
    FILE_BYTES_MAX,
    MANIFEST,
    SIGNATURE,
    ExportRefused,
    read_manifest,
    with_manifest,
)
from data.signing import signer
from data.unit_gather import gather, unit_at
from tests.hostile_exports import KINDS, _bend_file, make_export
from tests.send.cases import WEEK, exported, put

SEEDS = 220


def everything(folder: Path) -> dict[str, tuple[bool, int]]:
    return {
        path.relative_to(folder).as_posix(): (path.is_symlink(), path.lstat().st_mtime_ns)
        for path in folder.rglob("*")
    }  # fmt: skip


def look_into(seed: int, root: Path) -> int:
    """Gather and verify one bent export; gives how many were taken."""
    folder = make_export(Random(seed), root / "in" / "hh1" / WEEK)
    before = everything(root)
    result = gather([root / "in"], unit_at(str(root / "out")), None, lambda line: None)
    after = {name: what for name, what in everything(root).items() if name != "out" and not name.startswith("out/")}
    assert after == before, "nothing but the destination was touched"
    for path in (root / "out").rglob("*"):
        assert not path.is_symlink() and path.resolve().is_relative_to((root / "out").resolve())
    assert result.counts["taken"] + result.counts["refused"] == 1, result.counts
    list(verify_exports([folder]))
    return result.counts["taken"]


@pytest.mark.parametrize("first", range(0, SEEDS, 20))
def test_bent_exports_are_taken_or_refused_by_name_and_nothing_leaves_the_destination(first, tmp_path) -> None:
    for seed in range(first, first + 20):
        look_into(seed, tmp_path / str(seed))


def test_the_maker_makes_both_what_is_taken_and_what_is_refused(tmp_path) -> None:
    taken = [look_into(seed, tmp_path / str(seed)) for seed in range(500, 560)]
    assert 2 < sum(taken) < 58


def test_a_bent_export_spoils_no_good_one_beside_it(tmp_path) -> None:
    put(exported(), tmp_path / "in" / "good" / WEEK)
    for seed in range(700, 730):
        make_export(Random(seed), tmp_path / "in" / f"bent{seed}" / WEEK)
    result = gather([tmp_path / "in"], unit_at(str(tmp_path / "out")), None, lambda line: None)
    assert result.counts["taken"] >= 1 and sum(result.counts.values()) == 31
    rows = list(csv.reader((tmp_path / "out" / "weeks" / WEEK / "cycles.csv").open(encoding="utf-8-sig", newline="")))
    assert len({len(row) for row in rows}) == 1 and len(rows) > 3


TEXT = sorted(name for name in exported() if name.startswith("texts/"))[0].removeprefix("texts/")


class First(Random):
    def choice(self, options):
        return options[0]


@pytest.mark.parametrize(
    ("kind", "named"),
    [
        ("pipe", "cycles.csv is no plain file"),
        ("device", "cycles.csv is no plain file"),
        ("link out", "cycles.csv is no plain file"),
        ("loop", "cycles.csv is no plain file"),
        ("folder", "cycles.csv is no plain file"),
        ("sparse", "cycles.csv is not the file that was signed"),
        ("link folder", f"texts/{TEXT} lies behind a link"),
    ],
)
def test_a_file_that_is_no_plain_file_is_named_and_nobody_waits_for_it(kind, named, tmp_path) -> None:
    assert kind in KINDS
    folder = put(exported(), tmp_path / "in" / WEEK)
    _bend_file(First(), folder, "cycles.csv", kind)
    result = gather([tmp_path / "in"], unit_at(str(tmp_path / "out")), None, lambda line: None)
    assert result.counts["refused"] == 1 and named in result.refused[0]
    place = FolderDestination(tmp_path / "in")
    if kind == "sparse":
        assert len(place.read(f"{WEEK}/cycles.csv", 1000) or b"") == 1001, "one byte more says that there is more"
    elif kind != "link folder":
        with pytest.raises(DeliveryError, match=rf"reading {WEEK}/cycles\.csv in .* failed"):
            place.read(f"{WEEK}/cycles.csv", 1000)


def test_sizes_are_bounded_and_said(tmp_path) -> None:
    files = exported()
    said = {"unit": "U", "device": "hh1", "week": WEEK, "closed": True, "at": "x", "through": 1, "head": "0" * 64,
            "first_seq": 1, "before": "0" * 64, "counts": {}, "left_out": {}}  # fmt: skip

    class Long(bytes):
        def __len__(self) -> int:
            return FILE_BYTES_MAX + 1

    made = with_manifest({"cycles.csv": Long(b"")}, said, signer(bytes(32)))
    with pytest.raises(ExportRefused, match="it says"):
        read_manifest(made[MANIFEST], made[SIGNATURE])

    class Quarter(bytes):
        def __len__(self) -> int:
            return FILE_BYTES_MAX

    many = {f"f{number}.csv": Quarter(b"") for number in range(EXPORT_BYTES_MAX // FILE_BYTES_MAX + 1)}
    made = with_manifest(many, said, signer(bytes(32)))
    with pytest.raises(ExportRefused, match=f"at most {EXPORT_BYTES_MAX} are read"):
        read_manifest(made[MANIFEST], made[SIGNATURE])
    folder = put(files, tmp_path / WEEK)
    os.truncate(folder / "week.json", EXPORT_BYTES_MAX + 1)
    assert any("at most" in str(one) for one in verify_exports([folder]))
