"""A clock set wrong and right again: what is in force goes by the database's, and nothing waits for a lost hour."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.invented import CHECK, GRADE, drafted
from tests.faults.talking import Line, line_to, request
from tests.support.commands import SPECIFICATION
from tests.support.databases import new_database
from tests.support.services import ask, released, service_in

LIBRARIES = sorted(Path("/usr/lib").glob("*/faketime/libfaketime.so.1"))
STEPS = ("+400d", "-400d", "+0", "-1h", "+1h", "+0")
CHECKS_A_STEP = 200


class Clock:
    """The wall clock that a service reads; other processes' clocks, and its own that only counts on, stay as they are."""

    def __init__(self, file: Path) -> None:
        """Keep what is set in a file."""
        self._file = file
        self.step("+0")

    def step(self, by: str) -> None:
        """Set it off from the true one by so much, from this moment on."""
        # In one step: a half-written file would be read.
        new = self._file.with_suffix(".new")
        new.write_text(by, encoding="ascii")
        new.replace(self._file)


@pytest.fixture
def clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The clock of each process started from here on."""
    if not LIBRARIES:
        pytest.skip("libfaketime is not installed (Debian's `faketime`), so no clock can be set.")
    file = tmp_path / "clock"
    made = Clock(file)
    for name, text in {
        "LD_PRELOAD": str(LIBRARIES[-1]),
        "FAKETIME_TIMESTAMP_FILE": str(file),
        "FAKETIME_NO_CACHE": "1",
        "FAKETIME_DONT_FAKE_MONOTONIC": "1",
    }.items():
        monkeypatch.setenv(name, text)
    return made


@pytest.fixture
def address(postgresql_server: str, clock: Clock, tmp_path: Path) -> Iterator[str]:
    """A service whose database's clock is right."""
    with service_in(tmp_path, DATABASE_URL=new_database(postgresql_server), MIGRATE_AT_START="true") as made:
        yield made


def revisions_by(line: Line) -> set[int]:
    """The revisions by which many checks are answered one after the other."""
    return {line.ask(CHECK).document["revision"] for _ in range(CHECKS_A_STEP)}


def test_what_is_in_force_does_not_go_by_the_clock_of_a_replica(address: str, clock: Clock) -> None:
    """A replica whose clock is a year ahead would pass twine by limits that hold from next year on."""
    released(address, GRADE, SPECIFICATION)
    later = {"effective_from": "2099-01-01T00:00:00Z"}
    number = drafted(address, 1800)
    assert 200 == ask(address, "POST", f"/v1/grades/{GRADE}/revisions/{number}/release", later).status
    with line_to(address) as line:
        seen = []
        for step in ("+40000d", *STEPS):
            clock.step(step)
            seen.append(revisions_by(line))

    assert [{1}] * (1 + len(STEPS)) == seen


def test_changes_and_stopping_go_on_over_every_step(address: str, clock: Clock) -> None:
    """Set back by a year, a service that counted time by the wall would look for changes again in a year."""
    with line_to(address) as line:
        for step in STEPS:
            clock.step(step)
            number = released(address, GRADE, SPECIFICATION)
            # The other replica's way: asked until the grade cache has looked again.
            assert number == line.ask(CHECK).document["revision"]
            assert 200 == line.ask(request("GET", "/health/ready")).status
