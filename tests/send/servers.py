"""What an export may meet on its way: a real WebDAV server over TLS, and a line that breaks. All on loopback."""

from __future__ import annotations

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta, timezone
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from cheroot import wsgi
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from wsgidav.wsgidav_app import WsgiDAVApp

USER, PASSWORD = "bench", "Prüf 0815"


def certificate(folder: Path, name: str, address: str = "127.0.0.1", days: int = 2) -> tuple[Path, Path]:
    """Promise a self-signed certificate for a loopback address, and its key, as files."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"test {name}")])
    start = datetime.now(timezone.utc) - timedelta(days=10)
    made = (
        x509.CertificateBuilder().subject_name(subject).issuer_name(subject).public_key(key.public_key())
        .serial_number(x509.random_serial_number()).not_valid_before(start)
        .not_valid_after(start + timedelta(days=10 + days))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address(address))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    paths = folder / f"{name}.pem", folder / f"{name}.key"
    paths[0].write_bytes(made.public_bytes(Encoding.PEM))
    paths[1].write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return paths


@contextmanager
def webdav(
    root: Path, pem: Path, key: Path, requests: list[tuple[str, str, str]] | None = None,
    between: Callable[[dict[str, Any]], str] = lambda environ: "",
) -> Iterator[int]:  # fmt: skip
    """Promise the port of a WebDAV server for `root`, which lets only USER in; `requests` collects what it is asked.

    `between` may change a request before it is answered, or give a status that is answered in its place.
    """
    app = WsgiDAVApp({
        "provider_mapping": {"/": str(root)}, "verbose": 0, "logging": {"enable": False},
        "http_authenticator": {"accept_basic": True, "accept_digest": False, "default_to_digest": False},
        "simple_dc": {"user_mapping": {"*": {USER: {"password": PASSWORD}}}},
    })  # fmt: skip

    def counted(environ, start_response):
        if requests is not None:
            requests.append((environ["REQUEST_METHOD"], environ["PATH_INFO"], environ.get("HTTP_AUTHORIZATION", "")))
        instead = between(environ)
        if not instead:
            return app(environ, start_response)
        environ["wsgi.input"].read()
        start_response(instead, [("Content-Length", "0")])
        return [b""]

    server = wsgi.Server(("127.0.0.1", 0), counted, numthreads=4)
    server.ssl_adapter = BuiltinSSLAdapter(str(pem), str(key))
    server.error_log = lambda *arguments, **named: None
    server.prepare()
    thread = threading.Thread(target=server.serve, daemon=True)
    thread.start()
    try:
        yield server.bind_addr[1]
    finally:
        server.stop()
        thread.join(10)


class Line:
    """A line to a port on loopback that breaks for good after so many bytes from client to server."""

    def __init__(self, port: int, bytes_max: int) -> None:
        self._port, self._left = port, bytes_max
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._open: list[socket.socket] = []
        self.port = self._listener.getsockname()[1]
        self.passed = 0
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def broken(self) -> bool:
        return self._left <= 0

    def close(self) -> None:
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._cut()

    def _cut(self) -> None:
        for end in self._open:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                if self.broken:
                    near.close()
                    continue
                far = socket.create_connection(("127.0.0.1", self._port))
                for end in (near, far):
                    end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self._open += [near, far]
                threading.Thread(target=self._forward, args=(near, far, True), daemon=True).start()
                threading.Thread(target=self._forward, args=(far, near, False), daemon=True).start()

    def _forward(self, source: socket.socket, sink: socket.socket, counted: bool) -> None:
        with suppress(OSError):
            while data := source.recv(4096):
                if counted:
                    with self._lock:
                        data = data[: max(0, self._left)]
                        self._left -= len(data)
                        self.passed += len(data)
                if data:
                    sink.sendall(data)
                if counted and self.broken:
                    self._cut()
                    return
        for end in (source, sink):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


def plain_tls_server(pem: Path, key: Path, answer: bytes) -> tuple[int, threading.Thread]:
    """Promise the port of a TLS server that says `answer` to whatever the first request is, then says no more."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem, key)
    listener = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        with listener, suppress(OSError), context.wrap_socket(listener.accept()[0], server_side=True) as connection:
            connection.recv(65_536)
            connection.sendall(answer)
            connection.recv(65_536)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    return listener.getsockname()[1], thread
