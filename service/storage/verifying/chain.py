"""The journal by itself: each entry as it was written, behind the one before, up to the last one."""

import json
from collections.abc import AsyncIterator, Callable
from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.storage.database import journal, journal_head
from service.storage.journal import BEFORE_THE_FIRST
from service.storage.verifying.misfits import AnyRow, Entry, Misfit, digest, single

AT_ONCE = 1000
"""Entries are read in parts of so many."""
MOST_NUMBERED = 2**31
"""The numbers of changes are below."""


class Walked(NamedTuple):
    """How many entries were walked, the digest of the last one, and what was wrong with the next."""

    entries: int
    digest: str
    misfit: Misfit | None


async def walk(connection: AsyncConnection, head: str | None, note: Callable[[Entry], None]) -> Walked:
    """All entries up to the first that does not fit, each given to `note`.

    head  a digest that has to be among them
    """
    number, last, is_there = 0, BEFORE_THE_FIRST, head in (None, BEFORE_THE_FIRST)
    async for row in _rows(connection):
        entry = _entry_of(row)
        if misfit := _misfit_of(row, entry, number + 1, last):
            return Walked(number, last, misfit)
        number, last, is_there = number + 1, row.digest, is_there or row.digest == head
        note(entry)
    if is_there:
        return Walked(number, last, None)
    return Walked(number, last, Misfit(number, f"The journal has no entry {head}, so entries are missing at its end."))


async def head_misfit(connection: AsyncConnection, walked: Walked) -> Misfit | None:
    """Where the journal ends elsewhere than its head says."""
    number = walked.entries
    head = await single(connection, journal_head)
    if head is None:
        return Misfit(number + 1, f"The journal's head is gone; the last entry is number {number}.")
    if (head.number, head.digest) == (number, walked.digest):
        return None
    return Misfit(number + 1, f"The journal ends at entry {number}, and its head is entry {head.number}.")


async def _rows(connection: AsyncConnection) -> AsyncIterator[AnyRow]:
    """All entries in the order of their numbers, some at a time."""
    after = None
    while True:
        query = select(journal).order_by(journal.c.number).limit(AT_ONCE)
        rows = (await connection.execute(query if after is None else query.where(journal.c.number > after))).all()
        for row in rows:
            yield row
        if len(rows) < AT_ONCE:
            return
        after = rows[-1].number


def _entry_of(row: AnyRow) -> Entry:
    """The entry that a row holds; empty where it holds none."""
    try:
        entry = json.loads(row.entry)
    except ValueError:
        return {}
    return entry if isinstance(entry, dict) else {}


def _misfit_of(row: AnyRow, entry: Entry, number: int, before: str) -> Misfit | None:
    """What is wrong with an entry by itself and behind the one before."""
    if row.number != number:
        return Misfit(number, f"Entry {number} is missing; entry {row.number} comes in its place.")
    if digest(row.entry) != row.digest:
        return Misfit(number, f"Entry {number} was altered: its content has another digest than the one kept with it.")
    if "number" not in entry or not _is_whole(entry):
        return Misfit(number, f"Entry {number} was altered: what stands in its place is no entry.")
    if entry["number"] != number:
        return Misfit(number, f"Entry {number} was moved: it calls itself entry {entry['number']}.")
    if entry.get("previous") != before:
        return Misfit(number, f"Entry {number} does not follow the one before: it names another digest.")
    return None


def _is_whole(entry: Entry) -> bool:
    """Whether it has plain members, and names the lot and the change where it tells of one, by which it is put in order."""
    if any(isinstance(member, dict | list) for member in entry.values()) or ("lot" in entry) != ("change" in entry):
        return False
    lot, change = entry.get("lot", ""), entry.get("change", 0)
    return isinstance(lot, str) and isinstance(change, int) and change < MOST_NUMBERED
