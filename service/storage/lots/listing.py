"""The query for a list of lots by a filter."""

from typing import Any

from sqlalchemy import Select, select

from service.ports.ledger import LotsQuery
from service.storage.database import lot_attributes, lots, to_microseconds


def listing(wanted: LotsQuery) -> Select[*tuple[Any, ...]]:
    """Return the query for the lots that match, in order of id."""
    of, query = lots.c, select(lots).where(lots.c.lot > wanted.after)
    for column, value in (
        (of.grade, wanted.grade),
        (of.state, wanted.state),
        (of.outcome, wanted.outcome),
        (of.disposition, wanted.disposition),
        (of.line, wanted.line),
    ):
        if value is not None:
            query = query.where(column == value)
    if wanted.opened_from is not None:
        query = query.where(of.opened_at >= to_microseconds(wanted.opened_from))
    if wanted.opened_until is not None:
        query = query.where(of.opened_at < to_microseconds(wanted.opened_until))
    if wanted.attribute is not None:
        name, value = wanted.attribute
        named = select(lot_attributes.c.lot).where(lot_attributes.c.name == name, lot_attributes.c.value == value)
        query = query.where(of.lot.in_(named))
    return query.order_by(of.lot).limit(wanted.limit)
