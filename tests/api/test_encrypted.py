"""TLS by two files: spoken where they fit, and where they don't, one sentence before anything listens."""

import contextlib
import http.client
import json
import ssl
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.certificates import Certified, certified
from tests.support.commands import run
from tests.support.servers import SECONDS_TO_END, Server, free_port, serving
from tests.support.services import HOST

SECRET = "BEGIN PRIVATE"  # noqa: S105  it is to be found nowhere


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Certified:
    """A certificate for loopback."""
    return certified(tmp_path_factory.mktemp("certificate"))


@pytest.fixture
def server(tmp_path: Path, certificate: Certified) -> Iterator[Server]:
    """A server that speaks TLS."""
    with serving(tmp_path, **certificate.settings) as made:
        yield made


def asked(server: Server, context: ssl.SSLContext) -> http.client.HTTPResponse:
    """The answer to a question over TLS."""
    connection = http.client.HTTPSConnection(HOST, server.port, context=context, timeout=SECONDS_TO_END)
    with contextlib.closing(connection):
        connection.request("GET", "/v1/units")
        answer = connection.getresponse()
        assert json.loads(answer.read())
        return answer


@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3])
def test_who_trusts_the_certificate_is_answered(server: Server, certificate: Certified, version: ssl.TLSVersion) -> None:
    """By old stations' TLS 1.2 too; and a browser learns to come by https alone."""
    context = ssl.create_default_context(cafile=certificate.certificate)
    context.minimum_version = context.maximum_version = version

    answer = asked(server, context)

    assert 200 == answer.status
    assert "max-age=31536000" == answer.headers["Strict-Transport-Security"]
    assert server.line.startswith(f"Marker Yarn answers at https://127.0.0.1:{server.port},")


def test_who_speaks_plainly_is_not_answered(server: Server) -> None:
    """A key that is sent in the clear by mistake must not seem to work."""
    connection = http.client.HTTPConnection(HOST, server.port, timeout=SECONDS_TO_END)
    with contextlib.closing(connection):
        connection.request("GET", "/health/live")
        with pytest.raises((http.client.HTTPException, ConnectionError)):
            connection.getresponse()


def test_who_does_not_trust_the_certificate_is_not_talked_into_it(server: Server) -> None:
    """The test above would else prove nothing."""
    with pytest.raises(ssl.SSLCertVerificationError):
        asked(server, ssl.create_default_context())


def test_without_tls_no_browser_is_told_to_come_by_it(tmp_path: Path) -> None:
    """It would find nothing there."""
    with serving(tmp_path) as plain:
        connection = http.client.HTTPConnection(HOST, plain.port, timeout=SECONDS_TO_END)
        with contextlib.closing(connection):
            connection.request("GET", "/health/live")

            assert None is connection.getresponse().getheader("Strict-Transport-Security")


def refusal(folder: Path, **settings: str) -> str:
    """What a server prints that does not start by these settings; its exit status is 1, and no secret is in what it prints."""
    ended = run(folder, "serve", "--port", free_port(), **settings)
    assert 1 == ended.returncode
    assert SECRET not in ended.stderr
    assert "Traceback" not in ended.stderr
    return ended.stderr


def test_files_that_do_not_fit_are_told_before_anything_listens(tmp_path: Path, certificate: Certified) -> None:
    """An operator mends what is named; a server that starts and answers nobody would have to be found out about."""
    other, locked = certified(tmp_path, "other"), certified(tmp_path, "locked", "a password")
    good, cut = certificate.settings, tmp_path / "cut.pem"
    cut.write_text("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n", encoding="utf-8")

    said = {
        "MARKERYARN_TLS_KEY is not set.": {"TLS_CERTIFICATE": good["TLS_CERTIFICATE"]},
        "MARKERYARN_TLS_CERTIFICATE is not set.": {"TLS_KEY": good["TLS_KEY"]},
        "The file in MARKERYARN_TLS_CERTIFICATE can't be read (No such file or directory).": {
            **good,
            "TLS_CERTIFICATE": str(tmp_path / "none.pem"),
        },
        "The file in MARKERYARN_TLS_KEY can't be read (Is a directory).": {**good, "TLS_KEY": str(tmp_path)},
        "The file in MARKERYARN_TLS_CERTIFICATE has no certificate in PEM.": {**good, "TLS_CERTIFICATE": good["TLS_KEY"]},
        "The file in MARKERYARN_TLS_KEY has no private key in PEM.": {**good, "TLS_KEY": good["TLS_CERTIFICATE"]},
        "The key in MARKERYARN_TLS_KEY does not belong to the certificate": {**good, "TLS_KEY": str(other.key)},
        "Give a certificate and its key without a password, both in PEM.": {**good, "TLS_CERTIFICATE": str(cut)},
        "can't be used. Give a certificate and its key without a password": locked.settings,
    }
    for sentence, settings in said.items():
        assert sentence in refusal(tmp_path, **settings)
