"""Verification of all rows but those of lots: grades, revisions, keys, instruments, decisions about lines, single rows."""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import column, select, table, union_all
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports.catalogue import LOCAL
from service.storage.database import (
    OLDEST,
    SCHEMA,
    catalogue_version,
    grades,
    instrument_terms,
    instruments,
    key_revocations,
    keys,
    line_decisions,
    releases,
    revisions,
    schema_promise,
    withdrawals,
)
from service.storage.verifying.mismatches import (
    SOME_AT_ONCE,
    AnyRow,
    Columns,
    Entry,
    Mismatch,
    differing,
    digest,
    gone,
    moment_of,
    no_entry,
    single,
)

Subject = tuple[str, tuple[object, ...]]
"""Identity of a row: a key of ROW_KINDS, and the values that identify the row."""
VERSION = "version of the catalogue"
"""Member added to an entry in memory: the catalogue's version that its release or withdrawal resulted in."""
ALEMBIC = table("alembic_version", column("version_num"))


class RowKind(NamedTuple):
    """A kind of rows that journal entries describe."""

    table: str
    query: Any
    identity: Callable[[AnyRow], tuple[object, ...]]
    """Values that identify a row."""
    label: str
    """Its name in a sentence, a format string for these values."""
    columns: Callable[[AnyRow, Entry], Columns]


class DescribedRows:
    """The last journal entry of each row of these kinds."""

    def __init__(self) -> None:
        """Start without entries."""
        self._entries: dict[Subject, Entry] = {}
        self._version = 0

    def note(self, entry: Entry) -> None:
        """Add an entry, in the order of the journal; entries of lots are ignored."""
        if "lot" in entry:
            return
        subjects = list(_subjects(entry))
        if any(kind in ("release", "withdrawal") for kind, _ in subjects):
            self._version += 1
            entry = {**entry, VERSION: self._version}
        self._entries.update(dict.fromkeys(subjects, entry))

    async def mismatches(self, connection: AsyncConnection) -> AsyncIterator[Iterable[Mismatch]]:
        """Yield the mismatches, row by row."""
        found = set[Subject]()
        for name, kind in ROW_KINDS.items():
            async for row in await connection.stream(kind.query, execution_options=SOME_AT_ONCE):
                subject = name, kind.identity(row)
                found.add(subject)
                entry = self._entries.get(subject)
                yield [no_entry(_label(subject))] if entry is None else _differing(kind, subject, row, entry)
        yield await _mismatches_of_terms(connection)
        yield [gone(_label(subject), entry) for subject, entry in self._entries.items() if subject not in found]
        yield await self._mismatches_of_single_rows(connection)

    async def _mismatches_of_single_rows(self, connection: AsyncConnection) -> list[Mismatch]:
        """Check the catalogue's version, the versions of releases and withdrawals, and the promise of the tables."""
        found, row = [], await single(connection, catalogue_version)
        version = row.version if row else None
        made = union_all(select(releases.c.version), select(withdrawals.c.version))
        versions = (await connection.execute(made)).scalars().all()
        if len(versions) != self._version or set(versions) != set(range(1, self._version + 1)):
            text = f"The releases and withdrawals should have the versions 1 to {self._version}, each once, and do not."
            found.append(Mismatch(0, text))
        if version != self._version:
            text = f"The catalogue's version is {version}, and the journal records {self._version} releases and withdrawals."
            found.append(Mismatch(0, text))
        promise = await single(connection, schema_promise)
        oldest = promise.oldest if promise else None
        # Only the release of a version knows what the tables of that version promise.
        if oldest != OLDEST and (await connection.execute(select(ALEMBIC))).scalar_one_or_none() == SCHEMA:
            text = f"In table `schema_promise` `oldest` is `{oldest}` and should be `{OLDEST}`, as the tables are of {SCHEMA}."
            found.append(Mismatch(0, text))
        return found


async def _mismatches_of_terms(connection: AsyncConnection) -> list[Mismatch]:
    """Compare the days that triggers noted of instruments with the newest versions."""
    until: dict[str, object] = {}
    query = select(instruments).order_by(instruments.c.instrument, instruments.c.number)
    async for row in await connection.stream(query, execution_options=SOME_AT_ONCE):
        until[row.instrument] = _calibrated_until(row.document)
    rows = {row.instrument: row.calibrated_until for row in await connection.execute(select(instrument_terms))}
    return [
        Mismatch(0, f"In table `instrument_terms` the day of {name} is `{rows.get(name)}` and should be `{until.get(name)}`.")
        for name in sorted({*rows, *until}, key=str)
        if rows.get(name) != until.get(name) or (name in rows and name not in until)
    ]


def _calibrated_until(document: object) -> object:
    """The day of an instrument's version; None where it states none, or can't be read."""
    try:
        found = msgspec.json.decode(str(document))
    except msgspec.DecodeError:
        return None
    return found.get("calibrated_until") if isinstance(found, dict) else None


def _subjects(entry: Entry) -> Iterable[Subject]:
    """The rows that an entry describes."""
    what, grade, revision, key = (entry.get(name) for name in ("what", "grade", "revision", "key"))
    if what == "draft-added" and revision == 1:
        yield "grade", (grade,)
    if what == "inspection-decided":
        yield "decision", (grade, entry.get("line"), entry.get("id"))
    if what == "instrument-recorded":
        yield "version", (entry.get("instrument"), entry.get("version"))
    for kind in KINDS_OF_REVISIONS.get(str(what), ()):
        yield kind, (grade, revision)
    for kind in KINDS_OF_KEYS.get(str(what), ()):
        yield kind, (key,)


def _differing(kind: RowKind, subject: Subject, row: AnyRow, entry: Entry) -> list[Mismatch]:
    return differing(kind.table, _label(subject), entry, kind.columns(row, entry))


def _label(subject: Subject) -> str:
    name, of = subject
    return ROW_KINDS[name].label.format(*of)


def _grade(row: AnyRow, entry: Entry) -> Columns:
    return {"created_at": (row.created_at, moment_of(entry))}


def _document(row: AnyRow, entry: Entry) -> Columns:
    # The digest of the text itself too: the column `digest` may agree while the document was altered. Rows from before there
    # were keys have no names.
    digests = {
        name: (actual, entry.get("specification"))
        for name, actual in (("digest", row.digest), ("specification", digest(row.specification)))
    }
    return {"author": (row.author or LOCAL, entry.get("by")), **digests}


def _release(row: AnyRow, entry: Entry) -> Columns:
    return {
        "released_by": (row.released_by or LOCAL, entry.get("by")),
        "released_at": (row.released_at, moment_of(entry)),
        "effective_from": (row.effective_from, moment_of(entry, "effective_from")),
        "number": (row.digest, entry.get("specification")),
        **_version(row.version, row.released_by, entry),
    }


def _withdrawal(row: AnyRow, entry: Entry) -> Columns:
    return {
        "withdrawn_by": (row.withdrawn_by or LOCAL, entry.get("by")),
        "withdrawn_at": (row.withdrawn_at, moment_of(entry)),
        "reason": (row.reason, entry.get("reason")),
        **_version(row.version, row.withdrawn_by, entry),
    }


def _version(version: int, by: str | None, entry: Entry) -> Columns:
    """Compare the version of a release or withdrawal with the position of its entry among all of them."""
    # Rows from before the journal have no name, and their entries were written in the order of their moments, which is another
    # order where the clock was set back. For these it is only checked that all versions together are 1 to n.
    return {"version": (version, entry[VERSION])} if by else {}


def _key(row: AnyRow, entry: Entry) -> Columns:
    said = {name: (getattr(row, name), entry.get(name)) for name in ("name", "digest", "scopes")}
    moments = {"expires_at": moment_of(entry, "expires_at"), "added_at": moment_of(entry)}
    return {**said, **{name: (getattr(row, name), expected) for name, expected in moments.items()}}


def _revocation(row: AnyRow, entry: Entry) -> Columns:
    by = {"revoked_by": (row.revoked_by, entry.get("by")), "revoked_at": (row.revoked_at, moment_of(entry))}
    return {**by, "reason": (row.reason, entry.get("reason"))}


def _record(row: AnyRow, entry: Entry) -> Columns:
    return {
        "by": (row.by, entry.get("by")),
        "at": (row.at, moment_of(entry)),
        "document": (digest(row.document), entry.get("kept")),
    }


def _of_grade(row: AnyRow) -> tuple[object, ...]:
    return row.grade, row.number


def _of_key(row: AnyRow) -> tuple[object, ...]:
    return (row.key,)


KINDS_OF_REVISIONS = {
    "draft-added": ("document", "creation"),
    "draft-replaced": ("document",),
    "revision-released": ("release",),
    "revision-withdrawn": ("withdrawal",),
}
KINDS_OF_KEYS = {"key-added": ("key",), "key-revoked": ("revocation",)}
"""Kinds of rows by `what` of the entry that describes them."""
_RELEASES = select(releases, revisions.c.digest).outerjoin(
    revisions, (revisions.c.grade == releases.c.grade) & (revisions.c.number == releases.c.number)
)
ROW_KINDS: Mapping[str, RowKind] = {
    "grade": RowKind("grades", select(grades), lambda row: (row.code,), "grade {}", _grade),
    "document": RowKind("revisions", select(revisions), _of_grade, "document of revision {1} of {0}", _document),
    "creation": RowKind("revisions", select(revisions), _of_grade, "creation of revision {1} of {0}", _grade),
    "release": RowKind("releases", _RELEASES, _of_grade, "release of revision {1} of {0}", _release),
    "withdrawal": RowKind("withdrawals", select(withdrawals), _of_grade, "withdrawal of revision {1} of {0}", _withdrawal),
    "key": RowKind("keys", select(keys), _of_key, "key {}", _key),
    "revocation": RowKind("key_revocations", select(key_revocations), _of_key, "revocation of key {}", _revocation),
    "version": RowKind(
        "instruments", select(instruments), lambda row: (row.instrument, row.number), "version {1} of instrument {0}", _record
    ),
    "decision": RowKind(
        "line_decisions",
        select(line_decisions),
        lambda row: (row.grade, row.line, row.id),
        "decision {2} about line {1} of {0}",
        _record,
    ),
}
"""The kinds of rows that are compared with entries."""
