"""Lists of lots in both databases: what they select, in which order, page by page, and by which indexes."""

import json
from collections.abc import Sequence
from datetime import timedelta
from itertools import product
from typing import Any

import msgspec
import pytest
from sqlalchemy import Select, text
from sqlalchemy.dialects import postgresql, sqlite

from service.engine.documents import Outcome, digest_of
from service.engine.ledger import (
    CLAIM,
    SETTLEMENT,
    VERDICT,
    Opening,
    VerdictRecord,
    claim_key,
    encoded,
    settlement_key,
    verdict_key,
)
from service.ports.instruments import Due
from service.ports.ledger import ClaimsQuery, Decide, Decided, LotsQuery, NewChange, NewVerdict
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.database.migrating import migrate_database
from service.storage.instruments import instruments_query
from service.storage.lots import DatabaseLedger
from service.storage.lots.claims import claims_query
from service.storage.lots.listing import parts
from service.storage.verifying import verify
from service.usecases.lots.opening import open_lot
from tests.support.ledgers import BY, GRADE, LOT, opened

ORDERS = ("lot", "opened", "-opened")
NAMES = ("Z", "A", "M", "B")
"""In the order in which they are opened, behind LOT."""
FAILED = {"requirement": "strength", "outcome": "fail", "binding": True}
VERDICTS = {
    "A": [FAILED, {"requirement": "elongation", "outcome": "pass", "binding": True}],
    "M": [FAILED, {"requirement": "marking", "outcome": "fail", "binding": False}],
}


def judged(number: int, outcome: Outcome, findings: Sequence[object]) -> Decide:
    """The decision that records a verdict with these findings."""
    verdict, evidence = json.dumps({"findings": findings}).encode(), b"{}"
    told = VerdictRecord(
        number=number, outcome=outcome, revision=1, verdict=digest_of(verdict), evidence=digest_of(evidence), state="closed"
    )
    kept = NewVerdict(number=number, outcome=outcome.value, grade=GRADE, revision=1, evidence=evidence, verdict=verdict)
    change = NewChange(by=BY, kind=VERDICT, key=verdict_key(number), digest=told.verdict, document=encoded(told), verdict=kept)
    return lambda _pending: Decided(changes=[change])


def change(kind: str, key: str, document: object) -> Decide:
    """The decision that records a change."""
    made = NewChange(by=BY, kind=kind, key=key, digest="d", document=json.dumps(document).encode())
    return lambda _pending: Decided(changes=[made])


async def filled(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Five lots: two failed, one of these with an open claim and one that is settled, one resubmits another."""
    grade_cache = await opened(catalogue, ledger)
    for name in NAMES:
        resubmits = {"resubmits": "A"} if name == "B" else {}
        await open_lot(ledger, grade_cache, name, msgspec.convert({"grade": GRADE, **resubmits}, Opening), BY)
    for name, findings in VERDICTS.items():
        await ledger.record(name, judged(1, Outcome.FAIL, findings))
    claim = {"from": "A farm", "received_on": "2026-11-26", "requirements": ["strength"], "verdict": 1}
    for name in ("R-1", "R-2"):
        await ledger.record("A", change(CLAIM, claim_key(name), claim))
    await ledger.record("A", change(SETTLEMENT, settlement_key("R-1"), {"settlement": "refused", "reason": "It holds."}))


async def names(ledger: DatabaseLedger, wanted: LotsQuery) -> list[str]:
    """The ids of the lots that match."""
    return [row.lot for row in await ledger.lots(wanted)]


@pytest.fixture
def ledger(store: Database) -> DatabaseLedger:
    """An empty ledger in each database."""
    return DatabaseLedger(store)


async def test_a_row_says_what_failed_and_which_claims_are_open(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Of binding requirements only, and of claims only those that nobody has settled."""
    await filled(catalogue, ledger)
    rows = {row.lot: row for row in await ledger.lots(LotsQuery())}

    assert (["strength"], ["strength"], ()) == (rows["A"].failed, rows["M"].failed, rows["Z"].failed)
    assert {"A": 1, "B": 0, "M": 0, "Z": 0, LOT: 0} == {name: row.open_claims for name, row in rows.items()}
    assert ("A", None) == (rows["B"].resubmits, rows["A"].resubmits)


async def test_only_the_newest_verdict_counts(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """A corrected lot is found no more by what failed before its correction."""
    await filled(catalogue, ledger)
    await ledger.record("A", judged(2, Outcome.PASS, [{**FAILED, "outcome": "pass"}]))

    assert ["M"] == await names(ledger, LotsQuery(failed="strength"))
    assert [] == await names(ledger, LotsQuery(failed="marking"))


async def test_filters_select_and_orders_sort(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """Several states or outcomes are any of them, and `none` is no disposition."""
    await filled(catalogue, ledger)

    assert [LOT, "A", "B", "M", "Z"] == await names(ledger, LotsQuery(state=("open", "closed", "open")))
    assert [LOT, *NAMES] == await names(ledger, LotsQuery(order="opened"))
    assert [*reversed(NAMES), LOT] == await names(ledger, LotsQuery(order="-opened"))
    assert ["M", "A"] == await names(
        ledger, LotsQuery(state=("closed",), outcome=("fail", "undecided"), disposition="none", order="-opened")
    )
    assert [] == await names(ledger, LotsQuery(disposition="hold"))
    assert ["A"] == await names(ledger, LotsQuery(failed="strength", limit=1))


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("state", [(), ("open", "closed")])
async def test_pages_follow_each_other(
    catalogue: DatabaseCatalogue, ledger: DatabaseLedger, order: str, state: tuple[str, ...]
) -> None:
    """Each lot once, in the order of the whole list."""
    await filled(catalogue, ledger)
    wanted = msgspec.convert({"order": order, "state": state}, LotsQuery)
    found: list[str] = []
    while page := await names(ledger, msgspec.structs.replace(wanted, after=found[-1] if found else "", limit=2)):
        found += page

    assert await names(ledger, wanted) == found
    assert {LOT, *NAMES} == set(found)
    assert len(found) == len(set(found))


FILTERS: tuple[dict[str, Any], ...] = (
    {},
    {"grade": GRADE},
    {"line": "L-3"},
    {"state": ("closed",)},
    {"state": ("open", "waiting")},
    {"outcome": ("fail",)},
    {"disposition": "hold"},
    {"disposition": "none"},
    {"disposition": "none", "outcome": ("fail",)},
)
BY_OTHERS: tuple[dict[str, Any], ...] = (
    {"failed": "strength"},
    {"attribute": ("order", "45")},
    {"made_from": "2026-11-01", "made_until": "2026-11-30"},
)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("behind", ["", "M"], ids=["first", "later"])
async def test_no_list_reads_more_than_it_shows(
    catalogue: DatabaseCatalogue, ledger: DatabaseLedger, store: Database, order: str, behind: str
) -> None:
    """Each filter reads an index in the order of the list, so that a page of a large ledger costs what a small one's does."""
    await filled(catalogue, ledger)
    after = (await ledger.row("M")).opened_at if behind and order != "lot" else None
    page: dict[str, Any] = {"order": order, "after": behind}
    for filters in FILTERS:
        for plan in await plans(store, LotsQuery(**{**page, **filters}), after):
            assert "SCAN lots\n" not in f"{plan}\n", (filters, plan)
            assert "SCAN lots USING INDEX" not in plan or not filters, (filters, plan)
            assert "TEMP B-TREE" not in plan, (filters, plan)
            assert "Seq Scan" not in plan, (filters, plan)
            assert "Sort" not in plan, (filters, plan)
            assert "Filter:" not in plan, (filters, plan)
    for filters in BY_OTHERS:
        for plan in await plans(store, LotsQuery(**{**page, **filters}), after):
            assert "SCAN lot_" not in plan, (filters, plan)
            assert "Seq Scan" not in plan, (filters, plan)


CLAIMS = (
    ClaimsQuery(),
    ClaimsQuery(grade=GRADE),
    ClaimsQuery(is_settled=False),
    ClaimsQuery(is_settled=False, grade=GRADE),
    ClaimsQuery(is_settled=True),
)


async def test_no_list_of_claims_or_instruments_reads_more_than_it_shows(store: Database) -> None:
    """Open claims are found among any number of settled ones, and overdue instruments among any number of others."""
    for wanted, place in product(CLAIMS, (None, (1, LOT, "R-1"))):
        (plan,) = await explained(store, [claims_query(wanted, place)])
        assert "SCAN lot_claims\n" not in f"{plan}\n", (wanted, plan)
        assert "TEMP B-TREE" not in plan, (wanted, plan)
        assert "Seq Scan" not in plan, (wanted, plan)
        assert "Sort" not in plan, (wanted, plan)
    (plan,) = await explained(store, [instruments_query("", Due("2026-11-30", is_overdue=True))])
    # PostgreSQL takes either index, by how many instruments there are.
    assert not store.is_embedded or "instruments_by_term" in plan
    assert "Seq Scan" not in plan


async def plans(store: Database, wanted: LotsQuery, after: object) -> list[str]:
    """How the database would find one page of lots."""
    return await explained(store, parts(wanted, after))  # type: ignore[arg-type]


async def explained(store: Database, queries: Sequence[Select[*tuple[Any, ...]]]) -> list[str]:
    """How the database would answer; PostgreSQL as if the tables were long, for which it would scan no short one."""
    dialect = sqlite.dialect() if store.is_embedded else postgresql.dialect()  # type: ignore[no-untyped-call]
    found = []
    async with store.reading() as connection:
        for query in queries:
            written = str(query.compile(dialect=dialect, compile_kwargs={"literal_binds": True}))
            if store.is_embedded:
                rows = await connection.execute(text(f"EXPLAIN QUERY PLAN {written}".replace(":", "\\:")))
                found.append("\n".join(row.detail for row in rows))
            else:
                for each in ("enable_seqscan", "enable_sort", "enable_bitmapscan"):
                    await connection.execute(text(f"SET LOCAL {each} = off"))
                rows = await connection.execute(text(f"EXPLAIN {written}".replace(":", "\\:")))
                found.append("\n".join(row[0] for row in rows))
    return found


async def test_what_lists_show_follows_from_what_was_recorded_before(
    catalogue: DatabaseCatalogue, ledger: DatabaseLedger, store: Database, database_url: str
) -> None:
    """The migration gives lots of the release before the same rows as they would have got."""
    await filled(catalogue, ledger)
    before = await ledger.lots(LotsQuery())
    await migrate_database(database_url, "0008", down=True)
    await migrate_database(database_url)

    assert before == await ledger.lots(LotsQuery())
    assert (await verify(store)).mismatch is None


async def test_a_period_goes_by_the_moment_of_opening(catalogue: DatabaseCatalogue, ledger: DatabaseLedger) -> None:
    """The beginning is in it, the end is not."""
    await filled(catalogue, ledger)
    first = (await ledger.row("Z")).opened_at

    assert ["Z"] == await names(ledger, LotsQuery(opened_from=first, opened_until=first + timedelta(microseconds=1)))
    assert [] == await names(ledger, LotsQuery(opened_from=first, opened_until=first))
