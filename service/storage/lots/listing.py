"""The queries for a list of lots by a filter."""

from collections.abc import Sequence
from itertools import product
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import ColumnElement, Select, func, select, tuple_, union_all
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports.catalogue import Moment
from service.ports.ledger import ListedLot, LotsQuery
from service.storage.database import lot_attributes, lot_claims, lot_failures, lot_openings, lots, to_microseconds
from service.storage.lots.rows import lot_row


async def listed_lots(connection: AsyncConnection, wanted: LotsQuery, after: Moment | None) -> Sequence[ListedLot]:
    """Read the lots that match.

    after  when the lot `wanted.after` was opened; None without one, and in the order of ids
    """
    rows = (await connection.execute(_page(wanted, after))).all()
    names = [row.lot for row in rows]
    of, claims = lot_failures.c, lot_claims.c
    failed: dict[str, list[str]] = {}
    by_lot = select(of.lot, of.requirement).where(of.lot.in_(names)).order_by(of.lot, of.requirement)
    for lot, requirement in await connection.execute(by_lot):
        failed.setdefault(lot, []).append(requirement)
    unsettled = select(claims.lot, func.count().label("number")).where(claims.lot.in_(names), claims.settled_at.is_(None))
    open_claims = {row.lot: row.number for row in await connection.execute(unsettled.group_by(claims.lot))}
    return [
        ListedLot(
            **asdict(lot_row(row[:-2])),
            made=row.made,
            resubmits=row.resubmits,
            failed=failed.get(row.lot, ()),
            open_claims=open_claims.get(row.lot, 0),
        )
        for row in rows
    ]


def parts(wanted: LotsQuery, after: Moment | None) -> Sequence[Select[*tuple[Any, ...]]]:
    """One query for each pair of a wanted state and outcome: each reads one index in the order of the list, up to its limit."""
    # With IN, both databases would sort all lots in these states for each page.
    base, of = _filtered(wanted, after), lots.c
    queries = []
    for state, outcome in product(set(wanted.state) or (None,), set(wanted.outcome) or (None,)):
        query = base if state is None else base.where(of.state == state)
        query = query if outcome is None else query.where(of.outcome == outcome)
        queries.append(query.order_by(*_order(of, wanted)).limit(wanted.limit))
    return queries


def _page(wanted: LotsQuery, after: Moment | None) -> Select[*tuple[Any, ...]]:
    """The query for one page, with what the openings state."""
    branches = [each.subquery() for each in parts(wanted, after)]
    found = branches[0] if len(branches) == 1 else union_all(*map(select, branches)).subquery()
    query = select(found, lot_openings.c.made, lot_openings.c.resubmits)
    query = query.select_from(found.outerjoin(lot_openings, lot_openings.c.lot == found.c.lot))
    return query.order_by(*_order(found.c, wanted)).limit(wanted.limit)


def _order(of: Any, wanted: LotsQuery) -> tuple[ColumnElement[Any], ...]:
    if wanted.order == "lot":
        return (of.lot,)
    return (of.opened_at.desc(), of.lot.desc()) if wanted.order == "-opened" else (of.opened_at, of.lot)


def _filtered(wanted: LotsQuery, after: Moment | None) -> Select[*tuple[Any, ...]]:
    """The query without states and outcomes, order and limit."""
    of, query = lots.c, select(lots)
    for column, value in ((of.grade, wanted.grade), (of.line, wanted.line)):
        if value is not None:
            query = query.where(column == value)
    if wanted.disposition is not None:
        query = query.where(of.disposition.is_(None) if wanted.disposition == "none" else of.disposition == wanted.disposition)
    if wanted.opened_from is not None:
        query = query.where(of.opened_at >= to_microseconds(wanted.opened_from))
    if wanted.opened_until is not None:
        query = query.where(of.opened_at < to_microseconds(wanted.opened_until))
    return _behind(query.where(*(of.lot.in_(named) for named in _named(wanted))), wanted, after)


def _named(wanted: LotsQuery) -> list[Select[tuple[str]]]:
    """Queries for the lots that match by other tables."""
    found = []
    if wanted.attribute is not None:
        name, value = wanted.attribute
        of = lot_attributes.c
        found.append(select(of.lot).where(of.name == name, of.value == value))
    if wanted.failed is not None:
        found.append(select(lot_failures.c.lot).where(lot_failures.c.requirement == wanted.failed))
    if wanted.made_from is not None or wanted.made_until is not None:
        made = lot_openings.c.made
        since = made >= wanted.made_from if wanted.made_from is not None else made.is_not(None)
        until = [made <= wanted.made_until] if wanted.made_until is not None else []
        found.append(select(lot_openings.c.lot).where(since, *until))
    return found


def _behind(query: Select[*tuple[Any, ...]], wanted: LotsQuery, after: Moment | None) -> Select[*tuple[Any, ...]]:
    """The query for lots behind the last one of the page before."""
    if not wanted.after:
        return query
    if wanted.order == "lot" or after is None:
        return query.where(lots.c.lot > wanted.after)
    place, last = tuple_(lots.c.opened_at, lots.c.lot), (to_microseconds(after), wanted.after)
    return query.where(place < last if wanted.order == "-opened" else place > last)
