"""Who can reach a service: this machine alone, unless keys are asked for or an operator says that he means it."""

import socket
from pathlib import Path
from typing import Any, cast

import pytest
from httpx import ASGITransport, AsyncClient

from service.api.application import Application
from service.api.serving.listening import CannotServeError, Listening, check_address, check_reach
from service.app import create_app
from service.settings import Settings
from tests.support.commands import run
from tests.support.servers import free_port

ELSEWHERE = ["0.0.0.0", "192.0.2.1", "::", "2001:db8::1", "[2001:db8::1]"]  # noqa: S104  it is to be refused
HERE = ["127.0.0.1", "127.0.0.2", "::1", "[::1]", "localhost"]


def listening(host: str, *names: str, is_encrypted: bool = False, may_be_open: bool = False) -> Listening:
    """An address and further names, encrypted or not."""
    files = ("server.pem", "server.key") if is_encrypted else ("", "")
    return Listening(host, 8000, *files, may_be_open, names)


@pytest.mark.parametrize("host", HERE)
@pytest.mark.parametrize("asks_for_keys", [True, False])
def test_this_machine_alone_needs_no_keys_and_no_warning(host: str, *, asks_for_keys: bool) -> None:
    """Trying it out takes one command."""
    assert [] == check_reach(listening(host), asks_for_keys=asks_for_keys)


@pytest.mark.parametrize("host", ELSEWHERE)
@pytest.mark.parametrize("is_encrypted", [True, False])
def test_without_keys_nobody_elsewhere_reaches_it(host: str, *, is_encrypted: bool) -> None:
    """Whoever reached it could release a grade, over TLS too."""
    with pytest.raises(CannotServeError, match="can be reached from other machines, and no key is needed"):
        check_reach(listening(host, is_encrypted=is_encrypted), asks_for_keys=False)


@pytest.mark.parametrize("is_encrypted", [True, False])
def test_who_means_it_is_warned_at_every_start(*, is_encrypted: bool) -> None:
    """What was set for a trial is found out about in the log of the mill."""
    (warning,) = check_reach(listening("192.0.2.1", is_encrypted=is_encrypted, may_be_open=True), asks_for_keys=False)

    said = "MARKERYARN_OPEN_WITHOUT_KEYS is set and there is no key: anybody who reaches 192.0.2.1 can do everything."
    assert said == warning


def test_with_keys_and_tls_there_is_nothing_to_warn_of() -> None:
    """Even where the setting was left from before there was a key."""
    for may_be_open in (True, False):
        asked = listening("192.0.2.1", is_encrypted=True, may_be_open=may_be_open)
        assert [] == check_reach(asked, asks_for_keys=True)


def test_while_it_is_not_known_whether_there_are_keys_nobody_elsewhere_reaches_it() -> None:
    """A database that comes back without one would open the service to all."""
    with pytest.raises(CannotServeError, match="the database does not answer, so nobody knows whether there are keys"):
        check_reach(listening("192.0.2.1", is_encrypted=True), asks_for_keys=None)


async def test_what_is_asked_for_goes_by_the_keys_in_the_database(tmp_path: Path) -> None:
    """The first key is enough; until the database was asked it is not known."""
    made = create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db"))
    assert made.policy.asks_for_keys is None
    async with made.lifespan():
        assert made.policy.asks_for_keys is False
    run(tmp_path, "migrate")
    assert 0 == run(tmp_path, "key", "add", "station-7", "--scope", "check").returncode
    with_key = create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db"))
    async with with_key.lifespan():
        assert with_key.policy.asks_for_keys is True


def test_keys_without_tls_are_warned_of() -> None:
    """Something in front may encrypt, which the service can't see."""
    (warning,) = check_reach(listening("192.0.2.1"), asks_for_keys=True)

    assert "Keys are sent to 192.0.2.1 unencrypted, unless a proxy in front uses TLS." in warning


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "[::]"])  # noqa: S104  nothing listens there
def test_all_addresses_without_a_name_are_warned_of(host: str) -> None:
    """Stations would get 421 and nothing else, and nobody would know why."""
    (warning,) = check_reach(listening(host, is_encrypted=True), asks_for_keys=True)

    assert warning.startswith("MARKERYARN_HOSTS is not set")
    assert "requests from other machines get 421" in warning
    assert [] == check_reach(listening(host, "yarn.mill.example", is_encrypted=True), asks_for_keys=True)


def test_every_warning_is_told_at_once() -> None:
    """Whoever mends one reads of the others at the same start."""
    warnings = check_reach(listening("0.0.0.0", may_be_open=True), asks_for_keys=False)  # noqa: S104  nothing listens there

    assert ["MARKERYARN_OPEN_WITHOUT_KEYS", "MARKERYARN_HOSTS"] == [each.partition(" ")[0] for each in warnings]


async def test_on_all_addresses_a_name_that_was_not_told_gets_421(tmp_path: Path) -> None:
    """As the warning says."""
    found = {}
    for hosts in ("", " yarn.mill.example, 192.0.2.7 "):
        made = create_app(Settings(database_url=f"sqlite:///{tmp_path}/grades.db", hosts=hosts))
        made.policy.hosts.add("0.0.0.0")  # noqa: S104  nothing listens there
        async with made.lifespan():
            found[hosts] = [await status_for(made, host) for host in ("yarn.mill.example", "192.0.2.7:8000", "127.0.0.1")]

    assert {"": [421, 421, 200], " yarn.mill.example, 192.0.2.7 ": [200, 200, 200]} == found


async def status_for(application: Application, host: str) -> int:
    """The status that a request under this name gets."""
    async with AsyncClient(transport=ASGITransport(app=cast("Any", application)), base_url=f"http://{host}") as client:
        return (await client.get("/health/live")).status_code


@pytest.mark.parametrize("host", ["example.org", "", "127.0.0.1.example.org", "192.0.2.300", "x" * 100])
def test_a_name_is_no_address(host: str) -> None:
    """What it stands for may be another tomorrow."""
    with pytest.raises(CannotServeError, match="is not an address"):
        check_address(listening(host))


def test_a_server_that_others_could_reach_ends_before_it_listens(tmp_path: Path) -> None:
    """With the sentence, and without having been there for a moment."""
    port = free_port()
    ended = run(tmp_path, "serve", "--host", "0.0.0.0", "--port", port)  # noqa: S104  as above

    assert (1, "") == (ended.returncode, ended.stdout)
    assert "`0.0.0.0` can be reached from other machines, and no key is needed" in ended.stderr
    assert "MARKERYARN_OPEN_WITHOUT_KEYS=true" in ended.stderr
    assert "Traceback" not in ended.stderr
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port))
