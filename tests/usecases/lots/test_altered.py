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
from service.usecases.grades import Shelf
from service.usecases.lines import LineHistories
from service.usecases.lots.closing import close_lot
from service.usecases.lots.correcting import correct_lot
from service.usecases.lots.opening import add_attributes, move_revision
from service.usecases.lots.readings import record_batch, strike
from tests.storage.test_journal import without_triggers
from tests.support.ledgers import BY, GRADE, LOT, batch, opened
from tests.support.ledgers import strike as struck
from tests.support.shelves import release
from tests.usecases.lots.test_correcting import correction

LIGHT = "TB-110"
Asked = Callable[[Ledger, Shelf, LineHistories], Awaitable[object]]


def disposing(what: str, **members: Any) -> Asked:
    """A lot is let go, or not."""
    asked = msgspec.convert({"id": "D", "disposition": what, "reason": "As agreed.", **members}, Disposition)
    return lambda ledger, shelf, lines: dispose(ledger, shelf, lines, LOT, asked, "otto")


ALLOWED = msgspec.convert({"authority": "The buyer", "reason": "For this season.", "for": "release"}, Concession)
NAMED = msgspec.convert({"id": "A", "attributes": [{"name": "bale", "value": "7"}]}, AttributesAdded)
ASKED: dict[str, Asked] = {
    "release": disposing("release"),
    "release by a concession": disposing("release", concession="C-1"),
    "regrade": disposing("regrade", grade=LIGHT),
    "hold": disposing("hold"),
    "readings": lambda ledger, shelf, _: record_batch(ledger, shelf, LOT, batch("C", 1500), BY),
    "strike": lambda ledger, shelf, _: strike(ledger, shelf, LOT, struck("S", "B", "/series/0/values/0"), BY),
    "correction": lambda ledger, shelf, _: correct_lot(ledger, shelf, LOT, correction("K", values=[1500]), BY),
    "close": lambda ledger, shelf, _: close_lot(ledger, shelf, LOT, Closing(), BY),
    "concession": lambda ledger, shelf, _: grant(ledger, shelf, LOT, "C-2", ALLOWED, BY),
    "attributes": lambda ledger, _shelf, _lines: add_attributes(ledger, LOT, NAMED, BY),
    "revision": lambda ledger, shelf, _: move_revision(ledger, shelf, LOT, RevisionMoved("M", 2, "As agreed."), BY),
}


async def failed(catalogue: DatabaseCatalogue, store: Database, *statements: str) -> tuple[DatabaseLedger, Shelf]:
    """A lot that has failed, and what somebody with the database's own rights did to it."""
    ledger = DatabaseLedger(store)
    shelf = await opened(catalogue, ledger)
    await release(catalogue, shelf, GRADE, 1300)
    await release(catalogue, shelf, LIGHT, 1200)
    await record_batch(ledger, shelf, LOT, batch("B", 1100), BY)
    await close_lot(ledger, shelf, LOT, Closing(), BY)
    await grant(ledger, shelf, LOT, "C-1", ALLOWED, "anna")
    await without_triggers(store)
    async with store.writing() as connection:
        for statement in statements:
            await connection.execute(text(statement))
    return ledger, shelf


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
    ledger, shelf = await failed(catalogue, store, statement)
    before = await ledger.changes(LOT, 0, 100)
    for replica in (ledger, DatabaseLedger(store)):
        with pytest.raises(LotIsAlteredError) as refused:
            await asked(replica, shelf, LineHistories(DatabaseLines(store)))
        assert (
            f"The row of lot {LOT} was altered: it differs in {columns} from what was recorded of the lot. Nothing was done. "
            "Hold the lot, and have whoever runs the service run `markeryarn verify`."
        ) == str(refused.value)

    assert before == await ledger.changes(LOT, 0, 100)


async def test_no_lot_goes_out_as_another_grade_by_evidence_that_was_altered(
    catalogue: DatabaseCatalogue, store: Database
) -> None:
    """The evidence of its verdict is what is judged by the other grade."""
    ledger, shelf = await failed(catalogue, store, "UPDATE verdicts SET evidence = replace(evidence, '1100', '1900')")
    with pytest.raises(LotIsAlteredError, match=f"The evidence kept with verdict 1 on lot {LOT} was altered"):
        await ASKED["regrade"](ledger, shelf, LineHistories(DatabaseLines(store)))

    assert (await ledger.row(LOT)).disposition is None
