"""What a replica holds, when many ask at once, when answers are late, and when a database is put back."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from pathlib import Path

import pytest

from service.ports.catalogue import CatalogueState, Final
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database, database, migrate_database
from service.usecases.grades import GradeCache
from tests.support.grade_caches import Ticks, release


class Distant(DatabaseCatalogue):
    """The catalogue in a database that a question takes so many seconds to reach."""

    def __init__(self, kept: Database, ticks: Ticks) -> None:
        """Near, to begin with."""
        super().__init__(kept)
        self.ticks, self.takes_s = ticks, 0.0

    async def current_state(self) -> CatalogueState:
        """Read the clock at the end of the way there."""
        self.ticks.seconds += self.takes_s
        return await super().current_state()


class Gate:
    """Where one answer waits to be let go, once the gate is closed; the next one passes."""

    def __init__(self) -> None:
        """Open."""
        self.is_closed, self.is_waiting, self.opened = False, asyncio.Event(), asyncio.Event()

    async def passed(self) -> None:
        """Wait, if it is closed."""
        if self.is_closed:
            self.is_closed = False
            self.is_waiting.set()
            await self.opened.wait()


class Gated(DatabaseCatalogue):
    """A catalogue whose answers are read at once and told when their gate lets them."""

    def __init__(self, kept: Database) -> None:
        """Both gates are open."""
        super().__init__(kept)
        self.pulses, self.timelines = Gate(), Gate()

    async def current_state(self) -> CatalogueState:
        """Read at once, told late."""
        found = await super().current_state()
        await self.pulses.passed()
        return found

    async def final_revisions(self, grade: str) -> Sequence[Final]:
        """Read at once, told late."""
        found = await super().final_revisions(grade)
        await self.timelines.passed()
        return found


@pytest.fixture
async def kept(tmp_path: Path) -> AsyncIterator[Database]:
    """An embedded database with its tables."""
    url = f"sqlite:///{tmp_path}/grades.db"
    await migrate_database(url)
    opened = database(url)
    yield opened
    await opened.close()


async def test_asking_at_once_leaves_the_room_for_other_grades(kept: Database) -> None:
    """A revision fetched by many at once counts once, or the memory would shrink with each rush until it holds one grade."""
    catalogue = DatabaseCatalogue(kept)
    grade_cache = GradeCache(catalogue, most_requirements=2)
    await release(catalogue, grade_cache, "TB-130", 1400)
    await release(catalogue, grade_cache, "TB-150", 1200)

    await asyncio.gather(*(grade_cache.fetch("TB-130") for _ in range(20)))
    await grade_cache.fetch("TB-150")

    assert grade_cache.held("TB-130") is not None
    assert grade_cache.held("TB-150") is not None


async def test_the_grade_in_use_stays_in_memory(kept: Database) -> None:
    """A station that checks against one grade all day is not slowed by somebody who looks through the others."""
    catalogue = DatabaseCatalogue(kept)
    grade_cache = GradeCache(catalogue, most_requirements=2)
    for grade in ("TB-130", "TB-150", "TB-170"):
        await release(catalogue, grade_cache, grade, 1400)
    await grade_cache.fetch("TB-130")
    await grade_cache.fetch("TB-150")

    grade_cache.held("TB-130")
    await grade_cache.fetch("TB-170")

    assert grade_cache.held("TB-130") is not None
    assert grade_cache.held("TB-150") is None


async def test_a_late_answer_brings_no_revision_into_force_early(kept: Database) -> None:
    """A revision is in force from its moment by the database's clock, however long a replica waits for that."""
    ticks = Ticks()
    catalogue = Distant(kept, ticks)
    for lower, after_s in ((1400, 0), (1300, 60)):
        await release(catalogue, GradeCache(catalogue), "TB-130", lower, after_s=after_s)

    catalogue.takes_s = 120

    assert 1 == (await GradeCache(catalogue, stale_for_s=1000, clock=ticks).fetch("TB-130")).number


async def test_an_estimate_that_was_ahead_does_not_stay_ahead(kept: Database) -> None:
    """A replica whose own clock once ran fast goes by the database's again after it has read it."""
    ticks = Ticks()
    catalogue = Distant(kept, ticks)
    grade_cache = GradeCache(catalogue, stale_for_s=1000, clock=ticks)
    await release(catalogue, grade_cache, "TB-130", 1400)
    await release(catalogue, grade_cache, "TB-130", 1300, after_s=60)
    await grade_cache.fetch("TB-130")

    ticks.seconds += 50  # ahead of the database by that, since no time has passed there
    await grade_cache.refresh()
    ticks.seconds += 20

    held = grade_cache.held("TB-130")
    assert held is not None
    assert 1 == held.number


async def test_held_up_answers_do_not_undo_a_later_one(kept: Database) -> None:
    """A check right after a release is judged by it, though two answers from before the release come in after it."""
    catalogue = Gated(kept)
    grade_cache = GradeCache(catalogue)
    await release(catalogue, grade_cache, "TB-130", 1400)
    catalogue.pulses.is_closed = catalogue.timelines.is_closed = True
    poll = asyncio.create_task(grade_cache.refresh())
    await catalogue.pulses.is_waiting.wait()
    check = asyncio.create_task(grade_cache.fetch("TB-130"))
    await catalogue.timelines.is_waiting.wait()

    await release(catalogue, grade_cache, "TB-130", 1300)
    catalogue.pulses.opened.set()
    await poll
    catalogue.timelines.opened.set()
    await check

    held = grade_cache.held("TB-130") or await grade_cache.fetch("TB-130")
    assert 2 == held.number


async def test_a_database_put_back_is_read_anew(tmp_path: Path) -> None:
    """After a copy is put back, its revisions are judged by, and not what was read from the database before it."""
    copy, used = f"sqlite:///{tmp_path}/copy.db", f"sqlite:///{tmp_path}/used.db"
    opened = []
    for url in (copy, used):
        await migrate_database(url)
        opened.append(database(url))
    old, new = map(DatabaseCatalogue, opened)
    for lower in (1400, 1300):
        await release(new, GradeCache(new), "TB-130", lower)
    await release(old, GradeCache(old), "TB-130", 1500)
    catalogue = DatabaseCatalogue(opened[1])
    grade_cache = GradeCache(catalogue)
    first = await grade_cache.fetch("TB-130")
    await grade_cache.fetch("TB-130", 1)

    catalogue._database = opened[0]  # noqa: SLF001  the file of the copy in the place of the other
    await grade_cache.refresh()

    assert 2 == first.number
    assert grade_cache.held("TB-130") is None
    assert 1 == (await grade_cache.fetch("TB-130")).number
    assert "1500" in str((await grade_cache.fetch("TB-130")).compiled.requirements)
    for each in opened:
        await each.close()
