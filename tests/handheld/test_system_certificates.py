"""On Android the system's own list of certificates is trusted, which Python does not find by itself there."""

import ssl

import pytest

from data.destinations import Credentials, web
from data.destinations.errors import CertificateRefused
from data.destinations.web import system_certificates
from data.destinations.webdav import WebDavDestination
from tests.send.servers import PASSWORD, USER, certificate, webdav


def test_every_certificate_of_the_first_folder_that_is_there_is_taken(tmp_path):
    list_of_system = tmp_path / "cacerts"
    list_of_system.mkdir()
    for name in ("one", "two"):
        pem, _ = certificate(tmp_path, name)
        # As Android's files are: the certificate, then what it says as text.
        (list_of_system / f"{name}.0").write_bytes(pem.read_bytes() + "Certificate:\n  Issuer: CN=Prüf\n".encode())
    found = system_certificates([tmp_path / "newer, not there", list_of_system, tmp_path])
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.load_verify_locations(cadata=found)
    assert context.cert_store_stats()["x509"] == 2
    assert system_certificates([tmp_path / "none"]) is None


@pytest.mark.parametrize("known", [True, False])
def test_a_server_that_the_system_knows_is_trusted_and_another_is_not(tmp_path, monkeypatch, known):
    pem, key = certificate(tmp_path, "server")
    other, _ = certificate(tmp_path, "other")
    trusted, root = tmp_path / "cacerts", tmp_path / "root"
    trusted.mkdir()
    root.mkdir()
    (trusted / "a.0").write_bytes((pem if known else other).read_bytes())
    monkeypatch.setattr(web, "_OF_ANDROID", (str(trusted),))
    with webdav(root, pem, key) as port:
        place = WebDavDestination(f"https://127.0.0.1:{port}", Credentials(USER, PASSWORD), "")
        if known:
            assert place.read("nothing", 10) is None
        else:
            with pytest.raises(CertificateRefused):
                place.read("nothing", 10)
        place.close()
