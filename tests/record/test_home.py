"""The home folder and the texts kept by content."""

import hashlib

import pytest
from record_cases import opened, write

from data.home import Texts, ledger_path, require_journal
from data.memory_disk import MemoryDisk
from protocols.errors import DiskError, RecordDamaged
from tests.faults import FaultyDisk


def test_the_name_of_a_text_is_its_sha256():
    # Source of the digest: FIPS 180-2, appendix B.1, the message "abc".
    disk = MemoryDisk()
    digest = Texts(disk).keep("abc")
    assert digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert Texts(disk).get(digest) == "abc" and disk.names("texts") == [digest]


def test_a_text_is_kept_once_as_its_utf8_bytes():
    disk = FaultyDisk()
    text = 'name = "Größe ×3"\r\n'
    digest = Texts(disk).keep(text)
    assert digest == hashlib.sha256(text.encode()).hexdigest()
    disk.fill()
    assert Texts(disk).keep(text) == digest
    with pytest.raises(DiskError):
        Texts(disk).keep("another")
    assert Texts(disk).get(digest) == text


def test_a_changed_or_missing_text_is_damage():
    disk = MemoryDisk()
    texts = Texts(disk)
    digest = texts.keep("contact_time_s = 720")
    disk.files[f"texts/{digest}"][-1] ^= 1
    with pytest.raises(RecordDamaged, match="holds a text of SHA-256"):
        texts.get(digest)
    with pytest.raises(RecordDamaged):
        texts.keep("contact_time_s = 720")
    disk.remove(f"texts/{digest}")
    with pytest.raises(RecordDamaged, match="is missing"):
        texts.get(digest)


def test_a_home_that_lost_its_journal_does_not_pass_for_a_new_one():
    disk = MemoryDisk()
    require_journal(disk)
    Texts(disk).keep("kept before the first event")
    require_journal(disk)
    write(opened(disk), 1, 1)
    disk.replace(ledger_path("2026-W48"), b"{}")
    require_journal(disk)
    disk.remove("journal/2026-W48.jsonl")
    with pytest.raises(RecordDamaged, match=r"the journal is missing though ledger/2026-W48\.json is there"):
        require_journal(disk)


@pytest.mark.parametrize("path", ["set-aside/2026-W48-7", "purged/2026-W40.json", "receipts/2026-W40.json"])
def test_whatever_only_a_record_leaves_keeps_an_empty_one_from_beginning(path):
    with pytest.raises(RecordDamaged, match=f"the journal is missing though {path} is there"):
        require_journal(MemoryDisk({path: b"{}"}))
