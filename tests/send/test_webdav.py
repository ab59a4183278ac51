"""Sending to a real WebDAV server over TLS, on loopback, with a certificate of its own."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from data.destinations import Credentials, destination
from data.destinations.errors import (
    CertificateRefused,
    CredentialsRefused,
    DeliveryError,
    DestinationAway,
    DestinationLied,
    WeekDiffers,
)
from data.destinations.webdav import WebDavDestination
from data.exporters.manifest import MANIFEST
from data.memory_disk import MemoryDisk
from data.receipts import Receipts
from data.send import deliver, send_waiting
from data.send_progress import silent
from protocols.errors import CommandFault
from tests.send.cases import (
    NEXT_WEEK,
    THIRD_WEEK,
    WEEK,
    Handheld,
    busy_week,
    copied,
    exported,
    prepared,
    there,
    three_weeks,
)
from tests.send.servers import PASSWORD, USER, Line, certificate, plain_tls_server, webdav


@dataclass
class Server:
    root: Path
    port: int
    pem: Path
    requests: list[tuple[str, str, str]]

    def place(self, port: int = 0, path: str = "", credentials: Credentials | None = None) -> WebDavDestination:
        who = credentials or Credentials(USER, PASSWORD)
        return WebDavDestination(f"https://127.0.0.1:{port or self.port}{path}", who, str(self.pem), silence_s=10)


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> tuple[Path, Path]:
    return certificate(tmp_path_factory.mktemp("certificate"), "server")


@pytest.fixture
def server(tmp_path, files) -> Iterator[Server]:
    root, requests = tmp_path / "root", []
    root.mkdir()
    with webdav(root, *files, requests) as port:
        yield Server(root, port, files[0], requests)


def arrived(server: Server, week: str = WEEK) -> bool:
    return there(server.root) == {f"hh1/{week}/{name}": content for name, content in exported(week).items()}


@pytest.mark.parametrize("week", [WEEK, NEXT_WEEK, THIRD_WEEK])
def test_an_export_arrives_whole_and_repeating_adds_nothing(server, week) -> None:
    assert deliver(prepared(week), server.place()).written
    assert arrived(server, week)
    server.requests.clear()
    assert not deliver(prepared(week), server.place()).written
    assert {method for method, _, _ in server.requests} <= {"GET", "DELETE"} and arrived(server, week)


def test_a_folder_of_the_server_whose_name_needs_quoting(server) -> None:
    (server.root / "Endoskopie Süd").mkdir()
    place = server.place(path="/Endoskopie%20S%C3%BCd/")
    deliver(prepared(), place)
    assert set(there(server.root)) == {f"Endoskopie Süd/hh1/{WEEK}/{name}" for name in exported()}
    assert not deliver(prepared(), place).written


def test_cut_off_anywhere_it_goes_on_and_arrives_once(server) -> None:
    sent = prepared(NEXT_WEEK)
    whole = Line(server.port, 10**9)
    deliver(sent, server.place(whole.port))
    whole.close()
    for fraction in range(1, 8):
        server.place().remove("hh1")
        line = Line(server.port, whole.passed * fraction // 8)
        with pytest.raises(DeliveryError):
            deliver(sent, server.place(line.port))
        assert line.broken
        line.close()
        assert not any("/.former" in name for name in there(server.root))
        deliver(sent, server.place())
        assert arrived(server, NEXT_WEEK), fraction
        assert not deliver(sent, server.place()).written


def test_cut_off_again_and_again_it_still_gets_there(server) -> None:
    sent = prepared(NEXT_WEEK)
    tries = 0
    while tries < 30:
        tries += 1
        line = Line(server.port, 90_000)  # a file is sent whole, so the longest must fit
        try:
            deliver(sent, server.place(line.port))
            break
        except DeliveryError:
            assert line.broken
        finally:
            line.close()
    assert 2 < tries < 30 and arrived(server, NEXT_WEEK)


def test_an_open_week_is_replaced_by_one_that_goes_further(server) -> None:
    bench = busy_week("hh7")
    early = bench.prepared()
    assert deliver(early, server.place()).written
    bench.wait(5)
    bench.must("void", "C5", reason="done elsewhere")
    assert deliver(bench.prepared(), server.place()).written
    assert set(there(server.root)) == {f"hh7/{WEEK}/{name}" for name in bench.export()}
    with pytest.raises(WeekDiffers, match="through line"):
        deliver(early, server.place())


def test_another_handheld_of_the_same_name_overwrites_nothing(server) -> None:
    deliver(prepared(), server.place())
    other = Handheld("hh1")
    other.whole_cycle("B2")
    impostor = other.prepared()
    with pytest.raises(WeekDiffers):
        deliver(impostor, server.place())
    assert arrived(server)


def test_a_file_spoilt_there_is_found_and_mended(server) -> None:
    deliver(prepared(), server.place())
    path = server.root / "hh1" / WEEK / "cycles.csv"
    path.write_bytes(path.read_bytes()[:-5] + b"xxxxx")
    assert deliver(prepared(), server.place()).written and arrived(server)


def test_an_unknown_certificate_is_refused_before_anything_is_said(server, tmp_path) -> None:
    stranger, _ = certificate(tmp_path, "stranger")
    for trusted in (str(stranger), ""):
        place = WebDavDestination(f"https://127.0.0.1:{server.port}", Credentials(USER, PASSWORD), trusted)
        with pytest.raises(CertificateRefused, match="can't prove who it is"):
            deliver(prepared(), place)
    assert server.requests == []


@pytest.mark.parametrize("wrong", [{"address": "127.0.0.2"}, {"days": -1}])
def test_a_certificate_of_another_place_or_time_is_refused(tmp_path, wrong) -> None:
    pem, key = certificate(tmp_path, "wrong", **wrong)
    (tmp_path / "root").mkdir()
    requests: list[tuple[str, str, str]] = []
    with webdav(tmp_path / "root", pem, key, requests) as port:
        place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), str(pem))
        with pytest.raises(CertificateRefused):
            deliver(prepared(), place)
    assert requests == []


@pytest.mark.parametrize("credentials", [Credentials(), Credentials(USER, "guess"), Credentials("nobody", PASSWORD)])
def test_wrong_credentials_are_refused_and_shown_nowhere(server, credentials) -> None:
    with pytest.raises(CredentialsRefused) as raised:
        deliver(prepared(), server.place(credentials=credentials))
    assert "guess" not in str(raised.value) and PASSWORD not in repr(credentials)
    assert there(server.root) == {}


@pytest.mark.parametrize(
    "address",
    ["http://127.0.0.1/x", "ftp://127.0.0.1", "https://", "https://u:p@127.0.0.1/x", "https://h/x?y=1", "https://h:x"],
)
def test_addresses_that_are_not_safe_are_refused(address) -> None:
    with pytest.raises(CommandFault) as raised:
        destination(address, Credentials())
    assert "u:p" not in str(raised.value)


def test_a_certificate_file_that_is_none_is_named(tmp_path) -> None:
    (tmp_path / "not.pem").write_text("hello")
    for name in ("not.pem", "absent.pem"):
        with pytest.raises(CommandFault, match="no certificates"):
            destination("https://127.0.0.1", Credentials(), str(tmp_path / name))


def test_nobody_there_or_nothing_said_is_away(files, server) -> None:
    line = Line(server.port, 0)
    line.close()
    with pytest.raises(DestinationAway):
        deliver(prepared(), server.place(line.port))
    port, thread = plain_tls_server(*files, b"")
    place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(), str(files[0]), silence_s=0.05)
    with pytest.raises(DestinationAway, match=r"said nothing for 0\.05 s"):
        deliver(prepared(), place)
    place.close()
    thread.join(10)


@pytest.mark.parametrize(
    ("answer", "error"),
    [
        (b"HTTP/1.1 302 Found\r\nLocation: https://127.0.0.2/\r\nContent-Length: 0\r\n\r\n", DeliveryError),
        (b"HTTP/1.1 507 Insufficient Storage\r\nContent-Length: 0\r\n\r\n", DeliveryError),
        (b"HTTP/1.1 500 Broken\r\nContent-Length: 0\r\n\r\n", DeliveryError),
        (b"this is no HTTP\r\n\r\n", DeliveryError),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 999999999\r\n\r\n" + b"x" * 2_000_000, WeekDiffers),
        (b"HTTP/1.1 403 Forbidden\r\nContent-Length: 0\r\n\r\n", CredentialsRefused),
    ],
)
def test_odd_answers_are_named_errors(files, answer, error) -> None:
    port, thread = plain_tls_server(*files, answer)
    place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), str(files[0]), silence_s=5)
    with pytest.raises((error, DestinationAway)):
        deliver(prepared(), place)
    place.close()
    thread.join(10)


def test_credentials_are_in_no_file_of_home_or_destination(server, tmp_path, monkeypatch, capsys) -> None:
    import main

    monkeypatch.setenv("BASINBELL_SEND_USER", USER)
    monkeypatch.setenv("BASINBELL_SEND_PASSWORD", PASSWORD)
    home = tmp_path / "home"
    assert main.main(["rehearse", "--hours", "1", "--scopes", "1", "--out", str(home)]) == 0
    arguments = ["--home", str(home), "send", "--ca", str(server.pem)]
    assert main.main([*arguments, "--to", f"https://127.0.0.1:{server.port}/"]) == 0
    assert main.main([*arguments, "--week", WEEK]) == 0  # it remembers where to
    shown = capsys.readouterr().out
    assert "sent and read back" in shown and "was there already, read back" in shown
    for content in (*there(home).values(), *there(server.root).values(), shown.encode()):
        assert PASSWORD.encode() not in content
    receipt = json.loads(there(home)[f"receipts/{WEEK}.json"])["receipts"][0]
    assert receipt["to"] == f"https://127.0.0.1:{server.port}"
    assert (server.root / "rehearsal" / WEEK / MANIFEST).exists()


def after(count: int, status: str) -> Callable[[dict[str, Any]], str]:
    """Answer every PUT after the first so many with a status."""
    left = [count]

    def between(environ: dict[str, Any]) -> str:
        if environ["REQUEST_METHOD"] != "PUT":
            return ""
        left[0] -= 1
        return status if left[0] < 0 else ""

    return between


@pytest.mark.parametrize(
    ("status", "error", "words"),
    [
        ("507 Insufficient Storage", DeliveryError, "no space left"),  # RFC 4918, 11.5
        ("403 Forbidden", CredentialsRefused, "may not do that there"),
        ("423 Locked", DeliveryError, "locked"),
        ("503 Service Unavailable", DeliveryError, "503"),
    ],
)
@pytest.mark.parametrize("count", [0, 4])
def test_a_full_read_only_or_busy_server_is_named_and_what_was_written_is_used(
    tmp_path, files, status, error, words, count
) -> None:
    (tmp_path / "root").mkdir()
    sent = prepared(NEXT_WEEK)
    with webdav(tmp_path / "root", *files, between=after(count, status)) as port:
        place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), str(files[0]))
        with pytest.raises(error, match=words):
            deliver(sent, place)
        place.close()
    assert not any(name.startswith("hh1/2026") for name in there(tmp_path / "root"))
    requests: list[tuple[str, str, str]] = []
    with webdav(tmp_path / "root", *files, requests) as port:
        place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), str(files[0]))
        deliver(sent, place)
        place.close()
    assert sum(method == "PUT" for method, *_ in requests) == len(sent.files) - count


@pytest.mark.parametrize("lie", [b"", b"?", b"short"])
def test_a_server_that_lies_about_success_gets_no_receipt(tmp_path, files, lie) -> None:
    (tmp_path / "root").mkdir()

    def between(environ: dict[str, Any]) -> str:
        if environ["REQUEST_METHOD"] == "PUT" and environ["PATH_INFO"].endswith("cycles.csv"):
            content = environ["wsgi.input"].read()
            content = content[:-1] if lie == b"short" else content[:-1] + lie if lie else b""
            environ["wsgi.input"], environ["CONTENT_LENGTH"] = BytesIO(content), str(len(content))
        return ""

    bench = three_weeks()
    disk = MemoryDisk(copied(bench))
    with webdav(tmp_path / "root", *files, between=between) as port:
        place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), str(files[0]))
        found = list(send_waiting(disk, bench.journal, place, bench.signer, lambda: "now", silent, [WEEK]))
        place.close()
    assert [(week, type(what)) for week, what in found] == [(WEEK, DestinationLied)]
    assert Receipts(disk).week(WEEK) == []
    assert not any(name.startswith("hh1/2026") for name in there(tmp_path / "root"))
