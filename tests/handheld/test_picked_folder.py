"""A week goes into a folder that the person picked on Android: whole, once, and cut off anywhere."""

import os
import sys
import threading
import types

import pytest

from data.destinations import Credentials, destination
from data.destinations.document_tree import DocumentTreeDestination, shown
from data.destinations.errors import DeliveryError, DestinationAway
from data.memory_disk import MemoryDisk
from data.place import leave_thread
from data.receipts import Receipts
from data.send import Delivered, deliver, send_waiting
from protocols.clock import FakeClock, parse_wall
from screens.background import Background
from screens.senses.pick_android import FolderPicker
from screens.senses.worker import Worker
from tests.handheld.documents import TREE, Documents
from tests.handheld.fake_android import FakeAndroid, Intent
from tests.send.cases import WEEK, copied, prepared, small, there, three_weeks
from tests.send.test_folder import Faulty, Killed


@pytest.fixture
def android(tmp_path, monkeypatch):
    (tmp_path / "stick").mkdir()
    found = FakeAndroid(FakeClock(parse_wall("2026-11-25T10:42:00+01:00")), {})
    found.documents = Documents(tmp_path / "stick")
    monkeypatch.setitem(sys.modules, "jnius", found.module())
    return found


def files_of(export):
    return {f"{export.manifest.device}/{WEEK}/{name}": content for name, content in export.files.items()}


def test_the_address_of_a_picked_folder_is_a_destination_and_readable():
    place = destination(TREE, Credentials())
    assert isinstance(place, DocumentTreeDestination) and place.label == TREE
    assert shown(TREE) == "1A2B-3C4D:Basin"
    assert shown("/media/stick") == "/media/stick"
    place.close()


def test_a_week_arrives_whole_and_repeating_writes_nothing(android):
    place = DocumentTreeDestination(TREE)
    assert deliver(prepared(), place).written
    assert there(android.documents.root) == files_of(prepared())
    again = Faulty(place)
    assert deliver(prepared(), again) == Delivered(prepared().manifest, written=False)
    assert again.writes == []
    assert place.names("") == ["hh1"] and place.names("hh1") == [WEEK] and place.names("nobody") == []


@pytest.mark.parametrize("after", [False, True])
def test_cut_off_at_every_operation_the_next_try_arrives(android, monkeypatch, after):
    monkeypatch.setattr(os, "fsync", lambda handle: None)
    export = small(5)
    counting = Faulty(DocumentTreeDestination(TREE))
    deliver(export, counting)
    for at in range(1, counting.operations):
        DocumentTreeDestination(TREE).remove("hh7")
        with pytest.raises(Killed):
            deliver(export, Faulty(DocumentTreeDestination(TREE), at, after))
        deliver(export, DocumentTreeDestination(TREE))
        assert there(android.documents.root) == files_of(export), at


def test_a_week_that_went_on_takes_the_place_of_its_earlier_state(android):
    place = DocumentTreeDestination(TREE)
    deliver(small(5), place)
    deliver(small(9, closed=True), place)
    assert there(android.documents.root) == files_of(small(9, closed=True))


@pytest.mark.parametrize("trouble", ["gone", "refused", "full", "no rename", "own names"])
def test_what_goes_wrong_is_named_keeps_no_receipt_and_the_next_try_arrives(android, trouble):
    documents, place = android.documents, DocumentTreeDestination(TREE)
    moved = documents.root.with_name("away")
    if trouble == "gone":
        documents.root.rename(moved)
    documents.allowed = trouble != "refused"
    documents.full = trouble == "full"
    documents.renames = trouble != "no rename"
    documents.plain_names = trouble != "own names"
    bench = three_weeks()
    disk = MemoryDisk(copied(bench))
    outcome = list(
        send_waiting(disk, bench.journal, place, bench.signer, lambda: "2026-12-09T10:00:00Z", lambda _: None)
    )
    ((week, error),) = outcome
    assert week == WEEK and Receipts(disk).week(WEEK) == []
    assert type(error) is (DestinationAway if trouble in ("gone", "refused") else DeliveryError)
    assert "1A2B-3C4D:Basin" in str(error) and "pick" in str(error)
    if trouble == "gone":
        moved.rename(documents.root)
    documents.allowed = documents.renames = documents.plain_names = True
    documents.full = False
    deliver(prepared(), place)
    found = {name: content for name, content in there(documents.root).items() if not name.endswith(".bin")}
    assert found == files_of(prepared())


def test_a_file_in_the_place_of_a_folder_and_a_folder_in_that_of_a_file_are_not_read(android):
    place = DocumentTreeDestination(TREE)
    place.write("a", b"a file")
    place.make_folder("b/c")
    assert place.read("b", 10) is None and place.read("a/x", 10) is None and place.read("b/c/x", 10) is None
    assert place.read("a", 3) == b"a fi", "cut to the length asked for and one byte more"
    with pytest.raises(DeliveryError):
        place.rename("a", "b/a")
    with pytest.raises(DeliveryError):
        place.rename("b", "a")
    place.remove("b")
    place.remove("b")
    assert place.names("") == ["a"]


class Activity(types.ModuleType):
    """python-for-android's module `android.activity`."""

    def bind(self, on_activity_result):
        self.answer = on_activity_result


@pytest.fixture
def activity(monkeypatch):
    package, found = types.ModuleType("android"), Activity("android.activity")
    package.activity = found
    monkeypatch.setitem(sys.modules, "android", package)
    monkeypatch.setitem(sys.modules, "android.activity", found)
    return found


def picked(address=TREE):
    from tests.handheld.documents import Address

    intent = Intent()
    intent.getData = lambda: Address(address)
    return intent


def test_picking_keeps_the_leave_and_hands_the_address_to_the_screens_thread(android, activity):
    posted, got = [], []
    picker = FolderPicker(posted.append)
    assert picker.pick(got.append)
    (page,) = android.opened
    # Intent.ACTION_OPEN_DOCUMENT_TREE; read, write, and both for good (1, 2, 64), on all below it (128).
    assert page.action == "android.intent.action.OPEN_DOCUMENT_TREE" and page.flags == 1 | 2 | 64 | 128
    activity.answer(android.asked_code, -1, picked())  # Activity.RESULT_OK
    assert got == [] and android.documents.kept == [(TREE, 1 | 2)]
    posted.pop()()
    assert got == [TREE]
    activity.answer(android.asked_code, -1, picked())
    assert posted == [], "one question has one answer"


@pytest.mark.parametrize(("code", "result", "data"), [(7001, 0, None), (7001, -1, None), (1, -1, picked())])
def test_going_back_picks_nothing(android, activity, code, result, data):
    posted = []
    FolderPicker(posted.append).pick(posted.append)
    activity.answer(code, result, data)
    assert posted == [] and android.documents.kept == []


def test_the_answer_to_another_question_takes_nothing_away(android, activity):
    posted, got = [], []
    FolderPicker(posted.append).pick(got.append)
    activity.answer(1, -1, None)
    activity.answer(android.asked_code, -1, picked())
    posted.pop()()
    assert got == [TREE]


def test_without_a_page_to_pick_with_it_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "android", None)
    assert FolderPicker(lambda call: call()).pick(lambda address: None).why == "why.no_picker"


def test_every_thread_of_our_own_is_taken_off_java_before_it_ends(android):
    background = Background("test", lambda call: call())
    background.run(lambda: 1, lambda answer: None)
    background.finish()
    assert android.detached == 1
    worker, done = Worker("test"), threading.Event()
    worker.submit("k", 0, done.set)
    assert done.wait(10)
    worker.close(10)
    assert android.detached == 2


def test_where_there_is_no_java_leaving_a_thread_is_nothing(monkeypatch):
    monkeypatch.delitem(sys.modules, "jnius", raising=False)
    leave_thread()
    assert "jnius" not in sys.modules
