"""Several handhelds, one unit: any number of exports brought together, in any order, any number of times.

Each export is checked whole (signature, every file, the chain) before anything of it goes in, and goes in whole or not
at all. What contradicts is listed, not resolved.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from data.exporters.manifest import ExportRefused
from data.unit_gather.folder import FolderUnit
from data.unit_gather.found import Export, exports_below, open_export, require_whole
from protocols.errors import CommandFault
from protocols.numerals import counted

Tell = Callable[[str], None]


class Unit(Protocol):
    """A place where exports come together."""

    def knows(self, export: Export) -> bool:
        """Promise whether this very export was taken before."""
        ...

    def take(self, export: Export, checked: Mapping[str, bytes]) -> str:
        """Promise that the export is counted in; "taken", "known" or "superseded". Raises ExportRefused.

        `checked` is what `require_whole` gave of it.
        """
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
    # One export ahead is checked while the place is busy with the one before; never more, so memory stays flat.
    with ThreadPoolExecutor(1) as ahead:
        looks: deque[_Look] = deque()
        for folder in _folders(sources):
            looks.append(_look(folder, unit, keys, ahead))
            if len(looks) > 1:
                _settle(looks.popleft(), unit, keys is None, result, tell)
        while looks:
            _settle(looks.popleft(), unit, keys is None, result, tell)
    result.conflicts = unit.finish()
    return result


@dataclass(frozen=True, slots=True)
class _Look:
    """One export looked at: why it is refused, or it and what its check will give (None where it is known)."""

    folder: Path
    refused: str = ""
    export: Export | None = None
    checked: Future[dict[str, bytes]] | None = None


def _look(folder: Path, unit: Unit, keys: dict[str, str] | None, ahead: ThreadPoolExecutor) -> _Look:
    try:
        export = open_export(folder, keys)
    except ExportRefused as error:
        return _Look(folder, str(error))
    return _Look(folder, "", export, None if unit.knows(export) else ahead.submit(require_whole, export))


def _settle(look: _Look, unit: Unit, keys_unknown: bool, result: Gathered, tell: Tell) -> None:
    why, how, export = look.refused, "known", look.export
    if export is not None and look.checked is not None:
        try:
            how = unit.take(export, look.checked.result())
        except ExportRefused as error:
            why = str(error)
    if why or export is None:
        result.refused.append(f"{look.folder}: {why}")
        result.counts["refused"] += 1
        tell(f"refused: {look.folder}: {why}")
        return
    if keys_unknown:
        result.keys[export.source] = export.manifest.key
    said = export.manifest
    state = "complete" if said.closed else f"open, through line {said.through}"
    tell(f"{how}: {export.source} {said.week}, {counted(said.counts.get('cycles', 0), 'cycle')}, {state}")
    result.counts[how] += 1


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
