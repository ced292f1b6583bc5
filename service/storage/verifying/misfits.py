"""What does not fit, in sentences: rows beside what the journal tells of them."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Row, Table, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import cut, digest_of
from service.storage.database import stored

AnyRow = Row[*tuple[Any, ...]]
Entry = Mapping[str, Any]
Columns = Mapping[str, tuple[object, object]]
"""By column what a row has in it, and what it should have; a long text by its digest."""


SOME_AT_ONCE = {"max_row_buffer": 50}
"""Options of a statement by which so many rows of it are in memory: a document may have some MiB."""


class Misfit(NamedTuple):
    """An entry that does not fit, 0 for a row that no entry tells of, and why, in a sentence."""

    number: int
    text: str


class FirstMisfit:
    """The first misfit of many, of which no others are held."""

    def __init__(self) -> None:
        """None yet."""
        self.found: Misfit | None = None

    def take(self, misfits: Iterable[Misfit]) -> None:
        """An entry that is contradicted has a place in the journal; a row without one comes behind all that have."""
        known = [] if self.found is None else [self.found]
        self.found = min([*known, *misfits], key=lambda each: (each.number == 0, each), default=None)


def no_entry(named: str) -> Misfit:
    """A row that no entry tells of."""
    return Misfit(0, f"No entry of the journal tells of the {named}.")


def gone(named: str, entry: Entry) -> Misfit:
    """A row that an entry tells of, and that is not there."""
    return Misfit(entry["number"], f"The {named}, of which entry {entry['number']} tells, is gone.")


def differing(table: str, named: str, entry: Entry, columns: Columns) -> list[Misfit]:
    """One misfit where a row has not what it should have by this entry."""
    wrong = [(name, kept, told) for name, (kept, told) in columns.items() if kept != told]
    if not wrong:
        return []
    said = "; ".join(f"`{name}` is {_shown(kept)} and should be {_shown(told)}" for name, kept, told in wrong)
    return [Misfit(entry["number"], f"The {named} does not fit entry {entry['number']}. In table `{table}` {said}.")]


def digest(text: object) -> str | None:
    """Of what a column holds; None where that is no text, as SQLite takes anything."""
    return digest_of(text.encode()) if isinstance(text, str) else None


def moment_of(entry: Entry, name: str = "at") -> int | None:
    """A moment of an entry as tables have it; None where it tells none."""
    try:
        return stored(datetime.fromisoformat(entry[name]))
    except (KeyError, TypeError, ValueError):
        return None


async def single(connection: AsyncConnection, table: Table) -> AnyRow | None:
    """The one row of a table that has one; None where it is gone, has another id, or has others beside it."""
    rows = (await connection.execute(select(table).limit(2))).all()
    return rows[0] if len(rows) == 1 and rows[0].id == 1 else None


def _shown(value: object) -> str:
    return "empty" if value is None else f"`{cut(str(value))}`"
