"""Many small lots with a verdict each, put into the tables at once: closing them one by one would take an hour."""

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import insert

from service.engine.documents import Evidence
from service.engine.grade import Specification, compile_specification
from service.engine.judging import judge
from service.storage.database import lots, open_database, to_microseconds, verdicts
from tests.support.grades import Document, lot, series

AT_ONCE = 2000
FIRST = datetime(2026, 9, 1, tzinfo=UTC)
VALUES = tuple(295 + 3 * number for number in range(10))
"""Breaking forces of lots in turn, in newtons: of ten, two are below 300, and three more below 310."""


class Rows(NamedTuple):
    """A lot and its verdict as rows."""

    lot: dict[str, Any]
    verdict: dict[str, Any]


def put(database_url: str, grade: str, specification: Document, number: int) -> None:
    """So many lots of revision 1 of the grade, closed a second after each other, of three readings each."""
    asyncio.run(_put(database_url, _rows(grade, specification, number)))


async def _put(database_url: str, rows: Iterator[Rows]) -> None:
    async with open_database(database_url) as database:
        while some := list(islice(rows, AT_ONCE)):
            async with database.writing() as connection:
                await connection.execute(insert(lots), [each.lot for each in some])
                await connection.execute(insert(verdicts), [each.verdict for each in some])


def _rows(grade: str, specification: Document, number: int) -> Iterator[Rows]:
    compiled = compile_specification(msgspec.convert(specification, Specification))
    for each in range(number):
        name, at = f"M{each:06d}", to_microseconds(FIRST + timedelta(seconds=each))
        document = msgspec.json.encode({**lot(series(*[VALUES[each % 10]] * 3)), "lot": {"id": name}})
        verdict = judge(compiled, msgspec.json.decode(document, type=Evidence), grade, 1)
        of_both = {"lot": name, "grade": grade, "revision": 1, "outcome": verdict.outcome.value}
        row = {**of_both, "state": "closed", "changes": 0, "told": "{}", "line": "L-1", "opened_at": at, "closed_at": at}
        kept = {"number": 1, "at": at, "by": "local", "results": "[]", "evidence": document.decode()}
        yield Rows(row, {**of_both, **kept, "verdict": msgspec.json.encode(verdict).decode()})
