"""Instructions of reading a body, those of C's own loops among them, grow no faster than the body."""

from collections.abc import Mapping
from itertools import pairwise

import pytest

from tests.bench.counting import counted, total, why_not
from tests.bench.readers import readings

MOST = 2.2
"""So many times the instructions a body of twice the length may take."""
NAMES = [name for name, _, _ in readings()]


@pytest.fixture(scope="module")
def instructions(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, tuple[int, int]]:
    """By what is read: at a length, and at twice that. Counted once for all tests."""
    if reason := why_not():
        pytest.skip(reason)
    profiles = counted(tmp_path_factory.mktemp("profiles"), "tests.bench.readers", 3 * len(NAMES) - 1)
    totals = [*map(total, profiles)]
    return dict(zip(NAMES, list(pairwise(totals))[::3], strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_a_body_twice_as_long_takes_at_most_twice_the_instructions(
    name: str, instructions: Mapping[str, tuple[int, int]]
) -> None:
    """A search of a list for each of its items is one line of Python, and all of the time."""
    once, twice = instructions[name]

    assert twice <= MOST * once
