"""Two replicas on one PostgreSQL: what is changed at one is obeyed by the other within a second."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.invented import CHECK, GRADE, drafted
from tests.faults.sizes import of_two
from tests.faults.talking import Line, line_to
from tests.support.postgresql import new_database
from tests.support.services import ask, service_in

CHANGES = of_two(3, 30)
WITHIN_S = 1.0
"""The promise itself, so the clock is looked at here; the polling takes half of it."""


@pytest.fixture
def both(postgresql_server: str, tmp_path: Path) -> Iterator[tuple[str, str]]:
    """The addresses of two."""
    url = new_database(postgresql_server)
    (tmp_path / "one").mkdir()
    (tmp_path / "other").mkdir()
    settings = {"DATABASE_URL": url, "MIGRATE_AT_START": "true"}
    with service_in(tmp_path / "one", **settings) as one, service_in(tmp_path / "other", **settings) as other:
        yield one, other


def seconds_until(line: Line, revision: int) -> float:
    """How long checks go on to be answered otherwise than by this revision."""
    begun = time.monotonic()
    while (heard := line.ask(CHECK)).status != 200 or heard.document["revision"] != revision:
        assert heard.status in (200, 404), heard
        assert time.monotonic() < begun + 10 * WITHIN_S, heard
    return time.monotonic() - begun


def test_a_release_at_one_is_obeyed_by_the_other_within_a_second(both: tuple[str, str]) -> None:
    """A limit was too low: from the moment it is raised no station may pass twine by the old one for long."""
    one, other = both
    took = []
    with line_to(other) as line:
        for change in range(CHANGES):
            number = drafted(one, 1400 + change)
            assert 200 == ask(one, "POST", f"/v1/grades/{GRADE}/revisions/{number}/release", {}).status
            took.append(seconds_until(line, number))

    assert WITHIN_S > max(took)


def test_a_withdrawal_at_one_is_obeyed_by_the_other_within_a_second(both: tuple[str, str]) -> None:
    """What is withdrawn must not pass twine any more, and the one before it is in force again or none is."""
    one, other = both
    path = f"/v1/grades/{GRADE}/revisions/{drafted(one, 1400)}"
    assert 200 == ask(one, "POST", f"{path}/release", {}).status
    with line_to(other) as line:
        seconds_until(line, 1)
        assert 200 == ask(one, "POST", f"{path}/withdraw", {"reason": "Too weak."}).status
        begun = time.monotonic()
        while line.ask(CHECK).status == 200:
            assert WITHIN_S > time.monotonic() - begun

        assert 422 == line.ask(CHECK).status
