"""The register of instruments in both databases: every version stays, and the newest one counts for every replica."""

import asyncio

import msgspec
import pytest
from sqlalchemy import text

from service.ports.catalogue import CatalogueAwayError
from service.ports.instruments import InstrumentUnknownError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.instruments import DatabaseInstruments
from service.storage.journal import DatabaseJournal
from service.storage.lots import DatabaseLedger
from service.storage.verifying import verify
from service.usecases.lots.readings import record_batch
from tests.storage.test_journal import without_triggers
from tests.support.ledgers import BY, LOT, batch, opened

TESTER = "TT-2"
OVERDUE, IN_DATE = (f'{{"calibrated_until":"{year}-12-31","measures":["force"]}}'.encode() for year in ("2019", "2999"))


@pytest.fixture
def instruments(store: Database) -> DatabaseInstruments:
    """An empty register in each database."""
    return DatabaseInstruments(store)


async def test_every_version_is_kept_and_the_newest_is_shown(instruments: DatabaseInstruments) -> None:
    """A claim in two years asks what was known on the day."""
    made = [await instruments.put(TESTER, document, by) for document, by in ((OVERDUE, "anna"), (IN_DATE, "otto"))]

    assert [(1, True), (2, True)] == [(row.number, is_new) for row, is_new in made]
    assert (IN_DATE, 2, "otto") == ((row := await instruments.version(TESTER)).document, row.number, row.by)
    assert (OVERDUE, "anna") == ((row := await instruments.version(TESTER, 1)).document, row.by)
    assert made[0][0] == await instruments.version(TESTER, 1)


async def test_the_same_again_makes_no_version(instruments: DatabaseInstruments) -> None:
    """A job that sends the register each night does not fill it."""
    first = await instruments.put(TESTER, OVERDUE, "anna")

    assert (first[0], False) == await instruments.put(TESTER, OVERDUE, "otto")
    assert [2, 3] == [(await instruments.put(TESTER, each, "otto"))[0].number for each in (IN_DATE, OVERDUE)]


async def test_two_administrators_at_once_both_have_a_version(store: Database) -> None:
    """Nothing is written over unseen: the earlier one can still be read."""
    replicas = [DatabaseInstruments(store), DatabaseInstruments(store)]
    documents = [f'{{"measures":["force"],"note":"{number}"}}'.encode() for number in range(8)]
    made = await asyncio.gather(*(replicas[number % 2].put(TESTER, document, BY) for number, document in enumerate(documents)))

    assert list(range(1, 9)) == sorted(row.number for row, _ in made)
    assert set(documents) == {(await replicas[0].version(TESTER, number)).document for number in range(1, 9)}


async def test_what_is_not_there_is_told(instruments: DatabaseInstruments) -> None:
    """Which of the two it is, an instrument or a version of it."""
    await instruments.put(TESTER, OVERDUE, BY)
    with pytest.raises(InstrumentUnknownError, match="There is no instrument `TT-9`"):
        await instruments.version("TT-9")
    with pytest.raises(InstrumentUnknownError, match="There is no version 2 of instrument `TT-2`"):
        await instruments.version(TESTER, 2)


async def test_instruments_are_listed_in_their_newest_versions(instruments: DatabaseInstruments) -> None:
    """In an order that is the same on both databases: capital letters first."""
    for name in ("b", "a", "B"):
        await instruments.put(name, OVERDUE, BY)
    await instruments.put("a", IN_DATE, BY)

    assert [("B", 1), ("a", 2)] == [(row.instrument, row.number) for row in await instruments.listed("", 2)]
    assert [("b", 1)] == [(row.instrument, row.number) for row in await instruments.listed("a", 2)]


@pytest.mark.parametrize("statement", ["UPDATE instruments SET document = '{}'", "DELETE FROM instruments"])
async def test_a_version_never_changes(store: Database, instruments: DatabaseInstruments, statement: str) -> None:
    """Nobody sets a date of calibration back afterwards."""
    await instruments.put(TESTER, OVERDUE, BY)
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert "what is recorded never changes" in str(refused.value.__cause__)
    assert OVERDUE == (await instruments.version(TESTER)).document


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (
            "UPDATE instruments SET document = replace(document, '2019', '2029')",
            "The version 1 of instrument TT-2 does not match entry 1: in table `instruments` `document` is",
        ),
        ("UPDATE instruments SET by = 'otto'", "`by` is `otto` and should be"),
        ("DELETE FROM instruments", "The version 1 of instrument TT-2, which entry 1 records, is missing"),
        ("INSERT INTO instruments VALUES ('TT-2', 2, 1, 'otto', '{}')", "records the version 2 of instrument TT-2"),
    ],
)
async def test_the_journal_tells_of_every_version(
    store: Database, instruments: DatabaseInstruments, statement: str, said: str
) -> None:
    """Whoever alters one behind our back is found."""
    await instruments.put(TESTER, OVERDUE, "anna")
    [(entry, _)] = await DatabaseJournal(store).entries(0, 10)
    told = msgspec.json.decode(entry)

    assert ("instrument-recorded", TESTER, 1, "anna") == (told["what"], told["instrument"], told["version"], told["by"])
    assert (await verify(store)).mismatch is None
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text(statement))
    mismatch = (await verify(store)).mismatch
    assert mismatch
    assert said in mismatch.text


async def test_each_batch_of_a_group_finds_its_own_instrument(
    catalogue: DatabaseCatalogue, store: Database, instruments: DatabaseInstruments
) -> None:
    """Many stations' batches go in by one commit, and one tester's date is not laid on another's readings."""
    ledger = DatabaseLedger(store)
    grade_cache = await opened(catalogue, ledger)
    await instruments.put("OLD", OVERDUE, BY)
    await instruments.put("NEW", IN_DATE, BY)
    sent = [batch(f"B{number}", 1410, instrument=name) for number, name in enumerate(("OLD", "NEW", "OTHER", "OLD"))]
    await asyncio.gather(*(record_batch(ledger, grade_cache, LOT, each, BY) for each in (*sent, batch("B4", 1410))))
    folded = await ledger.folded(LOT)

    assert {"B0": "overdue", "B1": None, "B3": "overdue"} == {
        name: marks.calibration or None for name, marks in folded.marks.items()
    }
    assert [("overdue", 2), (None, 3)] == [
        (each.calibration or None, len(each.values)) for each in folded.evidence().series or ()
    ]


async def test_marks_are_of_the_moment_of_recording_on_every_replica(
    catalogue: DatabaseCatalogue, store: Database, instruments: DatabaseInstruments
) -> None:
    """A replay in two years, on a machine that knows only what was kept, gives the same evidence."""
    before, after = DatabaseLedger(store), DatabaseLedger(store)
    grade_cache = await opened(catalogue, before)
    await instruments.put(TESTER, OVERDUE, BY)
    await record_batch(before, grade_cache, LOT, batch("B", 1410, instrument=TESTER), BY)
    await instruments.put(TESTER, IN_DATE, BY)
    again = await record_batch(after, grade_cache, LOT, batch("B", 1410, instrument=TESTER), BY)
    await record_batch(after, grade_cache, LOT, batch("C", 1420, instrument=TESTER), BY)

    assert not again.is_new
    assert ["overdue", None] == [each.calibration or None for each in (await after.folded(LOT)).evidence().series or ()]
    assert (await after.folded(LOT)).evidence() == (await before.folded(LOT)).evidence()
    assert (await after.folded(LOT)).evidence() == (await DatabaseLedger(store).folded(LOT)).evidence()
