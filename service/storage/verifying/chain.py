"""Verification of the journal's chain: the digest, number and predecessor of each entry, and the head."""

import json
from collections.abc import AsyncIterator, Callable
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database import journal, journal_head
from service.storage.journal import BEFORE_THE_FIRST
from service.storage.verifying.mismatches import AnyRow, Entry, Mismatch, digest, single

BATCH_SIZE = 1000
"""Number of entries read at a time."""
MOST_NUMBERED = 2**31
"""Exclusive upper bound of the numbers of changes."""


class Walked(NamedTuple):
    """Number of valid entries, the digest of the last one, and the mismatch of the next one, if any."""

    entries: int
    digest: str
    mismatch: Mismatch | None


async def walk(connection: AsyncConnection, head: str | None, note: Callable[[Entry], None]) -> Walked:
    """Pass each entry to `note`, up to the first that is not valid.

    head  a digest that one of the entries must have; None for no such check
    """
    number, last, is_found = 0, BEFORE_THE_FIRST, head in (None, BEFORE_THE_FIRST)
    async for row in _rows(connection):
        entry = _entry_of(row)
        if mismatch := _mismatch_of(row, entry, number + 1, last):
            return Walked(number, last, mismatch)
        number, last, is_found = number + 1, row.digest, is_found or row.digest == head
        note(entry)
    if is_found:
        return Walked(number, last, None)
    return Walked(number, last, Mismatch(number, f"The journal has no entry {head}, so entries are missing at its end."))


async def head_mismatch(connection: AsyncConnection, walked: Walked) -> Mismatch | None:
    """Compare the last entry with the journal's head; None if they agree."""
    number = walked.entries
    head = await single(connection, journal_head)
    if head is None:
        return Mismatch(number + 1, f"The journal's head is missing; the last entry is number {number}.")
    if (head.number, head.digest) == (number, walked.digest):
        return None
    return Mismatch(number + 1, f"The journal ends at entry {number}, and its head is entry {head.number}.")


async def _rows(connection: AsyncConnection) -> AsyncIterator[AnyRow]:
    """All entries in order of number, read in batches."""
    after = None
    while True:
        query = select(journal).order_by(journal.c.number).limit(BATCH_SIZE)
        rows = (await connection.execute(query if after is None else query.where(journal.c.number > after))).all()
        for row in rows:
            yield row
        if len(rows) < BATCH_SIZE:
            return
        after = rows[-1].number


def _entry_of(row: AnyRow) -> Entry:
    """Decode the entry of a row; empty if it is no JSON object."""
    try:
        entry = json.loads(row.entry)
    except ValueError:
        return {}
    return entry if isinstance(entry, dict) else {}


def _mismatch_of(row: AnyRow, entry: Entry, number: int, before: str) -> Mismatch | None:
    """Compare an entry with its number, its digest and the digest of the previous one; None if all agree."""
    if row.number != number:
        return Mismatch(number, f"Entry {number} is missing; entry {row.number} comes in its place.")
    if digest(row.entry) != row.digest:
        return Mismatch(number, f"Entry {number} was altered: its content does not have the digest stored with it.")
    if "number" not in entry or not _is_well_formed(entry):
        return Mismatch(number, f"Entry {number} was altered: its content is not an entry.")
    if entry["number"] != number:
        return Mismatch(number, f"Entry {number} was moved: its content says entry {entry['number']}.")
    if entry.get("previous") != before:
        return Mismatch(number, f"Entry {number} does not follow the one before: it names another digest.")
    return None


def _is_well_formed(entry: Entry) -> bool:
    """True if all members are scalars, and `lot` and `change`, by which entries are sorted, are both valid or both absent."""
    if any(isinstance(member, dict | list) for member in entry.values()) or ("lot" in entry) != ("change" in entry):
        return False
    lot, change = entry.get("lot", ""), entry.get("change", 0)
    return isinstance(lot, str) and isinstance(change, int) and change < MOST_NUMBERED
