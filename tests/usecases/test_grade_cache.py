"""What a replica judges by, on a real catalogue."""

import contextlib
import sys
from collections.abc import AsyncIterator, Callable
from types import FrameType
from typing import Any

import pytest
from sqlalchemy import text

from service.engine.documents import FlawedDocumentError
from service.ports.catalogue import CatalogueAwayError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.usecases.grades import CachedGrade, GradeCache
from service.usecases.grades import catalogue as use
from tests.support.grade_caches import Ticks, release, strength

GRADE = "TB-130"


@contextlib.asynccontextmanager
async def away(store: Database) -> AsyncIterator[None]:
    """A database that refuses whatever a grade cache asks it, and answers again afterwards."""
    tables = ("catalogue_version", "revisions")
    async with store.engine.begin() as connection:
        for table in tables:
            await connection.execute(text(f"ALTER TABLE {table} RENAME TO gone_{table}"))
    try:
        yield
    finally:
        async with store.engine.begin() as connection:
            for table in tables:
                await connection.execute(text(f"ALTER TABLE gone_{table} RENAME TO {table}"))


async def in_force(grade_cache: GradeCache, grade: str = GRADE) -> int:
    """The number of the revision that a check is judged by, as a check asks for it."""
    return (grade_cache.held(grade) or await grade_cache.fetch(grade)).number


async def flaw_of(grade_cache: GradeCache, grade: str, revision: int | None = None) -> tuple[str, str, str]:
    """(code, pointer, text) of the one flaw that a check is refused with."""
    with pytest.raises(FlawedDocumentError) as raised:
        await grade_cache.fetch(grade, revision)
    [flaw] = raised.value.flaws
    return flaw.code, flaw.at, flaw.text


def lines_run(call: Callable[[str], CachedGrade | None], grade: str) -> int:
    """How many lines of Python it takes to find a grade that is held."""
    lines = 0

    def count(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal lines
        lines += event == "line"
        return count

    before = sys.gettrace()
    sys.settrace(count)
    try:
        found = call(grade)
    finally:
        sys.settrace(before)
    assert found is not None
    assert found.grade == grade
    return lines


async def test_a_release_counts_from_the_next_check(catalogue: DatabaseCatalogue) -> None:
    """Whoever was told that a revision is released is judged by it at once, on the replica that told him."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    first = await in_force(grade_cache)

    await release(catalogue, grade_cache, GRADE, 1300)

    assert (1, 2) == (first, await in_force(grade_cache))


async def test_a_withdrawal_counts_from_the_next_check(catalogue: DatabaseCatalogue) -> None:
    """Nobody passes a lot by a revision that was withdrawn a moment ago."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    await in_force(grade_cache)

    await use.withdraw(catalogue, grade_cache, GRADE, 1, "Too weak.")

    assert grade_cache.held(GRADE) is None
    assert ("none-in-force", "/grade") == (await flaw_of(grade_cache, GRADE))[:2]


async def test_another_replica_follows_with_its_next_look(catalogue: DatabaseCatalogue) -> None:
    """All stations of a mill go by one revision, whichever replica they speak to."""
    here, there = GradeCache(catalogue), GradeCache(catalogue)
    await release(catalogue, here, GRADE, 1400)
    await in_force(there)
    await release(catalogue, here, GRADE, 1300)
    before = await in_force(there)

    await there.refresh()

    assert (1, 2) == (before, await in_force(there))


async def test_a_release_leaves_other_grades_in_memory(catalogue: DatabaseCatalogue) -> None:
    """A release in the office makes no station of another grade wait."""
    grade_cache = GradeCache(catalogue)
    for grade in (GRADE, "TB-150"):
        await release(catalogue, grade_cache, grade, 1400)
        await in_force(grade_cache, grade)

    await release(catalogue, grade_cache, GRADE, 1300)

    assert grade_cache.held("TB-150") is not None


async def test_a_revision_comes_into_force_by_time_alone(catalogue: DatabaseCatalogue) -> None:
    """A revision that holds from midnight is judged by from midnight, though nothing happens in the catalogue then."""
    ticks = Ticks()
    grade_cache = GradeCache(catalogue, stale_for_s=10_000, clock=ticks)
    await release(catalogue, grade_cache, GRADE, 1400)
    await release(catalogue, grade_cache, GRADE, 1300, after_s=600)
    before = await in_force(grade_cache)

    ticks.seconds = 601

    assert (1, 2) == (before, await in_force(grade_cache))


async def test_a_withdrawn_revision_ends_the_older_one_when_its_moment_comes(catalogue: DatabaseCatalogue) -> None:
    """The older revision was to hold until that moment and no longer, so nothing is judged by it from then on."""
    ticks = Ticks()
    grade_cache = GradeCache(catalogue, stale_for_s=10_000, clock=ticks)
    await release(catalogue, grade_cache, GRADE, 1400)
    await release(catalogue, grade_cache, GRADE, 1300, after_s=600)
    await use.withdraw(catalogue, grade_cache, GRADE, 2, "A mistake in writing.")
    before = await in_force(grade_cache)

    ticks.seconds = 601

    assert 1 == before
    assert grade_cache.held(GRADE) is None
    assert "none-in-force" == (await flaw_of(grade_cache, GRADE))[0]


async def test_a_draft_judges_nothing(catalogue: DatabaseCatalogue) -> None:
    """A draft can change until it is released, so no answer may rest on it."""
    grade_cache = GradeCache(catalogue)
    await use.add_draft(catalogue, GRADE, strength(1400))
    said = f"Revision 1 of {GRADE} is a draft. Release it first, or leave `revision` out for the one in force."

    assert ("revision-not-released", "/revision", said) == await flaw_of(grade_cache, GRADE, 1)
    assert "none-in-force" == (await flaw_of(grade_cache, GRADE))[0]


async def test_a_revision_that_is_not_there_is_told(catalogue: DatabaseCatalogue) -> None:
    """A number with a slip of the finger is found in the number, not in the grade."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    said = f"{GRADE} has no revision 7. `GET /v1/grades/{GRADE}` lists its revisions."

    assert ("unknown-revision", "/revision", said) == await flaw_of(grade_cache, GRADE, 7)


@pytest.mark.parametrize("revision", [None, 1])
async def test_a_grade_that_is_not_there_is_told_with_near_ones(catalogue: DatabaseCatalogue, revision: int | None) -> None:
    """A letter for a figure is seen when the right code stands beside it."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)

    said = "There is no grade `TB-13O`. Did you mean `TB-130`?"
    assert ("unknown-grade", "/grade", said) == await flaw_of(grade_cache, "TB-13O", revision)
    said = "There is no grade `xyz`. `GET /v1/grades` lists them."
    assert ("unknown-grade", "/grade", said) == await flaw_of(grade_cache, "xyz", revision)


async def test_a_withdrawn_revision_still_judges_by_its_number(catalogue: DatabaseCatalogue) -> None:
    """A claim about an old delivery is answered by what held then."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    await use.withdraw(catalogue, grade_cache, GRADE, 1, "Too weak.")

    assert 1 == (await grade_cache.fetch(GRADE, 1)).number
    assert grade_cache.held(GRADE, 1) is not None


async def test_a_large_grade_makes_room_for_itself(catalogue: DatabaseCatalogue) -> None:
    """Memory is bounded by requirements, since one grade can have a thousand times those of another."""
    grade_cache = GradeCache(catalogue, most_requirements=3)
    await release(catalogue, grade_cache, "small", 1400)
    await release(catalogue, grade_cache, "middle", 1400, 1300)
    await release(catalogue, grade_cache, "large", 1400, 1300, 1200, 1100)
    await in_force(grade_cache, "small")
    await in_force(grade_cache, "middle")
    both = [grade_cache.held(grade) is not None for grade in ("small", "middle")]

    await in_force(grade_cache, "large")

    assert [True, True] == both
    assert [False, False, True] == [grade_cache.held(grade) is not None for grade in ("small", "middle", "large")]
    assert [False, False, True] == [grade_cache.held(grade, 1) is not None for grade in ("small", "middle", "large")]


async def test_finding_a_grade_takes_as_many_steps_among_many_as_among_few(catalogue: DatabaseCatalogue) -> None:
    """A mill with thousands of grades waits no longer for a check than one with ten; counted in lines, not in time."""
    grade_cache = GradeCache(catalogue)
    steps = []
    for number in range(40):
        grade = f"G-{number}"
        await release(catalogue, grade_cache, grade, 1400)
        await grade_cache.fetch(grade)
        steps.append(lines_run(grade_cache.held, "G-0"))

    assert {steps[0]} == set(steps)
    assert steps[0] > 0


async def test_while_the_catalogue_is_away_checks_go_on_for_a_time(catalogue: DatabaseCatalogue, store: Database) -> None:
    """A line does not stop for a database that restarts; after a time nobody can say any more what is in force."""
    ticks = Ticks()
    grade_cache = GradeCache(catalogue, stale_for_s=60, clock=ticks)
    await release(catalogue, grade_cache, GRADE, 1400)
    await in_force(grade_cache)
    await grade_cache.fetch(GRADE, 1)
    async with away(store):
        with pytest.raises(CatalogueAwayError):
            await grade_cache.refresh()
        ticks.seconds = 60
        went_on = (grade_cache.is_stale, grade_cache.held(GRADE) is not None)
        ticks.seconds = 61
        with pytest.raises(
            CatalogueAwayError, match=r"^The database has not answered for too long to say which revision is in force\."
        ):
            grade_cache.held(GRADE)
        pinned = grade_cache.held(GRADE, 1)
        with pytest.raises(CatalogueAwayError):
            await grade_cache.fetch("TB-150")
    await grade_cache.refresh()

    assert (True, True) == went_on
    assert pinned is not None
    assert not grade_cache.is_stale
    assert 1 == await in_force(grade_cache)


async def test_a_release_while_the_catalogue_was_away_counts_once_it_is_back(
    catalogue: DatabaseCatalogue, store: Database
) -> None:
    """Another replica may reach the database earlier; what it released is not missed."""
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, GRADE, 1400)
    await in_force(grade_cache)
    async with away(store):
        with pytest.raises(CatalogueAwayError):
            await grade_cache.refresh()
    await release(catalogue, GradeCache(catalogue), GRADE, 1300)

    await grade_cache.refresh()

    assert 2 == await in_force(grade_cache)


async def test_a_release_is_told_though_the_cache_cannot_follow(catalogue: DatabaseCatalogue, store: Database) -> None:
    """What is done is done: whoever released is not told that it failed because the database went away right after."""

    class Leaving(GradeCache):
        async def refresh(self) -> None:
            async with away(store):
                await super().refresh()

    await use.add_draft(catalogue, GRADE, strength(1400))
    grade_cache = Leaving(catalogue)

    await use.release(catalogue, grade_cache, GRADE, 1, effective_from=None, expected=None)

    assert 1 == await in_force(GradeCache(catalogue))
