"""What is told first where several things are wrong with a request, and what a caller with a large body gets to see."""

import http.client
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from tests.support.problems import problem_of
from tests.support.services import service_in

ABSENT = [
    ("PUT", "/v1/grades/NO-SUCH/revisions/1/specification"),
    ("POST", "/v1/grades/NO-SUCH/revisions/1/release"),
    ("POST", "/v1/grades/NO-SUCH/revisions/1/withdraw"),
]
MEBIBYTE = 1024 * 1024


@pytest.mark.parametrize(("method", "path"), ABSENT)
async def test_what_is_not_there_is_told_before_a_bad_body(client: httpx.AsyncClient, method: str, path: str) -> None:
    """Mending the body would be work for nothing."""
    problem_of(await client.request(method, path, content=b"{", headers={"content-type": "text/plain"}), 404)


@pytest.mark.parametrize("path", ["/v1/grades/NO-SUCH?x=1", "/v1/grades/NO-SUCH/in-force?at=never"])
async def test_what_is_not_there_is_told_before_a_bad_query(client: httpx.AsyncClient, path: str) -> None:
    """The same for a query."""
    problem_of(await client.get(path), 404)


@pytest.mark.parametrize("encoding", ["gzip", "identity"])
async def test_no_encoding_is_taken(client: httpx.AsyncClient, encoding: str) -> None:
    """Bytes are what they are; one who says otherwise is asked to say nothing."""
    headers = {"content-type": "application/json", "content-encoding": encoding}
    problem_of(await client.post("/v1/checks", content=b"{}", headers=headers), 415)


def test_a_client_that_sends_all_before_it_looks_sees_the_refusal(tmp_path: Path) -> None:
    """Cutting the connection at once would leave it with a broken pipe and no reason."""
    with service_in(tmp_path) as address:
        connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=30)
        connection.request("POST", "/v1/checks", b" " * 50 * MEBIBYTE, {"Content-Type": "application/json"})

        assert 413 == connection.getresponse().status
        connection.close()
