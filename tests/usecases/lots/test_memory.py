"""What lots take in memory is counted whole, and bounded."""

import gc
import json
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import msgspec
import pytest

from service.engine.grade import CompiledGrade
from service.engine.ledger import BATCH, OPENED, CarriedOpening, Change, LotHistory, Opening, encoded
from service.storage.catalogue import DatabaseCatalogue
from service.storage.database import Database
from service.storage.lots import DatabaseLedger
from service.usecases.lots.opening import open_lot
from service.usecases.lots.readings import record_batch
from service.usecases.lots.standing import current_standing
from tests.support.grades import each, grade, mean, spread
from tests.support.judging import compiled
from tests.support.ledgers import BY, GRADE, batch, opened

AT = datetime(2026, 11, 26, tzinfo=UTC)
LOTS = 200
THREE = compiled(grade(mean(lower=1400), each(lower=1200), spread("range", 1000)))
MANY = compiled(grade(*(mean(lower=1400 + number) for number in range(100))))


def change(kind: str, number: int, document: bytes) -> Change:
    """A change as it is kept."""
    return Change(number=number, at=AT, by=BY, kind=kind, key=f"K{number}", digest="sha256:" + "a" * 64, document=document)


def lot(number: int, *batches: dict[str, Any], of: CompiledGrade | None = None) -> LotHistory:
    """A lot with these batches, and where it stands by a grade."""
    folded = LotHistory(f"L{number}")
    folded.add(change(OPENED, 1, encoded(msgspec.convert({"grade": GRADE, "revision": 1, "size": 480}, CarriedOpening))))
    for place, each_one in enumerate(batches, start=2):
        folded.add(change(BATCH, place, json.dumps({"batch": f"B{number}-{place}", **each_one}).encode()))
    if of:
        current_standing(folded, of)
    return folded


def readings(count: int, number: int) -> dict[str, Any]:
    """A batch of breaking forces of balls with names."""
    names = [f"ball-{number}-{place}" for place in range(count)]
    values = [1432.5 + place for place in range(count)]
    return {"series": [{"characteristic": "breaking_force", "unit": "N", "values": values, "packages": names}]}


def counts(count: int) -> dict[str, Any]:
    """A batch of counts of faults, and no reading."""
    looked_at = {"value": 5000, "unit": "m"}
    return {"counts": [{"fault": f"fault_{place}", "occurrences": 3, "looked_at": looked_at} for place in range(count)]}


@pytest.mark.parametrize(
    "make",
    [
        lot,
        lambda number: lot(number, readings(1, number), of=THREE),
        lambda number: lot(number, *(readings(1, 10 * number + place) for place in range(10))),
        lambda number: lot(number, readings(100, number)),
        lambda number: lot(number, counts(100)),
        lambda number: lot(number, readings(1, number), of=MANY),
    ],
)
def test_a_lot_takes_about_as_much_as_is_counted(make: Callable[[int], LotHistory]) -> None:
    """Never much more: what is not counted fills the memory of a service that runs for a year."""
    made = [make(0)]
    gc.collect()
    tracemalloc.start()
    made += [make(number) for number in range(1, LOTS)]
    taken, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert 0.4 < taken / sum(each_one.bytes for each_one in made[1:]) < 1.3


async def test_lots_in_memory_take_no_more_than_they_may(catalogue: DatabaseCatalogue, store: Database) -> None:
    """The ones not used for longest go, also where a lot grows by where it stands."""
    most = 40_000
    ledger = DatabaseLedger(store, most_remembered=most)
    grade_cache = await opened(catalogue, ledger)
    names = [f"L{number}" for number in range(20)]
    for name in names:
        await open_lot(ledger, grade_cache, name, Opening(grade=GRADE), BY)
        await record_batch(ledger, grade_cache, name, batch(f"B{name}", 1432.5, 1500), BY)
        held = [found for each_one in names if (found := ledger.remembered(each_one))]

        assert ledger.remembered_bytes <= most + 1000
        assert ledger.remembered_bytes >= sum(found.bytes for found in held)
    assert 3 < len(held) < len(names)
    assert held[-1].lot == names[-1]
