"""The two hot paths take no more instructions than their budgets allow; no clock is looked at."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.bench.budgets import ALLOWANCE, Budgets, build, excess, held, interpreter
from tests.bench.counting import Count, counts, paths, why_not


@pytest.fixture(scope="module")
def budgets() -> Budgets:
    """Those of this interpreter."""
    found = held().get(interpreter())
    if found is None:
        pytest.skip(f"No budgets are held for {interpreter()}. Set them by `python -m tests.bench.budgets`.")
    return found


@pytest.fixture(scope="module")
def counted(budgets: Budgets, tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Count]:
    """What each path takes, counted once for all tests."""
    if reason := why_not():
        pytest.skip(reason)
    return counts(tmp_path_factory.mktemp("profiles"))


@pytest.mark.parametrize("path", paths())
def test_a_hot_path_takes_no_more_instructions_than_its_budget(
    path: str, budgets: Budgets, counted: Mapping[str, Count]
) -> None:
    """A station waits for each check, and a small step here and there is how a service grows slow unseen."""
    assert not excess(path, counted[path], budgets)


def test_every_interpreter_has_a_budget_for_every_path() -> None:
    """A path without a budget would be guarded nowhere."""
    assert {name: set(paths()) for name in held()} == {name: set(each.ratios) for name, each in held().items()}


def test_a_path_over_its_budget_is_told_by_how_much_and_what_to_do() -> None:
    """Whoever made it slower learns it with the place to look at, not as a bare comparison of numbers."""
    budgets = Budgets("3.11.0, GCC 12", {"a reading check": 10.0})
    text = excess("a reading check", Count(55_000, 11.0, Path("profile")), budgets)

    assert text == (
        "For a reading check the service takes 55000 instructions, 11.000 times the reference; that is 10.0 % over its budget "
        f"of 10.000, set on 3.11.0, GCC 12 (this is {build()}). See where they go by `callgrind_annotate profile`; if they are "
        "worth it, set new budgets by `python -m tests.bench.budgets`."
    )


def test_a_path_on_its_budget_is_within_it() -> None:
    """A budget is the most that may be taken, and stands 3 percent above what was counted."""
    budgets = Budgets("", {"a reading check": 10 * ALLOWANCE})

    assert excess("a reading check", Count(51_500, 10.3, Path("profile")), budgets) == ""
