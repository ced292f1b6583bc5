"""Whether the journal is whole, and whether the tables say what it says."""

import json
from collections.abc import AsyncIterator, Callable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.digests import digest_of
from service.ports import LOCAL
from service.storage.connecting import Database
from service.storage.instruments import in_table as instrument_in_table
from service.storage.journal import BEFORE_THE_FIRST, in_entry
from service.storage.lines import in_table as decision_in_table
from service.storage.moments import moment
from service.storage.tables import (
    catalogue_version,
    instruments,
    journal,
    journal_head,
    key_revocations,
    keys,
    line_decisions,
    lot_changes,
    releases,
    revisions,
    verdicts,
    withdrawals,
)
from service.storage.verdicts import in_table

AT_ONCE = 1000
"""Entries are read in parts of so many."""
Entry = Mapping[str, Any]
Subject = tuple[str, str, int]
"""What a row is of: a kind, a grade and the number of its revision; a key and 0; a lot or an instrument and a number of it."""
Told = dict[Subject, Entry]
"""By what a row is of, the last entry that told of it."""
ROWS = {
    "key-added": ("key",),
    "key-revoked": ("revocation",),
    "draft-added": ("document", "creation"),
    "draft-replaced": ("document",),
    "revision-released": ("release",),
    "revision-withdrawn": ("withdrawal",),
}
"""By what an entry tells, the kinds of rows that it tells of."""


class Misfit(NamedTuple):
    """An entry that does not fit, 0 for a row that no entry tells of, and why, in a sentence."""

    number: int
    text: str


class Verified(NamedTuple):
    """How many entries there are, the digest of the last one, and the first misfit, None where all fit."""

    entries: int
    head: str
    misfit: Misfit | None


async def verify(database: Database, head: str | None = None) -> Verified:
    """Walk the journal from its first entry to its last, then compare the tables with what it tells.

    head  a digest that was noted before and has to be among them, so that a journal that was cut off is found too

    All of it is read as it was at one moment, so that whoever writes meanwhile is no misfit. Raises CatalogueAwayError.
    """
    async with database.one_state() as connection:
        return await verify_in(connection, head)


async def verify_in(connection: AsyncConnection, head: str | None) -> Verified:
    """The same as a transaction sees it."""
    told: Told = {}
    number, digest, is_there = 0, BEFORE_THE_FIRST, head in (None, BEFORE_THE_FIRST)
    async for row in _rows(connection):
        entry = _entry_of(row)
        if misfit := _misfit_of(row, entry, number + 1, digest):
            return Verified(number, digest, misfit)
        number, digest, is_there = number + 1, row.digest, is_there or row.digest == head
        for subject in _subjects(entry):
            told[subject] = entry
    misfit = None if is_there else Misfit(number, f"The journal has no entry {head}, so entries are missing at its end.")
    misfit = misfit or await _head_misfit(connection, number, digest) or await _table_misfit(connection, told)
    return Verified(number, digest, misfit)


def _subjects(entry: Entry) -> list[Subject]:
    """What an entry tells of."""
    if "change" in entry:
        lot = entry.get("lot", "")
        verdicts_told = [("verdict", lot, entry["verdict"])] if "verdict" in entry else []
        return [("change", lot, entry["change"]), *verdicts_told]
    if "line" in entry:
        # A decision has no number; its id is of its line.
        return [("decision", f"{entry['grade']} {entry['line']} {entry.get('id')}", 0)]
    if "instrument" in entry:
        return [("version", entry["instrument"], entry.get("version", 0))]
    named = entry.get("grade") or entry.get("key", ""), entry.get("revision", 0)
    return [(kind, *named) for kind in ROWS.get(entry.get("what", ""), ())]


async def _rows(connection: AsyncConnection) -> AsyncIterator[Any]:
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


def _entry_of(row: Any) -> Entry:  # noqa: ANN401  a row of the driver's
    """The entry that a row holds; empty where it holds none."""
    try:
        entry = json.loads(row.entry)
    except ValueError:
        return {}
    return entry if isinstance(entry, dict) else {}


def _misfit_of(row: Any, entry: Entry, number: int, before: str) -> Misfit | None:  # noqa: ANN401  a row of the driver's
    """What is wrong with an entry by itself and behind the one before."""
    if row.number != number:
        return Misfit(number, f"Entry {number} is missing; entry {row.number} comes in its place.")
    if digest_of(row.entry.encode()) != row.digest:
        return Misfit(number, f"Entry {number} was altered: its content has another digest than the one kept with it.")
    if "number" not in entry:
        return Misfit(number, f"Entry {number} was altered: what stands in its place is no entry.")
    if entry["number"] != number:
        return Misfit(number, f"Entry {number} was moved: it calls itself entry {entry['number']}.")
    if entry.get("previous") != before:
        return Misfit(number, f"Entry {number} does not follow the one before: it names another digest.")
    return None


async def _head_misfit(connection: AsyncConnection, number: int, digest: str) -> Misfit | None:
    """Where the journal ends elsewhere than its head says."""
    head = (await connection.execute(select(journal_head))).one_or_none()
    if head is None:
        return Misfit(number + 1, f"The journal's head is gone; the last entry is number {number}.")
    if (head.number, head.digest) == (number, digest):
        return None
    return Misfit(number + 1, f"The journal ends at entry {number}, and its head is entry {head.number}.")


async def _table_misfit(connection: AsyncConnection, told: Told) -> Misfit | None:
    """The first entry that a table contradicts, or a row that no entry tells of."""
    found = list[Misfit]()
    seen = set[Subject]()
    for kind, query, says in OF_TABLES:
        async for row in await connection.stream(query):
            subject = _subject(kind, row)
            seen.add(subject)
            if misfit := _row_misfit(subject, told.get(subject), says(row)):
                found.append(misfit)
    for subject in told.keys() - seen:
        number = told[subject]["number"]
        found.append(Misfit(number, f"The {_named(subject)}, of which entry {number} tells, is gone."))
    in_force = sum(1 for kind, _, _ in told if kind in ("release", "withdrawal"))
    version = (await connection.execute(select(catalogue_version.c.version))).scalar_one_or_none()
    if version != in_force:
        found.append(
            Misfit(0, f"The catalogue's version is {version}, and the journal tells of {in_force} releases and withdrawals.")
        )
    # A row without an entry has no place in the journal; an entry that is contradicted has one.
    return min(found, key=lambda each: (each.number == 0, each), default=None)


def _subject(kind: str, row: Any) -> Subject:  # noqa: ANN401  a row of the driver's
    """What a row is of."""
    if kind in OF_KEYS:
        return kind, row.key, 0
    if kind == "version":
        return kind, row.instrument, row.number
    if kind == "decision":
        return kind, f"{row.grade} {row.line} {row.id}", 0
    return kind, row.lot if kind in OF_LOTS else row.grade, row.number


def _row_misfit(subject: Subject, entry: Entry | None, says: Mapping[str, Any]) -> Misfit | None:
    """Where a row and the entry that tells of it differ."""
    if entry is None:
        return Misfit(0, f"No entry of the journal tells of the {_named(subject)}.")
    differing = [name for name, said in says.items() if entry.get(name) != said]
    if not differing:
        return None
    return Misfit(entry["number"], f"Entry {entry['number']} and the {_named(subject)} differ in {' and '.join(differing)}.")


def _named(subject: Subject) -> str:
    kind, name, number = subject
    if kind in OF_KEYS:
        return f"key {name}" if kind == "key" else f"{kind} of key {name}"
    if kind == "version":
        return f"{kind} {number} of instrument {name}"
    if kind == "decision":
        grade, line, decision = name.split(" ")
        return f"{kind} {decision} about line {line} of {grade}"
    return f"{kind} {number} of lot {name}" if kind in OF_LOTS else f"{kind} of revision {number} of {name}"


def _document(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    # The text itself is looked at, and not only the digest beside it.
    is_whole = digest_of(row.specification.encode()) == row.digest
    return {"by": row.author or LOCAL, "specification": row.digest if is_whole else "another text"}


def _creation(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    return {"at": in_entry(moment(row.created_at))}


def _release(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    at, effective = in_entry(moment(row.released_at)), in_entry(moment(row.effective_from))
    return {"by": row.released_by or LOCAL, "at": at, "effective_from": effective, "specification": row.digest}


def _withdrawal(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    return {"by": row.withdrawn_by or LOCAL, "at": in_entry(moment(row.withdrawn_at)), "reason": row.reason}


def _key(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    expires_at = None if row.expires_at is None else in_entry(moment(row.expires_at))
    said = {"name": row.name, "digest": row.digest, "scopes": row.scopes, "expires_at": expires_at}
    return {**said, "at": in_entry(moment(row.added_at))}


def _revocation(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    return {"by": row.revoked_by, "at": in_entry(moment(row.revoked_at)), "reason": row.reason}


def _change(row: Any) -> dict[str, Any]:  # noqa: ANN401  a row of the driver's
    # What is kept itself is looked at, and not only the digest beside it.
    return {"by": row.by, "at": in_entry(moment(row.at)), "digest": row.digest, "kept": digest_of(row.document.encode())}


OF_KEYS = ("key", "revocation")
OF_LOTS = ("change", "verdict")
Says = Callable[[Any], Mapping[str, Any]]
OF_TABLES: tuple[tuple[str, Any, Says], ...] = (
    ("document", select(revisions), _document),
    ("creation", select(revisions), _creation),
    (
        "release",
        select(releases, revisions.c.digest).join(
            revisions, (revisions.c.grade == releases.c.grade) & (revisions.c.number == releases.c.number)
        ),
        _release,
    ),
    ("withdrawal", select(withdrawals), _withdrawal),
    ("key", select(keys), _key),
    ("revocation", select(key_revocations), _revocation),
    ("change", select(lot_changes), _change),
    ("verdict", select(verdicts), in_table),
    ("version", select(instruments), instrument_in_table),
    ("decision", select(line_decisions), decision_in_table),
)
"""What the rows of each table say that an entry says too."""
