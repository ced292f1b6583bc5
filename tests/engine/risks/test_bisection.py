"""Where a claim stops to hold."""

import pytest

from service.engine.risks.bisection import last_that_holds


@pytest.mark.parametrize("near", [-1000, -1, 0, 6, 7, 8, 9, 1_000_000])
def test_the_last_number_is_found_from_wherever_the_search_begins(near: int) -> None:
    """A guess may be off either way."""
    assert 7 == last_that_holds(lambda number: number <= 7, near)
