"""The query for claims on any lots, the newest first."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Row, Select, select, tuple_
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import quoted
from service.engine.ledger import Change, claim_key, settlement_key
from service.ports.ledger import ChangeUnknownError, ClaimOnLot, ClaimsQuery
from service.storage.database import lot_changes, lot_claims
from service.storage.lots.rows import change_of

_ORDER = (lot_claims.c.at.desc(), lot_claims.c.lot.desc(), lot_claims.c.claim.desc())


async def listed_claims(connection: AsyncConnection, wanted: ClaimsQuery) -> Sequence[ClaimOnLot]:
    """Read the claims that match. Raises ChangeUnknownError if `wanted.after` is no claim."""
    rows = (await connection.execute(claims_query(wanted, await _place(connection, wanted)))).all()
    if not rows:
        return []
    changes = await _changes(connection, [(row.lot, key) for row in rows for key in _keys(row.claim)])
    return [
        ClaimOnLot(
            lot=row.lot,
            name=row.claim,
            grade=row.grade,
            claim=changes[row.lot, claim_key(row.claim)],
            settlement=changes.get((row.lot, settlement_key(row.claim))),
        )
        for row in rows
    ]


def claims_query(wanted: ClaimsQuery, place: Sequence[Any] | None) -> Select[*tuple[Any, ...]]:
    """The query for one page.

    place  moment, lot and name of the claim behind which the page begins
    """
    of, query = lot_claims.c, select(lot_claims)
    if wanted.grade is not None:
        query = query.where(of.grade == wanted.grade)
    if wanted.is_settled is not None:
        query = query.where(of.settled_at.is_not(None) if wanted.is_settled else of.settled_at.is_(None))
    if place is not None:
        query = query.where(tuple_(of.at, of.lot, of.claim) < tuple(place))
    return query.order_by(*_ORDER).limit(wanted.limit)


async def _place(connection: AsyncConnection, wanted: ClaimsQuery) -> Row[*tuple[Any, ...]] | None:
    if wanted.after is None:
        return None
    (lot, name), of = wanted.after, lot_claims.c
    row = (await connection.execute(select(of.at, of.lot, of.claim).where(of.lot == lot, of.claim == name))).first()
    if row is None:
        raise ChangeUnknownError(f"There is no claim {quoted(name)} on a lot {quoted(lot)}.")
    return row


async def _changes(connection: AsyncConnection, keys: Sequence[tuple[str, str]]) -> Mapping[tuple[str, str], Change]:
    """The changes under these (lot, key)."""
    of = lot_changes.c
    query = select(lot_changes).where(tuple_(of.lot, of.key).in_(keys))
    return {(row.lot, row.key): change_of(row) for row in await connection.execute(query)}


def _keys(claim: str) -> tuple[str, str]:
    return claim_key(claim), settlement_key(claim)
