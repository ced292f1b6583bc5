"""A lot whose row or evidence somebody has altered: nothing goes out by it, nothing comes in, and who asks is told."""

from collections.abc import Awaitable, Callable
from typing import Any

import msgspec
import pytest
from sqlalchemy import text

from service.engine.ledger import AttributesAdded, Closing, Concession, Disposition, RevisionMoved
from service.ports.ledger import Ledger, LotIsAlteredError
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger, DatabaseLines
from service.usecases.dispositions.disposing import dispose, grant
from service.usecases.grades import GradeCache
from service.usecases.lines import LineHistories
from service.usecases.lots.closing import close_lot
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.opening import add_attributes, move_revision
from service.usecases.lots.readings import record_batch, strike
from tests.storage.test_journal import without_triggers
from tests.support.grade_caches import release
from tests.support.ledgers import BY, GRADE, LOT, batch, opened
from tests.support.ledgers import strike as struck
from tests.usecases.lots.test_correcting import correction

LIGHT = "TB-110"
Asked = Callable[[Ledger, GradeCache, LineHistories], Awaitable[object]]


def disposing(what: str, **members: Any) -> Asked:
    """A lot is let go, or not."""
    asked = msgspec.convert({"id": "D", "disposition": what, "reason": "As agreed.", **members}, Disposition)
    return lambda ledger, grade_cache, lines: dispose(ledger, grade_cache, lines, LOT, asked, "otto")


ALLOWED = msgspec.convert({"authority": "The buyer", "reason": "For this season.", "for": "release"}, Concession)
NAMED = msgspec.convert({"id": "A", "attributes": [{"name": "bale", "value": "7"}]}, AttributesAdded)
ASKED: dict[str, Asked] = {
    "release": disposing("release"),
    "release by a concession": disposing("release", concession="C-1"),
    "regrade": disposing("regrade", grade=LIGHT),
    "hold": disposing("hold"),
    "readings": lambda ledger, grade_cache, _: record_batch(ledger, grade_cache, LOT, batch("C", 1500), BY),
    "strike": lambda ledger, grade_cache, _: strike(ledger, grade_cache, LOT, struck("S", "B", "/series/0/values/0"), BY),
    "correction": lambda ledger, grade_cache, _: correct_lot(ledger, grade_cache, LOT, correction("K", values=[1500]), BY),
    "close": lambda ledger, grade_cache, _: close_lot(ledger, grade_cache, LOT, Closing(), BY),
    "concession": lambda ledger, grade_cache, _: grant(ledger, grade_cache, LOT, "C-2", ALLOWED, BY),
    "attributes": lambda ledger, _cache, _lines: add_attributes(ledger, LOT, NAMED, BY),
    "revision": lambda ledger, grade_cache, _: move_revision(ledger, grade_cache, LOT, RevisionMoved("M", 2, "As agreed."), BY),
}


async def failed(catalogue: DatabaseCatalogue, store: Database, *statements: str) -> tuple[DatabaseLedger, GradeCache]:
    """A lot that has failed, and what somebody with the database's own rights did to it."""
    ledger = DatabaseLedger(store)
    grade_cache = await opened(catalogue, ledger)
    await release(catalogue, grade_cache, GRADE, 1300)
    await release(catalogue, grade_cache, LIGHT, 1200)
    await record_batch(ledger, grade_cache, LOT, batch("B", 1100), BY)
    await close_lot(ledger, grade_cache, LOT, Closing(), BY)
    await grant(ledger, grade_cache, LOT, "C-1", ALLOWED, "anna")
    await without_triggers(store)
    async with store.writing() as connection:
        for statement in statements:
            await connection.execute(text(statement))
    return ledger, grade_cache


@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
@pytest.mark.parametrize(
    ("statement", "columns"),
    [
        ("UPDATE lots SET outcome = 'pass'", "`outcome`"),
        ("UPDATE lots SET state = 'open', outcome = NULL", "`state` and `outcome`"),
        ("UPDATE lots SET changes = changes + 1", "`changes`"),
    ],
)
async def test_nothing_rests_on_a_row_that_was_altered(
    catalogue: DatabaseCatalogue, store: Database, asked: Asked, statement: str, columns: str
) -> None:
    """A lot that has failed does not go out, nor take readings, by a word in a table; a replica that starts anew agrees."""
    ledger, grade_cache = await failed(catalogue, store, statement)
    before = await ledger.changes(LOT, 0, 100)
    for replica in (ledger, DatabaseLedger(store)):
        with pytest.raises(LotIsAlteredError) as refused:
            await asked(replica, grade_cache, LineHistories(DatabaseLines(store)))
        assert (
            f"The row of lot {LOT} was altered: it differs in {columns} from what was recorded of the lot. Nothing was done. "
            "Hold the lot, and have the operator of the service run `markeryarn verify`."
        ) == str(refused.value)

    assert before == await ledger.changes(LOT, 0, 100)


async def test_no_lot_goes_out_as_another_grade_by_evidence_that_was_altered(
    catalogue: DatabaseCatalogue, store: Database
) -> None:
    """The evidence of its verdict is what is judged by the other grade."""
    ledger, grade_cache = await failed(catalogue, store, "UPDATE verdicts SET evidence = replace(evidence, '1100', '1900')")
    with pytest.raises(LotIsAlteredError, match=f"The evidence stored with verdict 1 on lot {LOT} was altered"):
        await ASKED["regrade"](ledger, grade_cache, LineHistories(DatabaseLines(store)))

    assert (await ledger.row(LOT)).disposition is None
