"""Verdicts on lots as they are kept: whole, with the evidence that they rest on."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, Select, Text, and_, cast, insert, literal, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import digest_of
from service.engine.ledger import OF_VERDICTS, Change
from service.ports.ledger import NewVerdict, VerdictRow, VerdictUnknownError
from service.storage.database import lot_changes, moment, stored, verdicts

Told = tuple[Change, NewVerdict]
"""A change, and the verdict that it tells of."""


def store_verdicts(connection: Connection, told: Sequence[tuple[str, Told]]) -> None:
    """Insert them, each with its lot."""
    if told:
        connection.execute(insert(verdicts), [_kept(lot, *each) for lot, each in told])


async def verdict_of(connection: AsyncConnection, lot: str, number: int) -> VerdictRow:
    """A verdict. Raises VerdictUnknownError."""
    query = select(verdicts).where(verdicts.c.lot == lot, verdicts.c.number == number)
    row = (await connection.execute(query)).first()
    if row is None:
        text = f"Lot {lot} has no verdict {number}. `GET /v1/lots/{lot}/verdicts` lists those that it has."
        raise VerdictUnknownError(text)
    return _verdict_row(row)


def telling(lot: str, after: int) -> Select[*tuple[Any, ...]]:
    """The query for the changes that tell of a lot's verdicts with a greater number than this."""
    of = verdicts.c
    tells = (lot_changes.c.lot == of.lot, lot_changes.c.key == literal(OF_VERDICTS) + cast(of.number, Text))
    query = select(lot_changes).join(verdicts, and_(*tells))
    return query.where(of.lot == lot, of.number > after).order_by(of.number)


def in_journal(verdict: NewVerdict) -> dict[str, object]:
    """What the entry of the change that tells of it says besides."""
    return {"verdict": verdict.number, **_digests(verdict.verdict, verdict.evidence, verdict.results)}


def _digests(verdict: bytes, evidence: bytes, results: bytes) -> dict[str, object]:
    """Of what is kept, as it lies there."""
    return {"verdict_kept": digest_of(verdict), "evidence_kept": digest_of(evidence), "results_kept": digest_of(results)}


def _kept(lot: str, change: Change, verdict: NewVerdict) -> dict[str, Any]:
    """A verdict as a row."""
    return {
        "lot": lot,
        "number": verdict.number,
        "at": stored(change.at),
        "by": change.by,
        "outcome": verdict.outcome,
        "grade": verdict.grade,
        "revision": verdict.revision,
        "results": verdict.results.decode(),
        "evidence": verdict.evidence.decode(),
        "verdict": verdict.verdict.decode(),
    }


def _verdict_row(row: Row[*tuple[Any, ...]]) -> VerdictRow:
    """The verdict that a row is."""
    return VerdictRow(
        lot=row.lot,
        number=row.number,
        at=moment(row.at),
        by=row.by,
        outcome=row.outcome,
        grade=row.grade,
        revision=row.revision,
        evidence=row.evidence.encode(),
        verdict=row.verdict.encode(),
    )
