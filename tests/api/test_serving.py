"""One worker over real sockets: how it starts, what it takes, how it ends."""

import json
import signal
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import examples
from tests.support.servers import LOG, SECONDS_TO_END, Server, command, environment, serving

VERDICT = json.dumps(examples.BY_SPECIFICATION).encode()
HEAD = b"POST /v1/verdicts HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One for all tests that leave it as it was."""
    with serving(tmp_path_factory.mktemp("server"), BODY_TIMEOUT="0.5") as made:
        yield made


def answer_on(connection: socket.socket) -> tuple[int, bytes]:
    """(status, body) of the next answer on a connection, by its Content-Length."""
    with connection.makefile("rb") as lines:
        status = int(lines.readline().split()[1])
        length = 0
        while (line := lines.readline().strip().lower()) != b"":
            name, _, text = line.partition(b":")
            length = int(text) if name == b"content-length" else length
        return status, lines.read(length)


def status_of(server: Server, request: bytes) -> int:
    """The status of the answer to a request sent as it stands."""
    with server.connect() as connection:
        connection.sendall(request)
        return answer_on(connection)[0]


def test_one_line_says_where_it_answers(server: Server) -> None:
    """Whoever starts it can wait for the line, and then ask."""
    start = f"Marker Yarn answers at http://127.0.0.1:{server.port}"

    assert server.line.startswith(start)


def test_a_whole_body_gets_its_verdict(server: Server) -> None:
    """The ordinary case."""
    request = HEAD + b"Content-Length: %d\r\n\r\n" % len(VERDICT) + VERDICT

    assert 200 == status_of(server, request)


def test_a_chunked_body_gets_its_verdict(server: Server) -> None:
    """Clients that stream do not say how long it will be."""
    parts = b"".join(b"%x\r\n%b\r\n" % (len(part), part) for part in (VERDICT[:100], VERDICT[100:]))

    assert 200 == status_of(server, HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + parts + b"0\r\n\r\n")


def test_http_1_0_without_a_host_is_answered(server: Server) -> None:
    """Old stations and simple probes send none."""
    assert 200 == status_of(server, b"GET /health/live HTTP/1.0\r\n\r\n")


GET = b"GET /v1/grades HTTP/1.1\r\nHost: 127.0.0.1\r\n"
CHUNKS = b"2\r\n{}\r\n0\r\n\r\n"


@pytest.mark.parametrize(
    ("request_", "detail"),
    [
        (GET + b"Host: 127.0.0.1\r\n\r\n", "The header Host was sent more than once. Send it once."),
        (GET + b"host: mill.example\r\n\r\n", "The header Host was sent more than once. Send it once."),
        (
            GET + b"Authorization: Bearer a\r\nauthorization: Bearer b\r\n\r\n",
            "The header Authorization was sent more than once. Send it once.",
        ),
        (
            HEAD + b"Transfer-Encoding: gzip, chunked\r\n\r\n" + CHUNKS,
            "The only transfer coding taken is `chunked`. Remove the header Transfer-Encoding, or set it to `chunked`.",
        ),
    ],
)
def test_a_head_that_can_be_read_in_two_ways_is_refused(server: Server, request_: bytes, detail: str) -> None:
    """A proxy in front may have taken the other one: RFC 9112, 3.2 and 6.1."""
    with server.connect() as connection:
        connection.sendall(request_)
        status, body = answer_on(connection)
    problem = json.loads(body)

    assert (400, "/problems/head-not-clear", detail) == (status, problem["type"], problem["detail"])


def test_two_fields_of_another_name_are_taken(server: Server) -> None:
    """Proxies add such: two of them say nothing else than one that has both."""
    assert 200 == status_of(server, GET + b"Via: 1.1 a\r\nVia: 1.1 b\r\n\r\n")


def test_an_answer_names_neither_product_nor_version(server: Server) -> None:
    """Whoever looks for the faults of a server program learns nothing here."""
    with server.connect() as connection:
        connection.sendall(GET + b"\r\n")
        head = connection.recv(65536).partition(b"\r\n\r\n")[0].lower()

    assert b"\r\nserver: service\r\n" in head
    assert b"granian" not in head


def test_the_page_has_one_address(server: Server) -> None:
    """Two would be two entries in whatever keeps answers."""
    assert 200 == status_of(server, b"GET /docs HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    assert 404 == status_of(server, b"GET /docs/index.html HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")


def test_a_body_that_says_it_has_50_mebibytes_is_refused_unread(server: Server) -> None:
    """The answer comes before a byte of it is sent."""
    assert 413 == status_of(server, HEAD + b"Content-Length: %d\r\n\r\n" % (50 * 1024 * 1024))


def test_a_chunked_body_of_50_mebibytes_is_refused_while_it_comes(server: Server) -> None:
    """By counting: it is not held in memory first."""
    chunk = b"100000\r\n" + b" " * 0x100000 + b"\r\n"
    with server.connect() as connection:
        connection.sendall(HEAD + b"Transfer-Encoding: chunked\r\n\r\n")
        try:
            for _ in range(50):
                connection.sendall(chunk)
        except OSError:
            pass  # the server has hung up, as it may: the answer is there to be read
        assert 413 == answer_on(connection)[0]


def test_a_body_that_stops_coming_is_told_so(server: Server) -> None:
    """And the connection is free for others."""
    assert 408 == status_of(server, HEAD + b"Content-Length: 1000\r\n\r\n{")


def test_what_is_in_flight_is_finished_on_sigterm(tmp_path: Path) -> None:
    """A lot that is being judged while the service is replaced gets its verdict; exit status 0."""
    with serving(tmp_path) as server, server.connect() as connection, server.connect():
        connection.sendall(HEAD + b"Content-Length: %d\r\n\r\n" % len(VERDICT) + VERDICT[:100])
        # Answered on another connection, so the first part has been taken by then.
        assert 200 == status_of(server, b"GET /health/live HTTP/1.0\r\n\r\n")
        server.process.send_signal(signal.SIGTERM)
        wait_until_refused(server)
        connection.sendall(VERDICT[100:])

        assert 200 == answer_on(connection)[0]
        assert 0 == server.process.wait(SECONDS_TO_END)


def wait_until_refused(server: Server) -> None:
    """Until no new connection is taken."""
    while True:
        try:
            server.connect().close()
        except OSError:
            return


def refusal_of(folder: Path, *words: str) -> tuple[int, str]:
    """(exit status, what is printed) of a server that does not start."""
    ended = subprocess.run(
        command("serve", *words), env=environment(folder), capture_output=True, text=True, timeout=SECONDS_TO_END, check=False
    )
    return ended.returncode, ended.stderr


def test_a_port_in_use_is_one_clear_sentence(server: Server, tmp_path: Path) -> None:
    """Two servers on one port would each answer some of the requests."""
    status, text = refusal_of(tmp_path, "--port", str(server.port))

    assert 0 != status
    assert f"Port {server.port} on 127.0.0.1 is already in use. Give another one with --port." in text
    assert "Traceback" not in text


def test_what_is_refused_is_logged_in_one_line_of_json(tmp_path: Path) -> None:
    """Under the id that the caller was given."""
    with serving(tmp_path) as server, server.connect() as connection:
        connection.sendall(b"GET /nowhere HTTP/1.1\r\nHost: localhost\r\n\r\n")
        problem = json.loads(answer_on(connection)[1])
    line = json.loads((tmp_path / LOG).read_text().splitlines()[0])

    assert problem["instance"] == f"urn:uuid:{line['request']}"
    assert 404 == line["status"]
