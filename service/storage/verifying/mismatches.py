"""Mismatches between rows and journal entries, as sentences."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Row, Table, select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import cut, digest_of
from service.storage.database import to_microseconds

AnyRow = Row[*tuple[Any, ...]]
Entry = Mapping[str, Any]
Columns = Mapping[str, tuple[object, object]]
"""(actual, expected) value by column; a long text as its digest."""


SOME_AT_ONCE = {"max_row_buffer": 50}
"""Execution options that limit the rows of a stream in memory: a document may have some MiB."""


class Mismatch(NamedTuple):
    """Number of the entry that does not agree, 0 for a row without an entry, and the sentence that says why."""

    number: int
    text: str


class FirstMismatch:
    """The first of many mismatches; only this one is in memory."""

    def __init__(self) -> None:
        """Start without any."""
        self.found: Mismatch | None = None

    def take(self, mismatches: Iterable[Mismatch]) -> None:
        """Add mismatches; those with an entry are in the order of the journal, those without one behind them, as they come."""
        known = [] if self.found is None else [self.found]
        # Without an entry the first one stays: a row that nobody recorded comes before what triggers have noted of it.
        found = [*known, *mismatches]
        self.found = min(found, key=lambda each: (each.number == 0, each.number, each.number and each.text), default=None)


def no_entry(named: str) -> Mismatch:
    """A row without an entry."""
    return Mismatch(0, f"No entry of the journal records the {named}.")


def gone(named: str, entry: Entry) -> Mismatch:
    """An entry whose row does not exist."""
    return Mismatch(entry["number"], f"The {named}, which entry {entry['number']} records, is missing.")


def differing(table: str, named: str, entry: Entry, columns: Columns) -> list[Mismatch]:
    """Return one mismatch that lists all columns that differ from the entry; none if all agree."""
    wrong = [(name, actual, expected) for name, (actual, expected) in columns.items() if actual != expected]
    if not wrong:
        return []
    listed = "; ".join(f"`{name}` is {_shown(actual)} and should be {_shown(expected)}" for name, actual, expected in wrong)
    return [Mismatch(entry["number"], f"The {named} does not match entry {entry['number']}: in table `{table}` {listed}.")]


def digest(text: object) -> str | None:
    """Digest of a column's value; None for anything but text, which SQLite accepts in any column."""
    return digest_of(text.encode()) if isinstance(text, str) else None


def moment_of(entry: Entry, name: str = "at") -> int | None:
    """A moment of an entry in microseconds since 1970; None if it is missing or malformed."""
    try:
        return to_microseconds(datetime.fromisoformat(entry[name]))
    except (KeyError, TypeError, ValueError):
        return None


async def single(connection: AsyncConnection, table: Table) -> AnyRow | None:
    """Read the only row of a single-row table; None if it is missing, has another id, or is not alone."""
    # The CHECK on `id` may be gone from a database that somebody altered.
    rows = (await connection.execute(select(table).limit(2))).all()
    return rows[0] if len(rows) == 1 and rows[0].id == 1 else None


def _shown(value: object) -> str:
    return "empty" if value is None else f"`{cut(str(value))}`"
