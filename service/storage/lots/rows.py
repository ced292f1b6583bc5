"""Conversion of lots and their changes to rows, and back."""

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import Row, Select, and_, or_, select

from service.engine.ledger import Change, LotRow
from service.ports.catalogue import Moment
from service.ports.ledger import NewChange
from service.storage.database import lot_changes, to_microseconds, to_moment


def change_columns(lot: str, change: Change) -> dict[str, Any]:
    """Return the columns of a change."""
    return {
        "lot": lot,
        "number": change.number,
        "at": to_microseconds(change.at),
        "by": change.by,
        "kind": change.kind,
        "key": change.key,
        "digest": change.digest,
        "document": change.document.decode(),
    }


def numbered(new: NewChange, number: int, now: Moment) -> Change:
    """Return a new change with its number and moment."""
    return Change(number=number, at=now, by=new.by, kind=new.kind, key=new.key, digest=new.digest, document=new.document)


def differing(stored: LotRow | None, derived: LotRow | None) -> Sequence[str]:
    """Return the columns in which a lot's stored and derived row differ; all if only one of them exists."""
    if stored is None or derived is None:
        return () if stored is derived else LotRow.__struct_fields__
    return [name for name in LotRow.__struct_fields__ if getattr(stored, name) != getattr(derived, name)]


def lot_columns(row: LotRow) -> dict[str, Any]:
    """Return the columns of a lot."""
    closed_at = None if row.closed_at is None else to_microseconds(row.closed_at)
    return {**asdict(row), "told": row.told.decode(), "opened_at": to_microseconds(row.opened_at), "closed_at": closed_at}


def lot_row(row: Sequence[Any]) -> LotRow:
    """Return a row of `lots`, in the order of the table's columns, as a LotRow."""
    lot, grade, revision, state, changes, told, line, opened_at, closed_at, outcome, disposition = row
    return LotRow(
        lot=lot,
        grade=grade,
        revision=revision,
        state=state,
        changes=changes,
        told=told.encode(),
        line=line,
        opened_at=to_moment(opened_at),
        closed_at=None if closed_at is None else to_moment(closed_at),
        outcome=outcome,
        disposition=disposition,
    )


def change_of(row: Row[*tuple[Any, ...]]) -> Change:
    """Return a row of `lot_changes` as a Change."""
    return Change(
        number=row.number,
        at=to_moment(row.at),
        by=row.by,
        kind=row.kind,
        key=row.key,
        digest=row.digest,
        document=row.document.encode(),
    )


def changes_after(lot: str, number: int) -> Select[*tuple[Any, ...]]:
    """The query for a lot's changes with numbers above `number`, in order."""
    of = lot_changes.c
    return select(lot_changes).where(of.lot == lot, of.number > number).order_by(of.number)


def changes_behind(known: Mapping[str, int]) -> Select[*tuple[Any, ...]]:
    """The query for changes of several lots, each with numbers above its number in `known`, which must not be empty."""
    of = lot_changes.c
    query = select(lot_changes).where(or_(*(and_(of.lot == lot, of.number > number) for lot, number in known.items())))
    return query.order_by(of.lot, of.number)
