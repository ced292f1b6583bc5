"""Lots and their changes as rows, and back."""

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import Row, Select, and_, or_, select

from service.engine.ledger import Change, LotRow
from service.ports.catalogue import Moment
from service.ports.ledger import NewChange
from service.storage.database import lot_changes, moment, stored


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


def differing(kept: LotRow | None, made: LotRow | None) -> Sequence[str]:
    """The columns in which the row that is kept of a lot is another one than its changes make; all where one is missing."""
    if kept is None or made is None:
        return () if kept is made else LotRow.__struct_fields__
    return [name for name in LotRow.__struct_fields__ if getattr(kept, name) != getattr(made, name)]


def lot_columns(row: LotRow) -> dict[str, Any]:
    """A lot as a row."""
    closed_at = None if row.closed_at is None else stored(row.closed_at)
    return {**asdict(row), "told": row.told.decode(), "opened_at": stored(row.opened_at), "closed_at": closed_at}


def lot_row(row: Sequence[Any]) -> LotRow:
    """The lot that a row is, in the order of the table's columns."""
    lot, grade, revision, state, changes, told, line, opened_at, closed_at, outcome, disposition = row
    return LotRow(
        lot=lot,
        grade=grade,
        revision=revision,
        state=state,
        changes=changes,
        told=told.encode(),
        line=line,
        opened_at=moment(opened_at),
        closed_at=None if closed_at is None else moment(closed_at),
        outcome=outcome,
        disposition=disposition,
    )


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


def changes_behind(known: Mapping[str, int]) -> Select[*tuple[Any, ...]]:
    """The same of several lots, at least one, each with the number that its changes are to be greater than."""
    of = lot_changes.c
    query = select(lot_changes).where(or_(*(and_(of.lot == lot, of.number > number) for lot, number in known.items())))
    return query.order_by(of.lot, of.number)
