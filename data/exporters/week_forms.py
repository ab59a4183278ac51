"""A week's whole export: tables, the chain they rest on, the protocol texts, FHIR, the PDF, and the signed manifest.

An app that is newer, or has other extras, may make tables and prints otherwise; the chain says whether two exports are
of the same week (`Manifest.same_week`).
"""

from __future__ import annotations

from data.disk import Disk
from data.exporters.chain_files import CHAIN, chain_files
from data.exporters.csv_text import rows_in
from data.exporters.csv_week import week_files
from data.exporters.fhir_week import fhir_bundle
from data.exporters.manifest import with_manifest
from data.exporters.standing import standing
from data.exporters.week_pdf import WITHOUT, can_print, week_pdf
from data.gather import read_week
from data.home import Texts
from data.journal import Journal
from data.practice import require_real
from data.refused import refused_in
from data.send_progress import Progress, Tell, silent
from data.signing import Signer
from data.week import figures_of, past

FHIR, PDF = "week.fhir.json", "week.pdf"


def week_forms(disk: Disk, journal: Journal, week: str, signer: Signer, tell: Tell = silent) -> dict[str, bytes]:
    """Promise all files of a week's export by name, manifest and signature last; `tell` hears each form begin.

    Raises CommandFault for a malformed week, UnknownWeek, PracticeRecord, RecordDamaged, RecordTooNew or DiskError.
    """
    parts = ("the record", CHAIN, "tables", FHIR, PDF)

    def begin(what: str) -> None:
        tell(Progress(week, "making", what, parts.index(what) + 1, len(parts)))

    begin("the record")
    read = read_week(journal, week)
    documents = read.documents()
    begin(CHAIN)
    chain = chain_files(disk, journal, read)
    stands = standing(read, chain)
    require_real(stands.device, "it is not exported")
    begin("tables")
    files = {**week_files(read, documents, Texts(disk).get), **chain}
    begin(FHIR)
    files[FHIR] = fhir_bundle(read, documents, stands)
    left_out = {}
    if can_print():
        begin(PDF)
        figures = figures_of(
            documents, past(disk, journal, week), read.closed, read.through, week, refused_in(disk, week)
        )
        files[PDF] = week_pdf(read, documents, stands, figures)
    else:
        left_out[PDF] = WITHOUT
    said = {
        "device": stands.device, "unit": stands.unit, "week": week, "closed": stands.closed, "at": stands.at,
        "through": stands.through, "head": stands.head, "first_seq": stands.first_seq, "before": stands.before,
        "counts": {
            "cycles": len(documents), "lines": stands.lines,
            **{name.removesuffix(".csv"): rows_in(files[name]) for name in ("events.csv", "baths.csv", "tests.csv")},
        },
        "left_out": left_out,
    }  # fmt: skip
    return with_manifest(files, said, signer)
