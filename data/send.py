"""A week leaves the handheld: whole, once, and known to have arrived.

At the destination an export lies in `<device>/<week>/`. It is written beside that under a name with a leading dot, read
back and compared, renamed at once, and read back once more at its final place; only then the receipt is stored.
Cut off anywhere, the next try goes on where this one ended: what is there already with the right bytes is left. A week
that is there already, in the same state of the same record, is not written again, whatever forms it has.

The three parts may run in three places: `prepare` and `keep` where the record is owned, `deliver` wherever waiting for
a network disturbs nobody.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

from data.destinations import Destination
from data.destinations.errors import ENDS_A_ROUND, DestinationLied, WeekDiffers
from data.disk import Disk
from data.exporters.manifest import MANIFEST, SIGNATURE, ExportRefused, Manifest, read_manifest
from data.exports_at import file_at, manifest_at
from data.journal import Journal
from data.receipts import Receipt, Receipts, Remembered
from data.segments import segment_weeks
from data.send_progress import Progress, Tell, silent
from data.signing import Signer
from protocols.errors import BasinbellError, Defect


@dataclass(frozen=True, slots=True)
class Prepared:
    """An export ready to be sent: its manifest, and all its files by name with the manifest's own."""

    manifest: Manifest
    files: Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Delivered:
    """What has arrived: the manifest as it lies there, and whether anything had to be written for it."""

    manifest: Manifest
    written: bool


def waiting(disk: Disk, journal: Journal, to: str, remembered: Remembered | None = None) -> list[str]:
    """Promise the weeks that have not arrived at a destination in their present state, oldest first.

    The running week waits again whenever the record has gone on. `remembered` are the receipts of this disk, for who
    asks often. Raises RecordDamaged or DiskError.
    """
    receipts, weeks = remembered or Receipts(disk), segment_weeks(disk)
    head = journal.head[0]
    found = []
    for week in weeks:
        receipt = receipts.last(week, to)
        done = receipt is not None and (receipt.closed or (week == weeks[-1] and receipt.through == head))
        if not done:
            found.append(week)
    return found


def prepare(disk: Disk, journal: Journal, week: str, signer: Signer, tell: Tell = silent) -> Prepared:
    """Promise a week's export, made from the record as it stands. Raises as `week_forms`."""
    # Here, because every form of an export is much to load at the start, and weeks leave later.
    from data.exporters.week_forms import week_forms

    with _uncollected():
        files = week_forms(disk, journal, week, signer, tell)
    return Prepared(read_manifest(files[MANIFEST], files[SIGNATURE]), files)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Promise that Python looks for no garbage in circles meanwhile: every thread waits for that.

    A week's documents are so many objects that each such look took 0.2 to 0.4 s, in which no prompt was called.
    """
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


def deliver(prepared: Prepared, place: Destination, tell: Tell = silent) -> Delivered:
    """Promise that the export lies at the destination, every byte of it read back.

    Raises DeliveryError, CredentialsRefused, WeekDiffers where another truth about that week lies there, or
    DestinationLied. What was written until then is used by the next try.
    """
    manifest = prepared.manifest
    device, week = manifest.device, manifest.week
    final, part, former = f"{device}/{week}", f"{device}/.{week}.part", f"{device}/.{week}.former"
    there = _manifest_at(place, final)
    if there is not None:
        if there.same_week(manifest) and _complete(place, final, there):
            place.remove(part)  # both left by a try that was cut off, if at all
            place.remove(former)
            return Delivered(there, written=False)
        _require_replaceable(manifest, there, f"{place.label}/{final}")
    _write_part(place, part, prepared, tell)
    _require_read_back(place, part, prepared, tell)
    place.remove(former)
    if there is not None:
        place.rename(final, former)
    place.rename(part, final)
    if there is not None:
        place.remove(former)
    _require_read_back(place, final, prepared, tell)
    return Delivered(manifest, written=True)


def keep(disk: Disk, delivered: Delivered, to: str, at: str) -> Receipt:
    """Promise the receipt, durable in the home. Raises DiskError; then the week counts as not sent."""
    manifest = delivered.manifest
    receipt = Receipt(to, manifest.through, manifest.head, manifest.closed, manifest.digest, at)
    Receipts(disk).keep(manifest.week, receipt)
    return receipt


def send_waiting(
    disk: Disk, journal: Journal, place: Destination, signer: Signer, now: Callable[[], str], tell: Tell,
    weeks: list[str] | None = None,
) -> Iterator[tuple[str, Delivered | BasinbellError]]:  # fmt: skip
    """Promise that every week that waits (or those given) was tried, oldest first; each with what became of it.

    A week that the destination refuses does not hold up the others; a destination that is away, or wants other
    credentials, ends the round.
    """
    for week in waiting(disk, journal, place.label) if weeks is None else weeks:
        try:
            delivered = deliver(prepare(disk, journal, week, signer, tell), place, tell)
            keep(disk, delivered, place.label, now())
        except Defect:
            raise
        except BasinbellError as error:
            yield week, error
            if isinstance(error, ENDS_A_ROUND):
                return
            continue
        yield week, delivered


def _write_part(place: Destination, part: str, prepared: Prepared, tell: Tell) -> None:
    """Writes what is not there yet. The manifest comes first: it says whose the rest is when a try was cut off."""
    files, week = prepared.files, prepared.manifest.week
    if not _reads(place, f"{part}/{MANIFEST}", files[MANIFEST]):
        place.remove(part)
        for folder in ("", *sorted({"/" + name.rsplit("/", 1)[0] for name in files if "/" in name})):
            place.make_folder(part + folder)
        place.write(f"{part}/{MANIFEST}", files[MANIFEST])
    for number, (name, content) in enumerate(files.items(), 1):
        if _reads(place, f"{part}/{name}", content):
            tell(Progress(week, "there", name, number, len(files)))
            continue
        place.write(f"{part}/{name}", content)
        tell(Progress(week, "writing", name, number, len(files), len(content)))


def _manifest_at(place: Destination, folder: str) -> Manifest | None:
    try:
        return manifest_at(place, folder)
    except ExportRefused as error:
        raise WeekDiffers(
            f"{place.label}/{folder} holds something that is no signed export ({error}); move it away, then send again"
        ) from error


def _complete(place: Destination, folder: str, there: Manifest) -> bool:
    try:
        for name in there.files:
            file_at(place, folder, there, name)
    except ExportRefused:
        return False
    return True


def _require_replaceable(manifest: Manifest, there: Manifest, where: str) -> None:
    same_handheld = (manifest.device, manifest.key, manifest.week) == (there.device, there.key, there.week)
    if not same_handheld:
        raise WeekDiffers(
            f"{where} is of device {there.device}, key {there.key[:16]}..., week {there.week}; this handheld's key is "
            f"{manifest.key[:16]}...: send to another folder, and find out why two handhelds have one name"
        )
    if there.same_week(manifest):
        return  # a file of it is missing or changed there: it is written again
    if there.closed or there.through > manifest.through:
        state = "complete" if there.closed else f"through line {there.through}"
        raise WeekDiffers(
            f"{where} is another record of that week ({state}, head {there.head[:16]}...); nothing was overwritten: "
            "send to another folder, and find out which record is the true one"
        )


def _reads(place: Destination, path: str, content: bytes) -> bool:
    found = place.read(path, len(content))
    return found == content


def _require_read_back(place: Destination, folder: str, prepared: Prepared, tell: Tell) -> None:
    week, of = prepared.manifest.week, len(prepared.files)
    for number, (name, content) in enumerate(prepared.files.items(), 1):
        if not _reads(place, f"{folder}/{name}", content):
            raise DestinationLied(
                f"{place.label} said that it holds {folder}/{name}, and gives back something else; no receipt was "
                "kept: send again, or to another place"
            )
        tell(Progress(week, "checking", name, number, of))
