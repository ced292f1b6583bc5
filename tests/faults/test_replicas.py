"""Two replicas on one PostgreSQL: what is changed at one is obeyed by the other within a second."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.faults.invented import CHECK, GRADE, drafted
from tests.faults.talking import Line, line_to
from tests.support.commands import run
from tests.support.databases import new_database
from tests.support.services import ask, service_in
from tests.support.sizes import of_two

CHANGES = of_two(3, 30)
WITHIN_S = 1.0
"""The promise itself, so the clock is looked at here; the polling takes half of it."""


class Both(NamedTuple):
    """The addresses of two replicas, and the URL of their database."""

    one: str
    other: str
    url: str


@pytest.fixture
def both(postgresql_server: str, tmp_path: Path) -> Iterator[Both]:
    """Two replicas that answer."""
    url = new_database(postgresql_server)
    (tmp_path / "one").mkdir()
    (tmp_path / "other").mkdir()
    settings = {"DATABASE_URL": url, "MIGRATE_AT_START": "true"}
    with service_in(tmp_path / "one", **settings) as one, service_in(tmp_path / "other", **settings) as other:
        yield Both(one, other, url)


def seconds_until(line: Line, revision: int) -> float:
    """How long checks go on to be answered otherwise than by this revision."""
    begun = time.monotonic()
    while (heard := line.ask(CHECK)).status != 200 or heard.document["revision"] != revision:
        assert heard.status in (200, 404), heard
        assert time.monotonic() < begun + 10 * WITHIN_S, heard
    return time.monotonic() - begun


def test_a_release_at_one_is_obeyed_by_the_other_within_a_second(both: Both) -> None:
    """A limit was too low: from the moment it is raised no station may pass twine by the old one for long."""
    one, other, _ = both
    took = []
    with line_to(other) as line:
        for change in range(CHANGES):
            number = drafted(one, 1400 + change)
            assert 200 == ask(one, "POST", f"/v1/grades/{GRADE}/revisions/{number}/release", {}).status
            took.append(seconds_until(line, number))

    assert WITHIN_S > max(took)


def test_a_key_revoked_at_one_is_refused_by_the_other_within_a_second(both: Both, tmp_path: Path) -> None:
    """A station was stolen: from the moment its key is revoked nobody may use it for long, wherever he asks."""
    one, other, _ = both
    settings = {"DATABASE_URL": both.url}
    boss = run(tmp_path, "key", "add", "anna", "--scope", "administer", **settings).stdout.strip()
    for change in range(CHANGES):
        stolen = run(tmp_path, "key", "add", f"station-{change}", "--scope", "read", **settings).stdout.strip()
        shown = {"Authorization": f"Bearer {stolen}"}
        assert 200 == ask(other, "GET", "/v1/grades", headers=shown).status
        path, reason = f"/v1/keys/{stolen[: len('mky_00000000')]}/revoke", {"reason": "It was stolen."}
        assert 200 == ask(one, "POST", path, reason, {"Authorization": f"Bearer {boss}"}).status
        begun = time.monotonic()
        while (status := ask(other, "GET", "/v1/grades", headers=shown).status) == 200:
            assert WITHIN_S > time.monotonic() - begun

        assert 401 == status


def test_a_withdrawal_at_one_is_obeyed_by_the_other_within_a_second(both: Both) -> None:
    """What is withdrawn must not pass twine any more, and the one before it is in force again or none is."""
    one, other, _ = both
    path = f"/v1/grades/{GRADE}/revisions/{drafted(one, 1400)}"
    assert 200 == ask(one, "POST", f"{path}/release", {}).status
    with line_to(other) as line:
        seconds_until(line, 1)
        assert 200 == ask(one, "POST", f"{path}/withdraw", {"reason": "Too weak."}).status
        begun = time.monotonic()
        while line.ask(CHECK).status == 200:
            assert WITHIN_S > time.monotonic() - begun

        assert 422 == line.ask(CHECK).status
