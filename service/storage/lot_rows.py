"""Lots and their changes as rows, and back."""

from typing import Any

from sqlalchemy import Row, Select, select

from service.engine.ledger import Change
from service.ports import LotRow, Moment, NewChange
from service.storage.moments import moment, stored
from service.storage.tables import lot_changes


def change_columns(lot: str, change: Change) -> dict[str, Any]:
    """A change as a row."""
    return {
        "lot": lot,
        "number": change.number,
        "at": stored(change.at),
        "by": change.by,
        "kind": change.kind,
        "key": change.key,
        "digest": change.digest,
        "document": change.document.decode(),
    }


def numbered(new: NewChange, number: int, now: Moment) -> Change:
    """A change that is to be kept, with its number and its moment."""
    return Change(number=number, at=now, by=new.by, kind=new.kind, key=new.key, digest=new.digest, document=new.document)


def with_changes(row: LotRow, changes: int) -> LotRow:
    """The lot with so many changes."""
    return LotRow(**{**_members(row), "changes": changes})


def _members(row: LotRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in LotRow.__struct_fields__}


def lot_columns(row: LotRow) -> dict[str, Any]:
    """A lot as a row."""
    closed_at = None if row.closed_at is None else stored(row.closed_at)
    return {**_members(row), "told": row.told.decode(), "opened_at": stored(row.opened_at), "closed_at": closed_at}


def lot_row(row: Row[*tuple[Any, ...]]) -> LotRow:
    """The lot that a row is."""
    made = dict(row._mapping)  # noqa: SLF001  the library's public name for it
    closed_at = None if row.closed_at is None else moment(row.closed_at)
    return LotRow(**{**made, "told": row.told.encode(), "opened_at": moment(row.opened_at), "closed_at": closed_at})


def change_of(row: Row[*tuple[Any, ...]]) -> Change:
    """The change that a row is."""
    return Change(
        number=row.number,
        at=moment(row.at),
        by=row.by,
        kind=row.kind,
        key=row.key,
        digest=row.digest,
        document=row.document.encode(),
    )


def changes_after(lot: str, number: int) -> Select[*tuple[Any, ...]]:
    """The query for a lot's changes with a greater number than this, in their order."""
    of = lot_changes.c
    return select(lot_changes).where(of.lot == lot, of.number > number).order_by(of.number)
