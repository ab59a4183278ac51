"""A week's whole export: what is in it, its manifest, and the chain that proves it without the handheld."""

from __future__ import annotations

import csv
import io
import json
import random
from hashlib import sha256

import pytest
import rfc8785

from data.exporters import week_forms as forms_module
from data.exporters.chain_files import CARRIED, chain_files, require_chain
from data.exporters.manifest import MANIFEST, SIGNATURE, ExportRefused, read_manifest, require_files, with_manifest
from data.gather import read_week
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, Handheld, exported, three_weeks

WEEKS = (WEEK, NEXT_WEEK, THIRD_WEEK)


@pytest.fixture(scope="module")
def exports() -> dict[str, dict[str, bytes]]:
    return {week: exported(week) for week in WEEKS}


def accept(files: dict[str, bytes]) -> None:
    """What a receiver does: manifest, signature, every file, chain."""
    manifest = read_manifest(files.get(MANIFEST, b""), files.get(SIGNATURE, b""))
    require_files(manifest, files.get)
    require_chain(manifest, files)


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def resigned(files: dict[str, bytes], **said: object) -> dict[str, bytes]:
    """The files signed anew by the handheld's own key, with other words in the manifest."""
    old = json.loads(files[MANIFEST])
    members = {name: old[name] for name in old if name not in ("v", "key", "files")}
    rest = {name: content for name, content in files.items() if name not in (MANIFEST, SIGNATURE)}
    return with_manifest(rest, {**members, **said}, three_weeks().signer)


@pytest.mark.parametrize("week", WEEKS)
def test_an_export_proves_itself(exports, week) -> None:
    files = exports[week]
    accept(files)
    manifest = json.loads(files[MANIFEST])
    assert manifest["files"] == {
        name: {"bytes": len(content), "sha256": sha256(content).hexdigest()}
        for name, content in files.items() if name not in (MANIFEST, SIGNATURE)
    }  # fmt: skip
    # Canonical form: against the reference library of RFC 8785.
    assert files[MANIFEST] == rfc8785.dumps(manifest) + b"\n"
    tables = {name: len(rows(files[f"{name}.csv"])) for name in ("cycles", "events", "baths", "tests")}
    lines = sum(content.count(b"\n") for name, content in files.items() if name.startswith("chain/2"))
    assert manifest["counts"] == {**tables, "lines": lines}
    assert manifest["closed"] is (week != THIRD_WEEK) and manifest["left_out"] == {}


def test_the_chain_holds_every_line_of_every_cycle_of_the_week(exports) -> None:
    for week in WEEKS:
        held = {}
        for name, content in exports[week].items():
            if name.startswith("chain/"):
                lines = [json.loads(line) for line in content.splitlines()]
                held.update({line["seq"]: line for line in lines})
        events = rows(exports[week]["events.csv"])
        for row in events:
            line = held[int(row["seq"])]
            assert (line["kind"], line["by"], line["wall"]) == (row["kind"], row["by"], row["at"])
            assert line["data"] == json.loads(row["data"])
        poured = {row["bath_id"] for row in rows(exports[week]["baths.csv"]) if row["soaks"] != "0"}
        assert poured <= {f"hh1-{seq:06d}" for seq in held}
    assert sorted(n for n in exports[NEXT_WEEK] if n.startswith("chain/")) == [
        "chain/2026-W48.jsonl", "chain/2026-W49.jsonl",
    ]  # fmt: skip
    assert CARRIED in exports[THIRD_WEEK] and "chain/2026-W49.jsonl" not in exports[THIRD_WEEK]


def test_segments_are_the_journals_own_bytes(exports) -> None:
    disk = three_weeks().disk
    for week in WEEKS:
        for name, content in exports[week].items():
            if name.startswith("chain/2"):
                assert content == disk.read(name.replace("chain/", "journal/"))


def test_an_open_week_stops_at_the_line_that_went_in() -> None:
    bench = Handheld()
    bench.whole_cycle("B2")
    read = read_week(bench.journal, WEEK)
    before = bytes(bench.disk.files[f"journal/{WEEK}.jsonl"])
    bench.must("add-person", "later", name="Eve", role="technician")
    assert chain_files(bench.disk, bench.journal, read) == {f"chain/{WEEK}.jsonl": before}


@pytest.mark.parametrize("week", WEEKS)
def test_flipped_bits_anywhere_are_found(exports, week) -> None:
    chance = random.Random(20261125)
    for name, content in exports[week].items():
        places = {0, len(content) * 8 - 1, *(chance.randrange(len(content) * 8) for _ in range(30))}
        for place in sorted(places):
            spoilt = bytearray(content)
            spoilt[place // 8] ^= 1 << place % 8
            with pytest.raises(ExportRefused):
                accept({**exports[week], name: bytes(spoilt)})


def test_files_missing_or_of_another_week_are_found(exports) -> None:
    files = exports[NEXT_WEEK]
    for name in files:
        with pytest.raises(ExportRefused):
            accept({other: content for other, content in files.items() if other != name})
        if name in exports[WEEK] and exports[WEEK][name] != files[name]:
            with pytest.raises(ExportRefused):
                accept({**files, name: exports[WEEK][name]})


def test_even_the_owner_of_the_key_cannot_sign_a_chain_that_does_not_hold(exports) -> None:
    files = exports[THIRD_WEEK]
    accept(resigned(files))
    for said in ({"head": "0" * 64}, {"before": "0" * 64}, {"through": 3}, {"first_seq": 1}, {"device": "hh2"}):
        with pytest.raises(ExportRefused):
            accept(resigned(files, **said))
    name = f"chain/{THIRD_WEEK}.jsonl"
    lines = files[name].splitlines(keepends=True)
    for spoilt in (lines[1:], lines[:-1], [*lines[:1], *lines[2:]], [lines[0], *lines[2:4], lines[1], *lines[4:]], []):
        with pytest.raises(ExportRefused):
            accept(resigned({**files, name: b"".join(spoilt)}))
    with pytest.raises(ExportRefused, match="of nothing that stood"):
        accept(resigned({**files, CARRIED: files[CARRIED] + exports[WEEK][f"chain/{WEEK}.jsonl"].splitlines(True)[3]}))


@pytest.mark.parametrize(
    "name", ["../escape", "/etc/passwd", "a/b/c", "texts/..", "manifest.json", "manifest.sig", ".hidden", "a\\b", "x\0"]
)
def test_names_that_leave_the_folder_are_refused(exports, name) -> None:
    old = json.loads(exports[WEEK][MANIFEST])
    said = {member: old[member] for member in old if member not in ("v", "key", "files")}
    with pytest.raises(ExportRefused, match="it lists a file"):
        accept(with_manifest({"cycles.csv": b"", name: b"x"}, said, three_weeks().signer))


@pytest.mark.parametrize(
    "content", [b"", b"[]", b"{}", b"null", b'{"v":1}', b"\xff", b"[" * 100_000, b'{"a":1e999}', b" " * 1_000_001]
)
def test_what_is_no_manifest_is_refused_by_name(content) -> None:
    with pytest.raises(ExportRefused):
        read_manifest(content, b"x" * 64)


def test_a_manifest_of_a_newer_app_says_so(exports) -> None:
    newer = {**json.loads(exports[WEEK][MANIFEST]), "v": 2}
    content = rfc8785.dumps(newer) + b"\n"
    with pytest.raises(ExportRefused, match="version 2"):
        read_manifest(content, three_weeks().signer.sign(content))


def test_the_secret_key_is_in_no_file(exports) -> None:
    secret = three_weeks().signer.secret
    for files in exports.values():
        for content in files.values():
            assert secret not in content and secret.hex().encode() not in content


def test_without_the_pdf_library_the_export_says_what_it_left_out(monkeypatch) -> None:
    monkeypatch.setattr(forms_module, "can_print", lambda: False)
    files = three_weeks().export(WEEK)
    accept(files)
    assert "week.pdf" not in files and "fpdf2" in json.loads(files[MANIFEST])["left_out"]["week.pdf"]


def test_the_same_record_gives_the_same_bytes(exports) -> None:
    assert three_weeks().export(WEEK) == exports[WEEK]


def test_tables_of_baths_and_tests_agree_with_the_cycles(exports) -> None:
    cycles = {row["cycle"]: row for row in rows(exports[WEEK]["cycles.csv"])}
    baths = {row["bath"]: row for row in rows(exports[WEEK]["baths.csv"])}
    tests = rows(exports[WEEK]["tests.csv"])
    done = next(row for row in cycles.values() if row["outcome"] == "completed")
    assert baths["H4"]["lot"] == done["hld_lot"] and baths["H4"]["bath_id"] == done["hld_bath_id"]
    assert baths["H4"]["soaks"] == "1" and baths["H4"]["cycles"] == "1"
    strips = [row for row in tests if row["test"] == "strip test" and row["cycle"] == done["cycle"]]
    assert [(row["result"], row["bath"], row["at"]) for row in strips] == [("pass", "H4", done["strip_at"])]
    leaks = [(row["scope_tag"], row["result"]) for row in tests if row["test"] == "leak test"]
    assert ("G4", "fail") in leaks and ("B2", "pass") in leaks
