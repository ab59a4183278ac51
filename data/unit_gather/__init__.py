"""Several handhelds, one unit: any number of exports brought together, in any order, any number of times.

Each export is checked whole (signature, every file, the chain) before anything of it goes in, and goes in whole or not
at all. What contradicts is listed, not resolved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from data.exporters.manifest import ExportRefused
from data.unit_gather.folder import FolderUnit
from data.unit_gather.found import Export, exports_below, open_export
from protocols.errors import CommandFault

Tell = Callable[[str], None]


class Unit(Protocol):
    """A place where exports come together."""

    def take(self, export: Export) -> str:
        """Promise that the export is counted in; "taken", "known" or "superseded". Raises ExportRefused."""
        ...

    def finish(self) -> list[tuple[str | None, ...]]:
        """Promise that all that was taken can be asked for; gives the conflicts, each with its kind first."""
        ...


@dataclass(slots=True)
class Gathered:
    """What a gathering came to. `keys` are those of handhelds whose key nobody had said beforehand."""

    counts: dict[str, int] = field(default_factory=lambda: {"taken": 0, "known": 0, "superseded": 0, "refused": 0})
    refused: list[str] = field(default_factory=list)
    keys: dict[str, str] = field(default_factory=dict)
    conflicts: list[tuple[str | None, ...]] = field(default_factory=list)


def gather(sources: Iterable[Path], unit: Unit, keys: dict[str, str] | None, tell: Tell) -> Gathered:
    """Promise that every export at or below the sources was looked at; what can't be trusted is named and left out.

    `keys` maps devices to the public keys got beforehand; without it each export is held against its own key only.
    Raises DiskError for a source that can't be read or a place that can't be written.
    """
    result = Gathered()
    for folder in _folders(sources):
        try:
            export = open_export(folder, keys)
            how = unit.take(export)
        except ExportRefused as error:
            result.refused.append(f"{folder}: {error}")
            how = "refused"
            tell(f"refused: {folder}: {error}")
        else:
            if keys is None:
                result.keys[export.source] = export.manifest.key
            said = export.manifest
            state = "complete" if said.closed else f"open, through line {said.through}"
            tell(f"{how}: {export.source} {said.week}, {said.counts.get('cycles', 0)} cycles, {state}")
        result.counts[how] += 1
    result.conflicts = unit.finish()
    return result


def _folders(sources: Iterable[Path]) -> Iterator[Path]:
    for source in sources:
        yield from exports_below(source)


def unit_at(into: str) -> Unit:
    """Promise the place that a text names: a folder, or postgresql://... Raises CommandFault."""
    if into.startswith(("postgresql://", "postgres://")):
        from data.unit_gather.postgres import PostgresUnit

        return PostgresUnit(into)
    if "://" in into:
        raise CommandFault(f"{into.split('://')[0]}:// can't be gathered into; name a folder or postgresql://...")
    return FolderUnit(Path(into))
