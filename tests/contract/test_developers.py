"""The developers' page: short, and every place that it names is there."""

import re

import pytest

from tests.support.pages import TOP

PAGE = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
BENCH = (TOP / "tests" / "bench" / "README.md").read_text(encoding="utf-8")
ROOTS = (TOP, TOP / "service", TOP / "service" / "engine")


def named_places(page: str) -> set[str]:
    """The files and folders that stand in backticks."""
    found = {each for each in re.findall(r"`([\w./-]+)`", page) if re.search(r"/|\.(py|md|txt|json|toml)$", each)}
    return {each for each in found if not each.startswith(".venv/")}


@pytest.mark.parametrize("place", sorted(named_places(PAGE) | named_places(BENCH)))
def test_a_place_that_is_named_is_there(place: str) -> None:
    """A map that is wrong is worse than none."""
    found = any((root / place).exists() for root in ROOTS) or any(TOP.glob(f"*/**/{place}"))

    assert found, place


def test_it_is_read_in_some_minutes() -> None:
    """A newcomer reads all of it before the first change."""
    assert len(PAGE.split()) <= 1800


def test_every_folder_of_the_engine_is_on_the_map() -> None:
    """A room that nobody finds is built a second time."""
    folders = {each.parent.name for each in (TOP / "service" / "engine").glob("*/__init__.py")}

    assert set() == {folder for folder in folders if f"`{folder}`" not in PAGE and f"`engine/{folder}`" not in PAGE}
