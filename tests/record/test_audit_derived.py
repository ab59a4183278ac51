"""Verifying what was made from the journal, and a journal whose hashes were all made to fit again."""

from __future__ import annotations

import json
import random
import shutil
from hashlib import sha256
from pathlib import Path

import pytest
from audit_cases import NEXT_WEEK, THIRD_WEEK, WEEK, differences, forged, in_folder, leave, three_weeks, write_out
from record_cases import copied

from data.audit import exports_in, verify_exports
from data.canonical import canonical
from data.exporters.folder import write_export
from data.exporters.week_forms import week_forms
from data.ledger import Ledger, catch_up
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.leaving import leave_weeks
from data.signing import REHEARSAL_SECRET, keep_secret


@pytest.fixture(scope="module")
def left(tmp_path_factory) -> Path:
    return leave(three_weeks(checkpoint_every=30), tmp_path_factory.mktemp("left"))


@pytest.fixture
def home(left, tmp_path) -> Path:
    return Path(shutil.copytree(left, tmp_path / "home"))


def flips(path: Path, count: int):
    """Flip sampled bits of a file, one at a time; the first and the last byte are always among them."""
    whole = path.read_bytes()
    chance = random.Random(20261125)
    places = {0, len(whole) * 8 - 8, *(chance.randrange(len(whole) * 8) for _ in range(count))}
    for place in sorted(places):
        spoilt = bytearray(whole)
        spoilt[place // 8] ^= 1 << place % 8
        path.write_bytes(spoilt)
        yield place
    path.write_bytes(whole)


def test_a_home_with_three_weeks_agrees_with_itself(left):
    assert in_folder(left) == []
    assert list(verify_exports(exports_in(left / "exports"))) == []
    assert [p.name for p in exports_in(left / "exports")] == [WEEK, NEXT_WEEK, THIRD_WEEK]


@pytest.mark.parametrize("week", [WEEK, NEXT_WEEK, THIRD_WEEK])
def test_flipped_bits_of_a_ledger_are_found_and_the_file_is_named(home, week):
    path = home / "ledger" / f"{week}.json"
    for place in flips(path, 12):
        assert [d.file for d in in_folder(home)] == [f"ledger/{week}.json"], place


def test_flipped_bits_of_texts_are_found(home):
    for path in sorted((home / "texts").iterdir())[:3]:
        for place in flips(path, 3):
            found = in_folder(home)
            assert found and all(path.name in f"{d.file} {d.what}" for d in found), (path, place)


def files_of_export(home: Path) -> list[Path]:
    """Promise every file of the second week's export, of which the first may be a print that not all machines make."""
    return sorted(p for p in (home / "exports" / NEXT_WEEK).rglob("*") if p.is_file())


def test_flipped_bits_of_an_export_are_found_with_their_byte(home):
    folder = home / "exports" / NEXT_WEEK
    paths = files_of_export(home)
    assert {"cycles.csv", "events.csv", "week.json", "manifest.json", "manifest.sig", "week.fhir.json"} <= {
        p.name for p in paths
    }
    for path in paths:
        name = path.relative_to(folder).as_posix()
        for place in flips(path, 3):
            found = in_folder(home)
            assert found and found[0].file in (f"{NEXT_WEEK}/{name}", f"{NEXT_WEEK}/manifest.json"), (name, place)
            if path.suffix == ".csv":
                assert found[0].byte == place // 8


def test_flipped_bits_of_an_export_are_found_without_its_journal(home):
    for path in files_of_export(home):
        for place in flips(path, 25):
            assert list(verify_exports([path.parent if path.parent.name == NEXT_WEEK else path.parent.parent])), (
                path,
                place,
            )


def test_an_export_signed_with_another_key_is_found_where_the_home_is(home):
    (home / "signing-key").unlink()
    keep_secret(RealDisk(home), bytes(range(1, 33)))
    found = in_folder(home)
    assert [d.file for d in found] == [f"{week}/manifest.json" for week in (WEEK, NEXT_WEEK, THIRD_WEEK)]
    assert "not with this home's key" in found[0].what
    (home / "signing-key").write_bytes((home / "signing-key").read_bytes()[:-2] + b"0\n")
    assert [d.file for d in in_folder(home)] == ["signing-key"] * 3


def test_files_taken_out_of_or_put_into_an_export_are_found(home):
    folder = home / "exports" / WEEK
    (folder / "notes.txt").write_text("mine")
    assert [str(d) for d in in_folder(home)] == [f"{WEEK}/notes.txt: it is no part of the export"]
    assert [d.file for d in verify_exports([folder])] == [f"{WEEK}/notes.txt"]
    (folder / "notes.txt").unlink()
    (folder / "columns.csv").unlink()
    assert [str(d) for d in in_folder(home)] == [f"{WEEK}/columns.csv: it is missing"]
    assert [d.file for d in verify_exports([folder])] == [f"{WEEK}/columns.csv"]
    shutil.rmtree(folder / "texts")
    (folder / "week.json").write_bytes(b"[]")
    assert [d.file for d in verify_exports([folder])] == [f"{WEEK}/week.json"]
    folder.rename(folder.with_name("2026-W01"))
    assert [d.file for d in in_folder(home)] == ["2026-W01", "2026-W01/week.json"]


def test_a_missing_text_names_what_rests_on_it(home):
    sha = json.loads((home / "ledger" / f"{WEEK}.json").read_bytes())["document"]["tables"]["cycles"]
    sha = next(iter(sha.values()))["protocol"]["text_sha256"]
    (home / "texts" / sha).unlink()
    found = in_folder(home)
    assert f"texts/{sha}" in [d.file for d in found] and "rests on it" in str(found[-1])


def resealed(path: Path, change) -> None:
    """A ledger with a changed document and a checksum that fits it."""
    document = json.loads(path.read_bytes())["document"]
    change(document)
    body = canonical(document)
    path.write_bytes(b'{"sha256":"%b","document":%b}\n' % (sha256(body).hexdigest().encode(), body))


def first_cycle(document):
    return next(iter(document["tables"]["cycles"].values()))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            lambda d: first_cycle(d)["disinfection"]["soaks"][0].update(contact_s=719),
            "contact_s is 719, the journal says",
        ),
        (lambda d: d["tables"]["cycles"].popitem(), "is missing"),
        (lambda d: d["tables"]["cycles"].update({"3": {}}), "'3' that the journal has not ended"),
        (lambda d: d.update(through=d["through"] - 1), "folded through"),
        (lambda d: d["tables"].update(other={}), "tables besides its cycles"),
        (lambda d: d.update(v=2), "version 2"),
    ],
)
def test_a_ledger_whose_checksum_was_made_to_fit_is_held_against_the_journal(home, change, says):
    resealed(home / "ledger" / f"{WEEK}.json", change)
    (found,) = in_folder(home)
    assert found.file == f"ledger/{WEEK}.json" and says in found.what


def test_a_ledger_that_is_behind_is_no_difference_but_one_that_is_missing_between_others_is(home):
    bench = three_weeks(checkpoint_every=30)
    catch_up(Ledger(bench.disk), bench.journal)
    bench.wait(60)
    bench.must("out-of-service", "B3", reason="dropped", owner="ann")
    assert differences(bench.disk) == []
    (home / "ledger" / f"{NEXT_WEEK}.json").unlink()
    assert [d.file for d in in_folder(home)] == [f"ledger/{NEXT_WEEK}.json"]


def test_an_export_of_a_week_still_open_is_compared_as_of_its_line(tmp_path):
    bench = three_weeks()
    signer = keep_secret(bench.disk, REHEARSAL_SECRET)
    write_export(week_forms(bench.disk, bench.journal, THIRD_WEEK, signer), tmp_path / "exports")
    bench.wait(60)
    bench.must("out-of-service", "B3", reason="dropped", owner="ann")
    bench.wait(60)
    bench.pour("W8")
    write_out(bench.disk, tmp_path)
    assert in_folder(tmp_path) == []
    bench.wait(7 * 86_400)
    bench.pour("W9")
    write_out(bench.disk, tmp_path)
    assert in_folder(tmp_path) == []


def test_a_record_forged_with_fitting_hashes_is_found_by_what_left_it_before(home):
    disk = MemoryDisk({p.relative_to(home).as_posix(): p.read_bytes() for p in home.rglob("*") if p.is_file()})
    forged(disk, '"contact_s":720', '"contact_s":721')
    assert differences(disk, chain_only=True) == []
    journal = home / "journal"
    for path in journal.iterdir():
        path.write_bytes(disk.read(f"journal/{path.name}"))
    (home / "head").write_bytes(disk.read("head"))
    found = [d.file for d in in_folder(home)]
    assert found[0] == f"ledger/{WEEK}.json" and f"{WEEK}/events.csv" in found and f"{WEEK}/cycles.csv" in found


def test_a_forged_event_is_found_by_the_checkpoints_after_it():
    bench = three_weeks(checkpoint_every=30)
    disk = MemoryDisk(copied(bench.disk))
    forged(disk, '"data":{"name":"Tim","role":"technician"}', '"data":{"name":"Tim","role":"lead"}')
    found = differences(disk)
    assert found[0].file == f"journal/{WEEK}.jsonl"
    assert "its state is not what the lines before it give: people.tim.role is 'technician'" in found[0].what
    assert differences(disk, chain_only=True) == []


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"kind":"receive"', '"kind":"recieve"', "can't be folded"),
        ('"technician"},"device":"hh1"', '"technician"},"device":"hh2"', "it is of device 'hh2'"),
        ('"boot":"boot-1","by":"tim"', '"boot":"boot-2","by":"tim"', "without an event that begins it"),
        ('"v":1', '"v":2', "it is of version 2"),
    ],
)
def test_what_no_app_writes_is_named_though_its_hashes_fit(old, new, says):
    bench = three_weeks()
    bench.must("note", "B3", by="tim", what="other", text="x")
    disk = MemoryDisk(copied(bench.disk))
    forged(disk, old, new)
    found = differences(disk)
    assert found and says in found[0].what


def test_damage_does_not_hide_what_is_wrong_elsewhere(home):
    path = home / "journal" / f"{WEEK}.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:20], *lines[21:]]))
    ledger = home / "ledger" / f"{THIRD_WEEK}.json"
    ledger.write_bytes(ledger.read_bytes()[:-1])
    (home / "exports" / NEXT_WEEK / "cycles.csv").write_bytes(b"")
    found = in_folder(home)
    assert (found[0].file, found[0].line, found[0].seq) == (f"journal/{WEEK}.jsonl", 21, 21)
    assert [d.file for d in found[1:]] == [f"{NEXT_WEEK}/cycles.csv", f"ledger/{THIRD_WEEK}.json"]


def test_a_home_without_its_journal_is_found(home):
    shutil.rmtree(home / "journal")
    files = [d.file for d in in_folder(home)]
    assert files[:2] == [f"journal/{THIRD_WEEK}.jsonl", "journal"] and f"ledger/{WEEK}.json" in files
    (home / "head").unlink()
    assert in_folder(home)[0].file == "journal"


def test_the_ledger_made_while_telling_is_the_one_that_catching_up_makes(tmp_path):
    # Two ways to the same documents: week by week with a look back, and along the whole record.
    bench = three_weeks()
    list(leave_weeks(bench.disk, bench.journal, tmp_path))
    write_out(bench.disk, tmp_path)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert differences(RealDisk(tmp_path), exports_in(tmp_path / "exports")) == []
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before
