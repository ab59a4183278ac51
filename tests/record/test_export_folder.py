"""An export in its folder: all or nothing, and never over another week's truth."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from recorded_bench import RecordedBench

from data.exporters import folder as folder_module
from data.exporters.csv_week import CONTENTS
from data.exporters.folder import ExportDiffers, write_export
from protocols.errors import DiskError

WEEK = "2026-W48"


def there(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def next_week(bench: RecordedBench) -> None:
    bench.wait(7 * 86_400)
    bench.must("add-person", "eve", name="Eve", role="technician")


def export(bench: RecordedBench) -> dict[str, bytes]:
    return bench.export_week(WEEK)


@pytest.fixture
def bench() -> RecordedBench:
    bench = RecordedBench("2026-11-25T08:00:00+01:00")
    bench.take_to("B2", "inspect")
    bench.must("void", "B2", reason="demo")
    return bench


@pytest.fixture
def closed(bench: RecordedBench) -> dict[str, bytes]:
    next_week(bench)
    return export(bench)


def test_written_whole_then_unchanged(closed: dict[str, bytes], tmp_path: Path) -> None:
    target, state = write_export(closed, tmp_path / "out")
    assert (target, state) == (tmp_path / "out" / WEEK, "written") and there(target) == closed
    assert write_export(closed, tmp_path / "out") == (target, "unchanged")
    assert [p.name for p in (tmp_path / "out").iterdir()] == [WEEK]


def test_exported_week_never_changes(closed: dict[str, bytes], tmp_path: Path) -> None:
    target, _ = write_export(closed, tmp_path)
    other = {**closed, "cycles.csv": closed["cycles.csv"] + b"x"}
    with pytest.raises(ExportDiffers, match=r"cycles\.csv differs.*never changes"):
        write_export(other, tmp_path)
    assert there(tmp_path) == {f"{WEEK}/{name}": content for name, content in closed.items()}
    (target / "events.csv").write_bytes(b"edited")
    with pytest.raises(ExportDiffers, match=r"events\.csv"):
        write_export(closed, tmp_path)
    (target / "events.csv").unlink()
    with pytest.raises(ExportDiffers, match=r"events\.csv"):
        write_export(closed, tmp_path)


def test_open_week_is_replaced_by_a_later_export_only(bench: RecordedBench, tmp_path: Path) -> None:
    early = export(bench)
    assert json.loads(early[CONTENTS])["closed"] is False
    target, _ = write_export(early, tmp_path)
    bench.wait(1)
    bench.receive("B3")
    bench.wait(1)
    bench.must("void", "B3", reason="demo")
    later = export(bench)
    assert write_export(later, tmp_path) == (target, "replaced") and there(target) == later
    with pytest.raises(ExportDiffers, match="it goes on to line"):
        write_export(early, tmp_path)
    next_week(bench)
    complete = export(bench)
    assert write_export(complete, tmp_path) == (target, "replaced") and there(tmp_path / WEEK) == complete
    with pytest.raises(ExportDiffers, match="never changes"):
        write_export(later, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [WEEK]


def test_other_peoples_files_are_left_alone(closed: dict[str, bytes], tmp_path: Path) -> None:
    (tmp_path / WEEK).mkdir()
    (tmp_path / WEEK / "cycles.csv").write_bytes(b"mine")
    with pytest.raises(ExportDiffers, match=r"week\.json"):
        write_export(closed, tmp_path)
    assert there(tmp_path) == {f"{WEEK}/cycles.csv": b"mine"}


def test_strange_file_in_an_open_export_is_not_lost(bench: RecordedBench, tmp_path: Path) -> None:
    target, _ = write_export(export(bench), tmp_path)
    (target / "remarks.txt").write_bytes(b"mine")
    next_week(bench)
    with pytest.raises(ExportDiffers, match=r"remarks\.txt"):
        write_export(export(bench), tmp_path)
    assert (target / "remarks.txt").read_bytes() == b"mine"


def test_failure_while_writing_leaves_what_was_there(
    closed: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(files: dict[str, bytes], part: Path) -> None:
        part.mkdir(parents=True)
        (part / "cycles.csv").write_bytes(b"half")
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(folder_module, "_write_all", full)
        with pytest.raises(DiskError, match="No space left"):
            write_export(closed, tmp_path)
    assert not (tmp_path / WEEK).exists()
    assert write_export(closed, tmp_path)[1] == "written" and there(tmp_path / WEEK) == closed
    assert [p.name for p in tmp_path.iterdir()] == [WEEK]


def test_replacement_cut_off_between_its_renames_is_taken_up(bench: RecordedBench, tmp_path: Path) -> None:
    target, _ = write_export(export(bench), tmp_path)
    target.rename(tmp_path / f".{WEEK}.former")
    next_week(bench)
    assert write_export(export(bench), tmp_path) == (target, "replaced") and there(target) == export(bench)
    assert [p.name for p in tmp_path.iterdir()] == [WEEK]


def test_folder_that_cannot_be_is_a_disk_error(closed: dict[str, bytes], tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(DiskError, match="give another folder"):
        write_export(closed, tmp_path / "file")
