"""Exported weeks, against their own signed manifest and chain, and against the journal where that can be asked."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from data.audit.difference import Difference, bytes_unlike
from data.disk import Disk
from data.exporters.chain_files import CHAIN, chain_files, require_chain
from data.exporters.csv_week import CONTENTS, week_files
from data.exporters.fhir_week import fhir_bundle
from data.exporters.manifest import (
    EXPORT_BYTES_MAX,
    FILE_BYTES_MAX,
    MANIFEST,
    SIGNATURE,
    ExportRefused,
    Manifest,
    read_manifest,
    require_file,
)
from data.exporters.standing import standing
from data.exporters.week_forms import FHIR
from data.gather import WeekRead
from data.home import Texts
from data.journal import Journal
from data.plain_files import plain_below, read_plain
from data.signing import KEY_FILE, SigningUnavailable, home_signer
from data.stubs import Stub, stub_path
from protocols.errors import DiskError, RecordDamaged

# A folder with more files than this is not an export; nobody is made to wait for it.
_FILES_MAX = 10_000


class ExportFolder:
    """One exported week as it lies in a folder: its files by name and what `week.json` says."""

    def __init__(self, folder: Path) -> None:
        """Promise the files as read. `fault` is set when there is no `week.json` that can be read. Raises DiskError."""
        self.folder = folder
        self.fault: Difference | None = None
        self.through, self.closed = 0, False
        self.files: dict[str, bytes] = {}
        try:
            paths = plain_below(folder, _FILES_MAX)
            length = sum(path.lstat().st_size for path in paths)
            if length > EXPORT_BYTES_MAX:
                what = f"its files have {length} bytes, at most {EXPORT_BYTES_MAX} are read"
                self.fault = Difference(folder.name, what)
                return
            self.files = {p.relative_to(folder).as_posix(): read_plain(p, FILE_BYTES_MAX) for p in paths}
        except OSError as error:
            raise DiskError(f"reading {folder} failed ({error.strerror or error}); make it readable") from error
        try:
            self._said = json.loads(self.files[CONTENTS])
            week, self.through, self.closed = (self._said[name] for name in ("week", "through", "closed"))
            if type(self.through) is not int or type(self.closed) is not bool or type(self._said) is not dict:
                raise TypeError("through is a number, closed is true or false")
        except (KeyError, ValueError, TypeError, RecursionError) as error:
            self.fault = Difference(self._name(CONTENTS), f"it is not there or not that of an export ({error!r})")
            return
        if week != folder.name:
            self.fault = Difference(self._name(CONTENTS), f"it is of week {week!r}, the folder of {folder.name}")

    def _name(self, file: str) -> str:
        return f"{self.folder.name}/{file}"

    def against(
        self, disk: Disk, read: WeekRead, documents: list[dict[str, Any]], purged: Mapping[str, Stub]
    ) -> Iterator[Difference]:
        """Promise every file that is not, byte for byte, what the journal gives, with the first byte that differs.

        A print depends on what is installed, and the manifest on the handheld's secret key: those two are held against
        the signature instead. Of weeks that were `purged` since, what the export brings must be what their stubs name.
        """
        try:
            chain = chain_files(disk, Journal(disk), read, self._from_before(purged))
            expected = {**week_files(read, documents, Texts(disk).get), **chain}
            expected[FHIR] = fhir_bundle(read, documents, standing(read, chain))
        except RecordDamaged as error:
            yield Difference(self.folder.name, f"it can't be compared: {error}")
            expected = {}
        named = set()
        for difference in self._unlike(expected):
            named.add(difference.file)
            yield difference
        yield from (d for d in self.alone() if d.file not in named)
        yield from self._signed_here(disk)

    def _from_before(self, purged: Mapping[str, Stub]) -> dict[str, bytes]:
        """The segments of purged weeks that lie in this export, where they are, line for line, what went then."""
        found = {}
        for week, stub in purged.items():
            data = self.files.get(f"{CHAIN}/{week}.jsonl")
            if data is not None and stub.is_of(data):
                found[week] = data
        return found

    def of_purged(self, stub: Stub) -> Iterator[Difference]:
        """Promise what is wrong with the export of a week that was purged since, in itself and against its stub."""
        yield from [self.fault] if self.fault is not None else self.alone()
        data = self.files.get(f"{CHAIN}/{stub.week}.jsonl", b"")
        if self.closed and not stub.is_of(data):
            yield Difference(self._name(f"{CHAIN}/{stub.week}.jsonl"), f"it is not what {stub_path(stub.week)} names")

    def _unlike(self, expected: Mapping[str, bytes]) -> Iterator[Difference]:
        for name in sorted(expected):
            if name not in self.files:
                yield Difference(self._name(name), "it is missing")
            elif self.files[name] != expected[name]:
                line, byte = bytes_unlike(self.files[name], expected[name])
                yield Difference(self._name(name), "it is not what the journal gives", line, byte)

    def _signed_here(self, disk: Disk) -> Iterator[Difference]:
        if not disk.exists(KEY_FILE):
            return
        try:
            ours, signed = home_signer(disk, used_before=True).public, self._manifest().key
        except RecordDamaged as error:
            yield Difference(KEY_FILE, str(error).removeprefix(f"{KEY_FILE} "))
        except (ExportRefused, SigningUnavailable):
            return  # told by `alone`
        else:
            if ours != signed:
                yield Difference(self._name(MANIFEST), f"it is signed with {signed[:16]}..., not with this home's key")

    def _manifest(self) -> Manifest:
        missing = [name for name in (MANIFEST, SIGNATURE) if name not in self.files]
        if missing:
            raise ExportRefused(f"{missing[0]} is missing")
        return read_manifest(self.files[MANIFEST], self.files[SIGNATURE])

    def alone(self) -> Iterator[Difference]:
        """Promise what is wrong with the export in itself: files, signature, chain. Whose key it is stays open."""
        try:
            manifest = self._manifest()
        except (ExportRefused, SigningUnavailable) as error:
            yield Difference(self._name(MANIFEST), str(error))
            return
        whole = True
        for name in sorted({*self.files, *manifest.files} - {MANIFEST, SIGNATURE}):
            if name not in manifest.files:
                yield Difference(self._name(name), "it is no part of the export")
                continue
            try:
                require_file(manifest, name, self.files.get(name))
            except ExportRefused as refused:
                whole = False
                yield Difference(self._name(name), str(refused).removeprefix(f"{name} "))
        if not whole:
            return
        try:
            require_chain(manifest, {name: data for name, data in self.files.items() if name.startswith(f"{CHAIN}/")})
        except ExportRefused as refused:
            yield Difference(self._name(CHAIN), str(refused))
        said = (self._said["week"], self.closed, self.through, self._said.get("through_hash"))
        if said != (manifest.week, manifest.closed, manifest.through, manifest.head):
            yield Difference(self._name(CONTENTS), f"it says {said}, {MANIFEST} says otherwise")
