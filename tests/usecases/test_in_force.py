"""Which revision is in force at a moment, case by case."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest

from service.ports.catalogue import Final, Moment, Released, Withdrawn
from service.usecases.grades.in_force import in_force, next_change

START = datetime(2026, 1, 1, tzinfo=UTC)


def day(number: int) -> Moment:
    """So many days after the start."""
    return START + timedelta(days=number)


def released(number: int, effective: int, *, on: int = 0) -> Released:
    """A revision in force from a day, released on a day."""
    return Released(
        grade="TB-130", number=number, digest="a", created_at=START, effective_from=day(effective), released_at=day(on)
    )


def withdrawn(number: int, effective: int, *, on: int) -> Withdrawn:
    """A revision in force from a day, released at the start and withdrawn on a day."""
    return Withdrawn(
        grade="TB-130",
        number=number,
        digest="a",
        created_at=START,
        effective_from=day(effective),
        released_at=START,
        withdrawn_at=day(on),
        reason="too weak",
    )


@pytest.mark.parametrize(
    ("number", "revisions", "at"),
    [
        pytest.param(None, [], 5, id="none is released"),
        pytest.param(None, [released(1, 6)], 5, id="the only one is to come"),
        pytest.param(1, [released(1, 5)], 5, id="its very moment"),
        pytest.param(1, [released(1, 1), released(2, 6)], 5, id="the newer one is to come"),
        pytest.param(2, [released(1, 1), released(2, 6)], 6, id="the newer one has come"),
        pytest.param(1, [released(1, 4), released(2, 3)], 5, id="the later moment goes before the greater number"),
        pytest.param(2, [released(1, 4), released(2, 4)], 5, id="one moment, the greater number"),
        pytest.param(1, [released(1, 1), released(2, 3, on=3)], 2, id="a moment before the newer one"),
        pytest.param(1, [released(1, 1), released(2, 2, on=4)], 3, id="released later than asked for"),
        pytest.param(None, [released(1, 1), withdrawn(2, 3, on=4)], 5, id="the newest is withdrawn, no older one comes back"),
        pytest.param(2, [released(1, 1), withdrawn(2, 3, on=6)], 5, id="not withdrawn yet by then"),
        pytest.param(2, [withdrawn(1, 1, on=2), released(2, 3)], 5, id="an older one is withdrawn"),
        pytest.param(1, [released(1, 1), withdrawn(2, 6, on=4)], 5, id="withdrawn before its moment came"),
        pytest.param(None, [released(1, 1), withdrawn(2, 6, on=4)], 6, id="withdrawn before its moment, which came"),
    ],
)
def test_the_newest_that_has_begun_is_in_force(number: int | None, revisions: Sequence[Final], at: int) -> None:
    """A lot is judged by what held at its moment, also when the answer is asked for again years later."""
    found = in_force(revisions, day(at))

    assert number == (found.number if found else None)


def test_the_next_change_is_the_nearest_to_come() -> None:
    """A replica knows without asking when what it holds ends."""
    assert day(6) == next_change([released(1, 5), released(2, 9), released(3, 6)], day(5))


def test_nothing_changes_where_nothing_is_to_come() -> None:
    """What is in force now stays so until somebody releases."""
    assert next_change([released(1, 5)], day(5)) is None


def test_the_moment_of_a_withdrawn_revision_is_a_change_too() -> None:
    """When the moment of a revision comes that was withdrawn before, nothing is in force any more."""
    assert day(6) == next_change([released(1, 1), withdrawn(2, 6, on=4)], day(5))
