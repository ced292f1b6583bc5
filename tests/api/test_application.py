"""What holds for every answer, whatever becomes of the request."""

import asyncio
import json
from typing import Any

import httpx
import pytest

from service.api.application import Application
from tests.support import examples
from tests.support.problems import problem_of

JSON = {"content-type": "application/json"}
CHECK = json.dumps(examples.CHECK).encode()


@pytest.mark.parametrize("path", ["/v1/units", "/nowhere", "/health/live", "/docs"])
async def test_every_answer_has_the_headers_that_protect_its_reader(client: httpx.AsyncClient, path: str) -> None:
    """A refusal too can be opened in a browser."""
    headers = (await client.get(path)).headers

    assert "nosniff" == headers["x-content-type-options"]
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert "no-referrer" == headers["referrer-policy"]
    assert "no-store" == headers["cache-control"]
    assert headers["x-request-id"]


async def test_no_two_requests_have_one_id(client: httpx.AsyncClient) -> None:
    """The id finds the one line in the log."""
    ids = {(await client.get("/health/live")).headers["x-request-id"] for _ in range(10)}

    assert 10 == len(ids)


@pytest.mark.parametrize("host", ["example.org", "127.0.0.1.example.org", "localhost:8000@x", "", "127.0.0.1:99999999"])
async def test_a_request_for_another_host_is_refused_before_all_else(client: httpx.AsyncClient, host: str) -> None:
    """A page elsewhere must not reach a service on this machine under a name of its own."""
    problem_of(await client.get("/nowhere", headers={"host": host}), 421)


@pytest.mark.parametrize("host", ["localhost", "localhost:1", "LOCALHOST", "[::1]:8000", "127.0.0.1"])
async def test_the_names_of_loopback_are_taken(client: httpx.AsyncClient, host: str) -> None:
    """With any port, since a tunnel may have another one."""
    assert 200 == (await client.get("/health/live", headers={"host": host})).status_code


async def test_the_address_that_is_served_is_a_name_too(made: Application, client: httpx.AsyncClient) -> None:
    """A station goes by the number that an operator gave to the service."""
    made.policy.hosts.add("[2001:DB8::1]")

    assert 200 == (await client.get("/health/live", headers={"host": "[2001:db8::1]:8000"})).status_code
    problem_of(await client.get("/health/live", headers={"host": "[2001:db8::2]:8000"}), 421)


@pytest.mark.parametrize(
    "path",
    ["/", "/v1", "/v1/units/", "/v1//units", "/V1/units", "/v1/grades/a b", "/v1/grades/TB-130/revisions/0",
     "/v1/grades/TB-130/revisions/01", "/v1/grades/TB-130/revisions/one", "/docs/../settings.py", "/docs/nothing.js"],
)  # fmt: skip
async def test_a_path_that_is_not_there_is_a_problem_with_a_hint(client: httpx.AsyncClient, path: str) -> None:
    """An integrator who mistypes a path gets the same kind of answer as for all else."""
    problem_of(await client.get(path), 404)


async def test_a_method_that_a_path_does_not_take_names_those_that_it_does(client: httpx.AsyncClient) -> None:
    """RFC 9110, 15.5.6 wants them in Allow."""
    answer = await client.put("/v1/units")

    problem_of(answer, 405)
    assert "GET, HEAD, OPTIONS" == answer.headers["allow"]


@pytest.mark.parametrize(
    ("path", "allow"),
    [
        ("/v1/checks", "OPTIONS, POST"),
        ("/v1/grades/TB-130/revisions/1/specification", "GET, HEAD, OPTIONS, PUT"),
    ],
)
async def test_options_tells_what_a_path_takes(client: httpx.AsyncClient, path: str, allow: str) -> None:
    """Without trying."""
    answer = await client.options(path)

    assert (204, allow) == (answer.status_code, answer.headers["allow"])
    assert b"" == answer.content


@pytest.mark.parametrize("path", ["/v1/units", "/health/live", "/nowhere"])
async def test_head_is_get_without_its_body(client: httpx.AsyncClient, path: str) -> None:
    """RFC 9110, 9.3.2: the same headers."""
    head, get = await client.head(path), await client.get(path)

    assert b"" == head.content
    assert get.status_code == head.status_code
    assert get.headers["content-length"] == head.headers["content-length"]


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"content-type": "text/plain"},
        {"content-type": "application/jsonp"},
        {"content-type": "application/x-www-form-urlencoded"},
        {"content-type": "application/json; charset=latin-1"},
        {"content-type": "application/json", "content-encoding": "gzip"},
    ],
)
async def test_a_body_that_is_not_sent_as_plain_json_is_refused(client: httpx.AsyncClient, headers: dict[str, str]) -> None:
    """Else two readers would read other characters from the same bytes; and a form on any page could post it."""
    problem_of(await client.post("/v1/checks", content=CHECK, headers=headers), 415)


@pytest.mark.parametrize(
    "media_type", ["application/json", "Application/JSON; charset=UTF-8", 'application/json;charset="utf-8"']
)
async def test_json_in_utf_8_is_taken_however_it_is_said(released: httpx.AsyncClient, media_type: str) -> None:
    """RFC 9110, 8.3.1: case does not matter, nor do quotation marks."""
    assert 200 == (await released.post("/v1/checks", content=CHECK, headers={"content-type": media_type})).status_code


async def test_a_body_that_is_too_large_is_refused_by_what_it_says_of_itself(client: httpx.AsyncClient) -> None:
    """Before a byte of it is read, and before its type is looked at."""
    problem_of(await client.post("/v1/checks", content=b" " * 100_001, headers={"content-type": "text/plain"}), 413)


async def test_a_chunked_body_that_is_too_large_is_refused_by_counting(application: Application) -> None:
    """It does not say how long it is."""

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b" " * 30_000, "more_body": True}

    assert 413 == await status_of(application, receive)


async def test_a_body_that_never_comes_is_not_waited_for(application: Application) -> None:
    """A station whose network has gone must not hold what others need."""
    parts = iter([{"type": "http.request", "body": b"{", "more_body": True}])

    async def receive() -> dict[str, Any]:
        for part in parts:
            return part
        await never()
        raise AssertionError

    assert 408 == await status_of(application, receive)


async def never() -> None:
    """Wait for what does not come."""
    await asyncio.Event().wait()


async def status_of(application: Application, receive: Any) -> int:
    """The status of the answer to a check whose body comes by `receive`."""
    sent: list[dict[str, Any]] = []

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    headers = [(b"host", b"127.0.0.1"), (b"content-type", b"application/json"), (b"transfer-encoding", b"chunked")]
    scope = {"type": "http", "method": "POST", "path": "/v1/checks", "query_string": b"", "headers": headers}
    await application(scope, receive, send)
    return int(sent[0]["status"])


async def test_no_body_is_handed_to_a_server_that_was_asked_for_a_head(application: Application) -> None:
    """Some servers would send it, and a client would take it for the next answer."""
    said: list[Any] = []

    async def send(message: Any) -> None:
        said.append(message)

    headers = [(b"host", b"localhost")]
    scope = {"type": "http", "method": "HEAD", "path": "/v1/units", "query_string": b"", "headers": headers}
    await application(scope, asyncio.Future, send)

    assert 200 == said[0]["status"]
    assert int(dict(said[0]["headers"])[b"content-length"]) > 0
    assert b"" == b"".join(each["body"] for each in said[1:])


async def test_a_body_in_parts_is_put_together(application: Application) -> None:
    """Many clients send so what they make as they go."""
    parts = iter([CHECK[:1], CHECK[1:9], CHECK[9:]])

    async def receive() -> dict[str, Any]:
        part = next(parts)
        return {"type": "http.request", "body": part, "more_body": not CHECK.endswith(part)}

    # There is no such grade here, which is found out behind the last part.
    assert 422 == await status_of(application, receive)


async def test_refusals_come_in_one_order(client: httpx.AsyncClient) -> None:
    """Host, path, method, size, type, grammar, flaws: so that a client can be tested against each."""
    wrong = {"host": "example.org", "content-type": "text/plain"}
    right = {"host": "127.0.0.1", "content-type": "text/plain"}
    big = b"{" * 100_001
    requests = [
        ("GET", "/nowhere", wrong, b"", 421),
        ("GET", "/nowhere", right, b"", 404),
        ("DELETE", "/v1/checks", right, big, 405),
        ("POST", "/v1/checks", right, big, 413),
        ("POST", "/v1/checks", right, b"{", 415),
        ("POST", "/v1/checks", JSON, b"{", 400),
        ("POST", "/v1/checks", JSON, b"{}", 422),
        ("POST", "/v1/grades/TB-130/revisions/1/release", right, b'{"x": 1}', 404),
    ]
    for method, path, headers, body, status in requests:
        problem_of(await client.request(method, path, headers=headers, content=body), status)


@pytest.mark.parametrize(
    ("query", "flaws"),
    [
        ("x=1", [("/x", "unknown-parameter")]),
        ("limit=0", [("/limit", "below-least")]),
        ("limit=1.0", [("/limit", "not-whole")]),
        ("limit=", [("/limit", "not-whole")]),
        ("limit=01", [("/limit", "not-whole")]),
        ("limit=%2B1", [("/limit", "not-whole")]),
        ("limit=101&after=a%20b", [("/limit", "above-greatest"), ("/after", "not-a-code")]),
        ("limit=1&limit=2", [("/limit", "parameter-twice")]),
        ("after=%ff", [("", "not-a-query")]),
        ("after=%00", [("/after", "control-character")]),
    ],
)
async def test_a_query_is_read_as_strictly_as_a_body(
    client: httpx.AsyncClient, query: str, flaws: list[tuple[str, str]]
) -> None:
    """A mistyped name that nobody reads would give the wrong page without a word."""
    problem = problem_of(await client.get(f"/v1/grades?{query}"), 422)

    assert flaws == [(flaw["at"], flaw["code"]) for flaw in problem["flaws"]]


async def test_only_a_hundred_flaws_are_sent_and_the_rest_counted(client: httpx.AsyncClient) -> None:
    """An answer of megabytes helps nobody."""
    body = {"against": {"grade": "x"}, "evidence": {"lot": {"id": "1"}, "series": [
        {"characteristic": "a", "unit": "N", "values": ["1"] * 150}]}}  # fmt: skip
    problem = problem_of(await client.post("/v1/verdicts", json=body), 422)

    assert (100, 50) == (len(problem["flaws"]), problem["more_flaws"])
