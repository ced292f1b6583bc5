"""What is decided about lines, in both databases: every decision stays, under its id and with who made it."""

import asyncio
from datetime import timedelta

import msgspec
import pytest
from sqlalchemy import text

from service.engine.documents import digest_of
from service.ports.catalogue import CatalogueAwayError
from service.storage.database import Database
from service.storage.journal import DatabaseJournal
from service.storage.lots import DatabaseLines
from service.storage.verifying import verify
from tests.storage.test_journal import without_triggers

GRADE, LINE, BY = "TB-130", "L-3", "anna"
NORMAL, TIGHTENED = b'{"inspection":"normal"}', b'{"inspection":"tightened"}'
WHICH = "decision D-1 about line L-3 of TB-130"


@pytest.fixture
def lines(store: Database) -> DatabaseLines:
    """Lines in a database with tables."""
    return DatabaseLines(store)


async def test_a_decision_is_kept_once_under_its_id(store: Database, lines: DatabaseLines) -> None:
    """Two who send it at once are told which one counts, and neither is a second decision."""
    other = DatabaseLines(store)
    made = await asyncio.gather(
        lines.decide(GRADE, LINE, "D-1", NORMAL, BY), other.decide(GRADE, LINE, "D-1", TIGHTENED, "otto")
    )
    kept = (await lines.recorded(GRADE, LINE, None)).decisions

    assert [False, True] == sorted(is_new for _, is_new in made)
    assert [made[0][0], made[1][0]] == [*kept, *kept]


async def test_only_what_came_since_is_read(lines: DatabaseLines) -> None:
    """A line of ten years is not read anew for each lot that is opened."""
    first, _ = await lines.decide(GRADE, LINE, "D-1", NORMAL, BY)
    await lines.decide(GRADE, "L-4", "D-1", NORMAL, BY)
    part = await lines.recorded(GRADE, LINE, first.at)

    assert ["D-1"] == [each.id for each in part.decisions]
    assert first.at <= part.now
    assert [] == (await lines.recorded(GRADE, LINE, part.now + timedelta(seconds=1))).decisions


@pytest.mark.parametrize("statement", ["UPDATE line_decisions SET document = '{}'", "DELETE FROM line_decisions"])
async def test_a_decision_never_changes(store: Database, lines: DatabaseLines, statement: str) -> None:
    """Who loosened inspection, and why, stays."""
    await lines.decide(GRADE, LINE, "D-1", NORMAL, BY)
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert "what is recorded never changes" in str(refused.value.__cause__)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (
            "UPDATE line_decisions SET document = '{}'",
            f"The {WHICH} does not match entry 1: in table `line_decisions` `document`",
        ),
        ("UPDATE line_decisions SET by = 'otto'", "`by` is `otto` and should be `anna`"),
        ("UPDATE line_decisions SET line = 'L-4'", f"The {WHICH}, which entry 1 records, is missing"),
        (
            "INSERT INTO line_decisions VALUES ('TB-130', 'L-3', 'D-2', 1, 'otto', '{}')",
            "records the decision D-2 about line L-3",
        ),
    ],
)
async def test_the_journal_tells_of_every_decision(store: Database, lines: DatabaseLines, statement: str, said: str) -> None:
    """Whoever alters one behind our back is found."""
    await lines.decide(GRADE, LINE, "D-1", NORMAL, BY)
    [(entry, _)] = await DatabaseJournal(store).entries(0, 10)
    told = msgspec.json.decode(entry)

    assert ("inspection-decided", GRADE, LINE, "D-1", BY, digest_of(NORMAL)) == tuple(
        told[name] for name in ("what", "grade", "line", "id", "by", "kept")
    )
    assert (await verify(store)).mismatch is None
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text(statement))
    mismatch = (await verify(store)).mismatch
    assert mismatch
    assert said in mismatch.text
