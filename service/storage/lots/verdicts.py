"""Stored verdicts on lots, each with its evidence."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, Select, Text, and_, cast, insert, literal, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import digest_of
from service.engine.ledger import OF_VERDICTS, Change
from service.ports.ledger import NewVerdict, VerdictRow, VerdictUnknownError
from service.storage.database import lot_changes, to_microseconds, to_moment, verdicts

RecordedVerdict = tuple[Change, NewVerdict]
"""A change, and the verdict that it records."""


def store_verdicts(connection: Connection, recorded: Sequence[tuple[str, RecordedVerdict]]) -> None:
    """Insert verdicts, each given with its lot."""
    # An INSERT without rows would insert a row of defaults.
    if recorded:
        connection.execute(insert(verdicts), [_verdict_columns(lot, *each) for lot, each in recorded])


async def verdict_of(connection: AsyncConnection, lot: str, number: int) -> VerdictRow:
    """Read a verdict. Raises VerdictUnknownError."""
    query = select(verdicts).where(verdicts.c.lot == lot, verdicts.c.number == number)
    row = (await connection.execute(query)).first()
    if row is None:
        text = f"Lot {lot} has no verdict {number}. `GET /v1/lots/{lot}/verdicts` lists its verdicts."
        raise VerdictUnknownError(text)
    return _verdict_row(row)


def changes_with_verdicts(lot: str, after: int) -> Select[*tuple[Any, ...]]:
    """The query for changes that record a lot's verdicts with numbers above `after`, in order."""
    of = verdicts.c
    tells = (lot_changes.c.lot == of.lot, lot_changes.c.key == literal(OF_VERDICTS) + cast(of.number, Text))
    query = select(lot_changes).join(verdicts, and_(*tells))
    return query.where(of.lot == lot, of.number > after).order_by(of.number)


def in_journal(verdict: NewVerdict) -> dict[str, object]:
    """Return the members that a verdict adds to the journal's entry of its change."""
    return {"verdict": verdict.number, **_digests(verdict.verdict, verdict.evidence, verdict.results)}


def _digests(verdict: bytes, evidence: bytes, results: bytes) -> dict[str, object]:
    """Digests of the stored texts, which `verify` compares."""
    return {"verdict_kept": digest_of(verdict), "evidence_kept": digest_of(evidence), "results_kept": digest_of(results)}


def _verdict_columns(lot: str, change: Change, verdict: NewVerdict) -> dict[str, Any]:
    """Return the columns of a verdict."""
    return {
        "lot": lot,
        "number": verdict.number,
        "at": to_microseconds(change.at),
        "by": change.by,
        "outcome": verdict.outcome,
        "grade": verdict.grade,
        "revision": verdict.revision,
        "results": verdict.results.decode(),
        "evidence": verdict.evidence.decode(),
        "verdict": verdict.verdict.decode(),
    }


def _verdict_row(row: Row[*tuple[Any, ...]]) -> VerdictRow:
    """Return a row as a VerdictRow."""
    return VerdictRow(
        lot=row.lot,
        number=row.number,
        at=to_moment(row.at),
        by=row.by,
        outcome=row.outcome,
        grade=row.grade,
        revision=row.revision,
        evidence=row.evidence.encode(),
        verdict=row.verdict.encode(),
    )
