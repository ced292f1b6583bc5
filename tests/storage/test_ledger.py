"""The ledger in both databases: one promise, one suite."""

import asyncio
from itertools import permutations

import msgspec
import pytest
from sqlalchemy import text

from service.engine.documents import FlawedDocumentError
from service.engine.ledger import Opening
from service.ports.catalogue import CatalogueAwayError
from service.ports.ledger import ContentDiffersError, LotsQuery, LotUnknownError, VerdictUnknownError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.journal import DatabaseJournal
from service.storage.lots import DatabaseLedger
from service.storage.verifying import verify
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from service.usecases.lots.readings import strike as strike_out
from tests.storage.test_journal import without_triggers
from tests.support.ledgers import BY, GRADE, LOT, batch, opened, strike, with_verdict


@pytest.fixture
def ledger(store: Database) -> DatabaseLedger:
    """An empty ledger in each database."""
    return DatabaseLedger(store)


async def test_two_callers_with_one_batch_are_counted_once(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """A line drops, and the station resends while the first is on its way."""
    grade_cache = await opened(catalogue, ledger)
    taken = await asyncio.gather(*(record_batch(ledger, grade_cache, LOT, batch("B", 1410, 1420), BY) for _ in range(8)))

    assert [True] + [False] * 7 == sorted((each.is_new for each in taken), reverse=True)
    assert {"breaking_force": (2, 0)} == (await ledger.folded(LOT)).readings


async def test_two_replicas_count_one_batch_once(catalogue: DatabaseCatalogue, store: Database) -> None:
    """The resent batch goes to the other replica, which knows nothing of the first."""
    replicas = [DatabaseLedger(store), DatabaseLedger(store)]
    grade_cache = await opened(catalogue, replicas[0])
    taken = await asyncio.gather(
        *(record_batch(each, grade_cache, LOT, batch("B", 1410), BY) for each in replicas for _ in range(4))
    )

    assert 1 == sum(each.is_new for each in taken)
    assert {1} == {(await each.folded(LOT)).readings["breaking_force"][0] for each in replicas}


async def test_replicas_open_one_lot_once(catalogue: DatabaseCatalogue, store: Database) -> None:
    """Two ERP jobs open the same lot at the same moment."""
    replicas = [DatabaseLedger(store) for _ in range(3)]
    grade_cache = await opened(catalogue, replicas[0])
    done = await asyncio.gather(*(open_lot(each, grade_cache, "0412-08", Opening(grade=GRADE), BY) for each in replicas))

    assert 1 == sum(each.is_new for each in done)


async def test_other_content_under_the_same_id_is_refused_with_the_difference(
    catalogue: DatabaseCatalogue, ledger: DatabaseLedger
) -> None:
    """Whoever reads it sees which of the two is wrong."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1410, 1420), BY)
    with pytest.raises(ContentDiffersError) as refused:
        await record_batch(ledger, grade_cache, LOT, batch("B", 1410, 1425), BY)

    assert [("/series/0/values/1", "This was `1420.0` before, and is `1425.0` now.")] == [
        (flaw.at, flaw.text) for flaw in refused.value.flaws
    ]


async def test_a_refused_one_in_a_group_refuses_only_itself(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """One station's mistake is not the others' loss."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1410), BY)
    wanted = [batch("B", 1500), *(batch(f"C{number}", 1410) for number in range(5)), batch("D", -1)]
    found = await asyncio.gather(*(record_batch(ledger, grade_cache, LOT, each, BY) for each in wanted), return_exceptions=True)
    unknown = await asyncio.gather(record_batch(ledger, grade_cache, "nowhere", batch("B", 1), BY), return_exceptions=True)

    assert [ContentDiffersError, FlawedDocumentError] == [type(found[0]), type(found[-1])]
    assert [LotUnknownError] == [type(each) for each in unknown]
    assert {"breaking_force": (6, 0)} == (await ledger.folded(LOT)).readings


async def test_a_struck_reading_stays_and_is_counted_as_struck(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """What was measured is not made unseen; it only stops counting."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1200, 1420), BY)
    taken = await strike_out(ledger, grade_cache, LOT, strike("S", "B", "/series/0/values/0"), BY)
    series = (await ledger.folded(LOT)).evidence().series

    assert ["pass"] == [each.outcome for each in taken.standing.moved]
    assert {"breaking_force": (2, 1)} == (await ledger.folded(LOT)).readings
    assert series
    assert ([1200, 1420], ["struck", ""]) == (series[0].values, series[0].remarks)


async def test_strike_and_batch_of_one_group_go_in_in_order(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """A strike that comes right behind its batch waits for it."""
    grade_cache = await opened(catalogue, ledger)
    await asyncio.gather(
        record_batch(ledger, grade_cache, LOT, batch("B", 1200, 1420), BY),
        strike_out(ledger, grade_cache, LOT, strike("S", "B", "/series/0/values/0"), BY),
    )

    assert {"breaking_force": (2, 1)} == (await ledger.folded(LOT)).readings


async def test_a_strike_of_nothing_is_refused(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """A miscounted place strikes nothing else."""
    grade_cache = await opened(catalogue, ledger)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1200), BY)
    with pytest.raises(FlawedDocumentError) as refused:
        await strike_out(ledger, grade_cache, LOT, strike("S", "B", "/series/0/values/0", "/series/0/values/1"), BY)

    assert [("nothing-there", "/at/1")] == [(flaw.code, flaw.at) for flaw in refused.value.flaws]


async def test_order_and_splitting_change_no_standing(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Which line was faster must not decide whether a lot passes."""
    grade_cache = await opened(catalogue, ledger)
    parts = [(1390.0, 1395.0), (1400.0,), (1415.0, 1402.0, 1401.0)]
    stands = set()
    for number, order in enumerate([*permutations(parts), [sum(parts, ())]]):
        lot = f"L{number}"
        await open_lot(ledger, grade_cache, lot, Opening(grade=GRADE), BY)
        for key, values in enumerate(order):
            taken = await record_batch(ledger, grade_cache, lot, batch(f"B{key}", *values), BY)
        stands.add(tuple((each.requirement, each.outcome) for each in taken.standing.requirements.values()))

    assert {(("strength-1400", "pass"),)} == stands


async def test_a_replica_that_starts_anew_folds_the_same(catalogue: DatabaseCatalogue, store: Database) -> None:
    """The evidence is what was told, not what a process remembers."""
    before, after = DatabaseLedger(store), DatabaseLedger(store, most_remembered=1)
    grade_cache = await opened(catalogue, before)
    await record_batch(before, grade_cache, LOT, batch("B", 1410, of_series={"packages": ["b1"]}), BY)
    await record_batch(after, grade_cache, LOT, batch("C", 1420), BY)
    await strike_out(before, grade_cache, LOT, strike("S", "C", "/series/0/values/0"), BY)

    assert (await before.folded(LOT)).evidence() == (await after.folded(LOT)).evidence()
    assert [1, 2, 3, 4] == [each.number for each in await after.changes(LOT, 0, 10)]


async def test_lots_are_found_by_what_the_mill_calls_them(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """The ERP knows its order, not our lot."""
    grade_cache = await opened(catalogue, ledger)
    opening = msgspec.convert({"grade": GRADE, "attributes": [{"name": "order", "value": "45:1"}]}, Opening)
    await open_lot(ledger, grade_cache, "A", opening, BY)

    assert ["A"] == [row.lot for row in await ledger.lots(LotsQuery(attribute=("order", "45:1")))]
    assert [LOT] == [row.lot for row in await ledger.lots(LotsQuery(grade=GRADE, state=("open",), limit=1))]
    assert ["A"] == [row.lot for row in await ledger.lots(LotsQuery(after=LOT))]


@pytest.mark.parametrize("statement", ["UPDATE lot_changes SET document = '{}'", "DELETE FROM lot_changes"])
async def test_what_is_recorded_never_changes(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, statement: str
) -> None:
    """Whoever opens the database by other means neither."""
    await opened(catalogue, ledger)
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert "what is recorded never changes" in str(refused.value.__cause__)


async def test_each_change_has_its_entry_in_the_journal(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger
) -> None:
    """Whoever alters a reading behind our back breaks the chain."""
    grade_cache = await opened(catalogue, ledger)
    await asyncio.gather(*(record_batch(ledger, grade_cache, LOT, batch(key, 1410), BY) for key in ("B", "C", "B")))
    entries = [msgspec.json.decode(entry) for entry, _ in await DatabaseJournal(store).entries(0, 100)]

    assert ["lot-opened", "lot-batch", "lot-batch"] == [each["what"] for each in entries if each["what"].startswith("lot-")]
    assert [1, 2, 3] == [each["change"] for each in entries if each.get("lot") == LOT]
    assert (await verify(store)).mismatch is None
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text("UPDATE lot_changes SET document = replace(document, '1410', '1510') WHERE number = 3"))
    mismatch = (await verify(store)).mismatch
    assert mismatch
    assert f"The change 3 of lot {LOT} does not match entry 5: in table `lot_changes` `document` is" in mismatch.text


async def test_a_verdict_is_kept_byte_for_byte(catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger) -> None:
    """What was said of a lot is read in two years as it was said."""
    await opened(catalogue, ledger)
    await ledger.record(LOT, with_verdict(1, evidence=b'{"lot": {"id": "0412-07"}}', verdict=b'{"outcome": "pass" }'))
    kept = await DatabaseLedger(store).verdict(LOT, 1)

    assert (b'{"lot": {"id": "0412-07"}}', b'{"outcome": "pass" }') == (kept.evidence, kept.verdict)
    assert (1, "pass", GRADE, 1, BY) == (kept.number, kept.outcome, kept.grade, kept.revision, kept.by)
    assert [1] == [each.number for each in (await DatabaseLedger(store).folded(LOT)).verdicts]
    with pytest.raises(VerdictUnknownError, match=f"Lot {LOT} has no verdict 2"):
        await ledger.verdict(LOT, 2)


@pytest.mark.parametrize("statement", ["UPDATE verdicts SET verdict = '{}'", "DELETE FROM verdicts"])
async def test_a_kept_verdict_never_changes(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, statement: str
) -> None:
    """A verdict that can be altered is worth nothing to a buyer."""
    await opened(catalogue, ledger)
    await ledger.record(LOT, with_verdict(1, evidence=b"{}", verdict=b"{}"))
    with pytest.raises(CatalogueAwayError) as refused:
        async with store.writing() as connection:
            await connection.execute(text(statement))

    assert "what is recorded never changes" in str(refused.value.__cause__)


@pytest.mark.parametrize(
    ("column", "statement"),
    [
        ("verdict", "UPDATE verdicts SET verdict = '[1]'"),
        ("evidence", "UPDATE verdicts SET evidence = '[1]'"),
        ("results", "UPDATE verdicts SET results = '[1]'"),
    ],
)
async def test_the_journal_tells_of_a_verdict_and_its_evidence(
    catalogue: DatabaseCatalogue, store: Database, ledger: DatabaseLedger, column: str, statement: str
) -> None:
    """Whoever alters either behind our back is found."""
    await opened(catalogue, ledger)
    await ledger.record(LOT, with_verdict(1, evidence=b"{}", verdict=b"{}"))

    assert (await verify(store)).mismatch is None
    await without_triggers(store)
    async with store.writing() as connection:
        await connection.execute(text(statement))
    mismatch = (await verify(store)).mismatch
    assert mismatch
    assert f"The verdict 1 of lot {LOT} does not match entry 4: in table `verdicts` `{column}` is" in mismatch.text
