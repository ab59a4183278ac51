"""Gathering into a folder: every handheld's exports, the merged tables of each week, and what contradicts.

    exports/<handheld>/<week>/        the export that goes furthest, as it was signed
    manifests/<handheld>/<week>/      every manifest of that week ever seen, with its signature
    weeks/<week>/cycles.csv ...       the tables of all handhelds, with the handheld as first column
    weeks/<week>/handhelds.csv        which exports they were made from
    conflicts.csv                     what two handhelds, or two exports of one, say of the same thing

The same exports give the same bytes, in whatever order and however often they come.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from data.exporters.chain_files import CHAIN
from data.exporters.csv_text import Column, table
from data.exporters.manifest import MANIFEST, SIGNATURE, ExportRefused, Manifest, read_manifest
from data.unit_gather.conflicts import Conflicts, conflicts_csv
from data.unit_gather.follows import fits, line_marks, told
from data.unit_gather.found import TABLES, Export, open_export, source_of
from data.unit_gather.tables import header, split_header, with_columns
from protocols.errors import CommandFault, DiskError

EXPORTS, MANIFESTS, WEEKS, CONFLICTS = "exports", "manifests", "weeks", "conflicts.csv"
SOURCES = "handhelds.csv"
_OURS = frozenset((EXPORTS, MANIFESTS, WEEKS, CONFLICTS))
_SOURCE_COLUMNS: tuple[Column[Manifest], ...] = (
    Column("handheld", "text", "device and the beginning of its key", source_of),
    Column("unit", "text", "name of the unit", lambda m: m.unit),
    Column("complete", "yes/no", "the week has ended in its record", lambda m: m.closed),
    Column("through", "number", "last line of the record that went in", lambda m: m.through),
    Column("as_of", "text", "wall time of that line", lambda m: m.at),
    Column("cycles", "number", "cycles that ended in the week", lambda m: m.counts.get("cycles", 0)),
    Column("head", "text", "hash of that line", lambda m: m.head),
    Column("manifest", "text", "SHA-256 of the export's manifest", lambda m: m.digest),
)


def rank(manifest: Manifest) -> tuple[bool, int, str]:
    """Promise what decides between two exports of one week: complete before open, then furthest, then by digest."""
    return manifest.closed, manifest.through, manifest.digest


class FolderUnit:
    """A folder as the place where a unit's exports come together."""

    def __init__(self, root: Path) -> None:
        """Raises CommandFault for a folder that holds other things: nothing of anybody else's is written over."""
        self._root = root
        try:
            names = {path.name for path in root.iterdir()}
        except FileNotFoundError:
            names = set()
        except OSError as error:
            raise CommandFault(f"{root} is no folder to look into ({error.strerror}); name another") from error
        strange = sorted(name for name in names - _OURS if not name.startswith("."))
        if strange:
            raise CommandFault(f"{root} holds {strange[0]}, which gather did not write; name a folder of its own")

    def knows(self, export: Export) -> bool:
        """Promise whether this very export was taken before, and what it came to still stands."""
        target = self._root / EXPORTS / export.source / export.manifest.week
        return self._known(export).exists() and self._there(target) is not None

    def take(self, export: Export, checked: Mapping[str, bytes]) -> str:
        """Promise that the export is counted in; gives "taken", "known" or "superseded".

        `checked` is what `require_whole` gave of it. Raises ExportRefused for a table that is none (then nothing of it
        was taken), or DiskError.
        """
        manifest, known = export.manifest, self._known(export)
        if self.knows(export):
            return "known"
        target = self._root / EXPORTS / export.source / manifest.week
        there = self._there(target)
        for name in TABLES:
            split_header(checked[name])
        better = there is None or rank(manifest) > rank(there)
        try:
            if better:
                self._copy(export, target)
            known.parent.mkdir(parents=True, exist_ok=True)
            _write(known.with_suffix(".sig"), export.signature)
            _write(known, export.said)
        except OSError as error:
            raise _failed(target, error) from error
        return "taken" if better else "superseded"

    def finish(self) -> list[tuple[str | None, ...]]:
        """Promise the merged tables and conflicts.csv as of all that was taken; gives the conflicts.

        Raises ExportRefused for a week whose exports have other columns, or DiskError.
        """
        stored = sorted((p.name, p) for p in (self._root / EXPORTS).glob("*/*") if not p.name.startswith("."))
        try:
            for week in sorted({name for name, _ in stored}):
                self._merge(week, [path for name, path in stored if name == week])
            with tempfile.TemporaryDirectory() as scratch:
                conflicts = Conflicts(Path(scratch) / "conflicts.sqlite")
                try:
                    found = self._conflicts(conflicts, [path for _, path in stored])
                finally:
                    conflicts.close()
            self._root.mkdir(parents=True, exist_ok=True)
            _write(self._root / CONFLICTS, conflicts_csv(found))
        except OSError as error:
            raise _failed(self._root, error) from error
        return found

    def _known(self, export: Export) -> Path:
        said = export.manifest
        return self._root / MANIFESTS / export.source / said.week / f"{said.digest}.json"

    def _there(self, target: Path) -> Manifest | None:
        if not (target / MANIFEST).exists():
            return None
        return _manifest_of(target)

    def _copy(self, export: Export, target: Path) -> None:
        part = target.with_name(f".{target.name}.part")
        if part.exists():
            shutil.rmtree(part)
        part.mkdir(parents=True)
        for name in export.manifest.files:
            (part / name).parent.mkdir(exist_ok=True)
            _write(part / name, export.read(name))
        _write(part / SIGNATURE, export.signature)
        _write(part / MANIFEST, export.said)
        if target.exists():
            shutil.rmtree(target)  # the export that takes its place goes further, and lies whole beside it
        part.rename(target)

    def _merge(self, week: str, folders: list[Path]) -> None:
        """Writes a week's tables anew unless they were made from these very exports."""
        folder = self._root / WEEKS / week
        sources = table(_SOURCE_COLUMNS, map(_manifest_of, folders))
        written = folder / SOURCES
        if written.exists() and written.read_bytes() == sources and all((folder / name).exists() for name in TABLES):
            return
        folder.mkdir(parents=True, exist_ok=True)
        written.unlink(missing_ok=True)
        for name in TABLES:
            _write_parts(folder / name, self._merged(name, folders))
        _write(written, sources)  # last: it vouches for the others

    def _merged(self, name: str, folders: list[Path]) -> Iterator[bytes]:
        columns: list[str] = []
        for folder in folders:
            with _as_taken(folder):
                export = open_export(folder, None)
                own, rows = split_header(export.read(name))
            if not columns:
                columns = own
                yield header(["handheld", *own])
            if own != columns:
                raise ExportRefused(
                    f"{folder.parent.name} wrote {name} of {folder.name} with other columns than the handhelds before; "
                    "bring all handhelds to one version of Basinbell, then export that week again"
                )
            yield with_columns(rows, [export.source])

    def _conflicts(self, conflicts: Conflicts, folders: list[Path]) -> list[tuple[str | None, ...]]:
        for folder in folders:
            with _as_taken(folder):
                export = open_export(folder, None)
                conflicts.add_cycles(export.source, export.manifest.unit, export.read("cycles.csv"))
                conflicts.add_baths(export.source, export.manifest.unit, export.read("baths.csv"))
                marks = line_marks({n: export.read(n) for n in export.manifest.files if n.startswith(f"{CHAIN}/")})
            shown = export.manifest
            for path in sorted((self._root / MANIFESTS / export.source / shown.week).glob("*.json")):
                with _as_taken(path):
                    said = known_manifest(path)
                conflicts.add_manifest(said, said.digest == shown.digest, fits(told(said), told(shown), marks))
        return list(conflicts.found())


@contextmanager
def _as_taken(place: Path) -> Iterator[None]:
    """Names the place of what was taken before and is no longer as it was, and what to do."""
    try:
        yield
    except ExportRefused as error:
        raise ExportRefused(
            f"{place} is no longer as it was taken ({error}); take it away, then gather its export again"
        ) from error


def _manifest_of(folder: Path) -> Manifest:
    with _as_taken(folder):
        return open_export(folder, None).manifest


def known_manifest(path: Path) -> Manifest:
    """Promise a manifest kept beside its signature. Raises ExportRefused when it is no longer as it was."""
    return read_manifest(path.read_bytes(), path.with_suffix(".sig").read_bytes())


def _write(path: Path, content: bytes) -> None:
    _write_parts(path, iter((content,)))


def _write_parts(path: Path, parts: Iterator[bytes]) -> None:
    part = path.with_name(f".{path.name}.part")
    with part.open("wb") as file:
        for content in parts:
            file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.rename(path)


def _failed(place: Path, error: OSError) -> DiskError:
    return DiskError(
        f"writing into {place} failed ({error.strerror or error}); free space or name another folder, then gather "
        "again: what was taken already stays"
    )
