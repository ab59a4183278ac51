"""Other handhelds as of their last exports, from a destination, a server and a gathered folder; and listings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from data.destinations import Credentials, FolderDestination
from data.destinations.errors import DeliveryError, DestinationAway
from data.destinations.webdav import LISTING_BYTES_MAX, WebDavDestination, listed
from data.exporters.manifest import MANIFEST, SIGNATURE, with_manifest
from data.others import HANDHELDS_MAX, Other, Unread, others
from data.send import deliver
from data.signing import signer
from data.unit_gather import gather
from data.unit_gather.folder import FolderUnit
from protocols.clock import parse_wall
from tests.send.cases import WEEK, Handheld, busy_week, exported, put
from tests.send.servers import PASSWORD, USER, certificate, webdav


@pytest.fixture
def stick(tmp_path) -> FolderDestination:
    (tmp_path / "stick").mkdir()
    return FolderDestination(tmp_path / "stick")


def sent(place: FolderDestination, *devices: str) -> list[Handheld]:
    found = [busy_week(device) for device in devices]
    for bench in found:
        deliver(bench.prepared(), place)
    return found


def test_what_was_under_way_then_is_told_with_its_time_and_its_own_exports_are_left_out(stick) -> None:
    hh1, hh2 = sent(stick, "hh1", "hh2")
    (one,) = others(stick, hh1.signer.public)
    assert isinstance(one, Other)
    assert (one.device, one.unit, one.week, one.cycles) == ("hh2", "Bench", WEEK, 3)
    assert one.as_of_ms == parse_wall(list(hh2.journal.lines())[-1]["wall"])
    cycle = hh2.unit.cycles["C5"]
    assert [(s.tag, s.step, s.since_ms, s.waits) for s in one.scopes] == [
        ("C5", cycle.step, cycle.step_since.wall_ms, "")
    ]
    assert one.baths == ("H4",)


def test_a_scope_that_waits_for_a_lead_says_so_and_the_end_of_the_chain_counts(stick) -> None:
    bench = Handheld("hh2")
    bench.soaking("B2")
    deliver(bench.prepared(), stick)
    assert others(stick, "")[0].scopes[0].step == "disinfectant-soak"
    bench.wait(720 + 600 + 30)
    bench.must("lift", "B2", temp_c=21)
    deliver(bench.prepared(), stick)
    (one,) = others(stick, "")
    assert "past its limit" in one.scopes[0].waits
    # The state is that of a checkpoint and the lines after it, however many there are of either.
    for number in range(450):
        bench.wait(1)
        bench.must("note", "B2", what="other", text=f"note {number}")
    deliver(bench.prepared(), stick)
    (later,) = others(stick, "")
    assert later.scopes == one.scopes and later.as_of_ms > one.as_of_ms


def test_an_export_seen_before_is_not_read_again(stick, monkeypatch) -> None:
    sent(stick, "hh2")
    first = others(stick, "")
    read: list[str] = []
    real = FolderDestination.read
    monkeypatch.setattr(FolderDestination, "read", lambda self, path, most: read.append(path) or real(self, path, most))
    assert others(stick, "", first) == first
    assert [path for path in read if "chain" in path] == []


def test_a_gathered_folder_shows_them_too(tmp_path, stick) -> None:
    sent(stick, "hh1", "hh2")
    gather([Path(stick.label)], FolderUnit(tmp_path / "unit"), None, lambda line: None)
    assert others(FolderDestination(tmp_path / "unit"), "") == others(stick, "")


def test_what_cannot_be_trusted_is_named_and_hides_no_other(stick) -> None:
    sent(stick, "hh1", "hh2", "hh3")
    root = Path(stick.label)
    chain = root / "hh1" / WEEK / "chain" / f"{WEEK}.jsonl"
    chain.write_bytes(chain.read_bytes().replace(b"hh1", b"hhx", 1))
    (root / "hh2" / WEEK / "manifest.sig").unlink()
    put({"hh4/2026-W48/manifest.json": b"{}", "notes/readme.txt": b"x", ".hidden/x": b"x", "a.txt": b"x"}, root)
    found = {one.device: one for one in others(stick, "")}
    assert set(found) == {"hh1", "hh2", "hh3", "hh4"} and isinstance(found["hh3"], Other)
    for name in ("hh1", "hh2", "hh4"):
        assert isinstance(found[name], Unread) and found[name].why


def checkpoint(**data: Any) -> bytes:
    return json.dumps({"kind": "checkpoint", "data": data}).encode() + b"\n"


def under_way(**odd: Any) -> bytes:
    stamp = {"proven_ms": 0, "longest_ms": 0, "wall_ms": 1_700_000_000_000}
    plain = {"id": "x-000001", "scope": "B2", "text_sha256": "", "case": "", "opened": stamp, "step": "wipe",
             "step_since": stamp, "last_seq": 1, "last_do": "receive", "last_at": stamp, **odd}  # fmt: skip
    return checkpoint(cycles={"B2": plain})


FAR = {"proven_ms": 0, "longest_ms": 0, "wall_ms": 10**30}
BENT_CHAINS = [
    b"", b"5\n", b"[]\n", b"\xff\n", b"[" * 100_000 + b"\n", checkpoint(cycles=5), checkpoint(cycles={"B2": 5}),
    checkpoint(cycles={"B2": {"id": 1}}), checkpoint(odd=1), b'{"kind":"checkpoint","data":5}\n', under_way(scope=5),
    under_way(step=["x"]), under_way(hold={"kind": "x", "why": 5}), under_way(step_since=5), under_way(step_since=FAR),
    under_way(scope="x" * 300), checkpoint(baths={"H4": {"label": 5, "kind": "disinfectant"}}),
    checkpoint() + b'{"kind":"odd"}\n', checkpoint() + b'{"kind":5,"data":{}}\n',
]  # fmt: skip


@pytest.mark.parametrize("chain", BENT_CHAINS)
def test_lines_of_any_form_that_somebody_signed_are_named_and_hide_no_other(stick, chain: bytes) -> None:
    sent(stick, "hh1")
    bent(stick, {f"chain/{WEEK}.jsonl": chain})
    good, odd = others(stick, "")
    assert isinstance(good, Other) and isinstance(odd, Unread) and odd.device == "hh2" and odd.why


@pytest.mark.parametrize("at", ["x", "", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"])
def test_an_export_as_of_no_time_is_no_export(stick, at: str) -> None:
    bent(stick, {}, at=at)
    (odd,) = others(stick, "")
    assert isinstance(odd, Unread) and "manifest.json" in odd.why


def bent(place: FolderDestination, changed: dict[str, bytes], **said: Any) -> None:
    """An export of hh2 with other files or another manifest, signed by whoever bent it."""
    files = {**exported(), **changed}
    told = {**json.loads(files.pop(MANIFEST)), "device": "hh2", **said}
    del files[SIGNATURE], told["key"], told["files"]
    put(with_manifest(files, told, signer(bytes(32))), Path(place.label) / "hh2" / WEEK)


def test_a_whole_export_that_is_signed_anew_is_read(stick) -> None:
    bent(stick, {})
    bent_too = under_way()
    (one,) = others(stick, "")
    assert isinstance(one, Other)
    bent(stick, {f"chain/{WEEK}.jsonl": bent_too})
    (one,) = others(stick, "")
    assert isinstance(one, Other) and [scope.tag for scope in one.scopes] == ["B2"]


def test_an_absent_place_is_away_and_a_crowd_is_cut(tmp_path, stick) -> None:
    with pytest.raises(DestinationAway):
        others(FolderDestination(tmp_path / "none"), "")
    for number in range(HANDHELDS_MAX + 5):
        put({f"d{number:03}/{WEEK}/manifest.json": b"{}"}, Path(stick.label))
    assert len(others(stick, "")) == HANDHELDS_MAX


def test_a_server_lists_what_it_holds(tmp_path) -> None:
    (tmp_path / "root" / "unit süd").mkdir(parents=True)
    sent(FolderDestination(tmp_path / "root" / "unit süd"), "hh1", "hh2")
    pem, key = certificate(tmp_path, "server")
    with webdav(tmp_path / "root", pem, key) as port:
        for path in ("/unit süd", "/unit%20s%C3%BCd/"):
            place = WebDavDestination(f"https://127.0.0.1:{port}{path}", Credentials(USER, PASSWORD), str(pem))
            assert place.names("") == ["hh1", "hh2"] and place.names("hh1") == [WEEK] and place.names("none") == []
            assert [one.device for one in others(place, "")] == ["hh1", "hh2"]
            place.close()


def test_folders_list_what_they_hold(tmp_path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "a").write_text("x")
    place = FolderDestination(tmp_path)
    assert (
        place.names("") == ["a", "b"] and place.names("b") == [] and place.names("a") == [] and place.names("c") == []
    )


HREF = '<?xml version="1.0"?><multistatus xmlns="DAV:">{}</multistatus>'


@pytest.mark.parametrize(
    ("hrefs", "names"),
    [
        (["/x/", "/x/hh1/", "/x/hh2"], ["hh1", "hh2"]),
        (["https://server/x/", "https://server/x/s%C3%BCd/"], ["süd"]),
        (["/x/hh1/deep/", "/y/hh3/", "/x/../etc"], []),
        ([], []),
    ],
)
def test_listings_are_names_directly_below(hrefs: list[str], names: list[str]) -> None:
    """Form of the answer: RFC 4918, 9.1 and 14.16."""
    body = HREF.format("".join(f"<response><href>{href}</href></response>" for href in hrefs))
    assert listed(body.encode(), "/x/") == names


@pytest.mark.parametrize(
    "body",
    [
        b"", b"<html>", b"<!DOCTYPE x [<!ENTITY a 'b'>]><multistatus xmlns='DAV:'><href>&a;</href></multistatus>",
        b"x" * (LISTING_BYTES_MAX + 1), b"\xff\xfe",
        HREF.format("<response><href>//[</href></response>").encode(),
    ],
)  # fmt: skip
def test_odd_listings_are_named_errors(body: bytes) -> None:
    with pytest.raises(DeliveryError):
        listed(body, "/x/")
