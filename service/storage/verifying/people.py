"""What people wrote: grades and their revisions, keys, instruments, decisions about lines, and what the tables promise."""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from typing import Any, NamedTuple

from sqlalchemy import column, select, table, union_all
from sqlalchemy.ext.asyncio import AsyncConnection

from service.ports.catalogue import LOCAL
from service.storage.database import (
    OLDEST,
    SCHEMA,
    catalogue_version,
    grades,
    instruments,
    key_revocations,
    keys,
    line_decisions,
    releases,
    revisions,
    schema_promise,
    withdrawals,
)
from service.storage.verifying.misfits import (
    SOME_AT_ONCE,
    AnyRow,
    Columns,
    Entry,
    Misfit,
    differing,
    digest,
    gone,
    moment_of,
    no_entry,
    single,
)

Subject = tuple[str, tuple[object, ...]]
"""What a row is of: a sort of SORTS, and by what it is found."""
VERSION = "version of the catalogue"
"""Under which an entry has, beside what it says, the version that its release or withdrawal made."""
ALEMBIC = table("alembic_version", column("version_num"))


class Sort(NamedTuple):
    """Rows that entries tell of."""

    table: str
    query: Any
    of: Callable[[AnyRow], tuple[object, ...]]
    """By what a row is found."""
    named: str
    """What it is called in a sentence, with places for that."""
    says: Callable[[AnyRow, Entry], Columns]


class Told:
    """What the journal tells of all these, by what it is of; the last entry counts."""

    def __init__(self) -> None:
        """Nothing yet."""
        self._told: dict[Subject, Entry] = {}
        self._version = 0

    def note(self, entry: Entry) -> None:
        """One entry more; those of lots are left alone."""
        if "lot" in entry:
            return
        subjects = list(_subjects(entry))
        if any(sort in ("release", "withdrawal") for sort, _ in subjects):
            self._version += 1
            entry = {**entry, VERSION: self._version}
        self._told.update(dict.fromkeys(subjects, entry))

    async def misfits(self, connection: AsyncConnection) -> AsyncIterator[Iterable[Misfit]]:
        """What does not fit, row by row."""
        seen = set[Subject]()
        for name, sort in SORTS.items():
            async for row in await connection.stream(sort.query, execution_options=SOME_AT_ONCE):
                subject = name, sort.of(row)
                seen.add(subject)
                entry = self._told.get(subject)
                yield [no_entry(_named(subject))] if entry is None else _differing(sort, subject, row, entry)
        yield [gone(_named(subject), entry) for subject, entry in self._told.items() if subject not in seen]
        yield await self._misfits_of_single_rows(connection)

    async def _misfits_of_single_rows(self, connection: AsyncConnection) -> list[Misfit]:
        """The catalogue's version, those of releases and withdrawals, and which releases may run on the tables."""
        found, row = [], await single(connection, catalogue_version)
        version = row.version if row else None
        made = union_all(select(releases.c.version), select(withdrawals.c.version))
        versions = (await connection.execute(made)).scalars().all()
        if len(versions) != self._version or set(versions) != set(range(1, self._version + 1)):
            text = f"The releases and withdrawals should have the versions 1 to {self._version}, each once, and have others."
            found.append(Misfit(0, text))
        if version != self._version:
            text = f"The catalogue's version is {version}, and the journal tells of {self._version} releases and withdrawals."
            found.append(Misfit(0, text))
        promise = await single(connection, schema_promise)
        oldest = promise.oldest if promise else None
        # What tables of another version promise, another release knows.
        if oldest != OLDEST and (await connection.execute(select(ALEMBIC))).scalar_one_or_none() == SCHEMA:
            text = f"In table `schema_promise` `oldest` is `{oldest}` and should be `{OLDEST}`, as the tables are of {SCHEMA}."
            found.append(Misfit(0, text))
        return found


def _subjects(entry: Entry) -> Iterable[Subject]:
    """What an entry tells of."""
    what, grade, revision, key = (entry.get(name) for name in ("what", "grade", "revision", "key"))
    if what == "draft-added" and revision == 1:
        yield "grade", (grade,)
    if what == "inspection-decided":
        yield "decision", (grade, entry.get("line"), entry.get("id"))
    if what == "instrument-recorded":
        yield "version", (entry.get("instrument"), entry.get("version"))
    for sort in OF_REVISIONS.get(str(what), ()):
        yield sort, (grade, revision)
    for sort in OF_KEYS.get(str(what), ()):
        yield sort, (key,)


def _differing(sort: Sort, subject: Subject, row: AnyRow, entry: Entry) -> list[Misfit]:
    return differing(sort.table, _named(subject), entry, sort.says(row, entry))


def _named(subject: Subject) -> str:
    name, of = subject
    return SORTS[name].named.format(*of)


def _grade(row: AnyRow, entry: Entry) -> Columns:
    return {"created_at": (row.created_at, moment_of(entry))}


def _document(row: AnyRow, entry: Entry) -> Columns:
    # The text itself is looked at, and not only the digest beside it. Before anybody could have a key, no names were kept.
    digests = {
        name: (kept, entry.get("specification"))
        for name, kept in (("digest", row.digest), ("specification", digest(row.specification)))
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


def _version(kept: int, by: str | None, entry: Entry) -> Columns:
    """The version that a release or a withdrawal made follows from the order of their entries.

    What was there before the journal has no name, and its entries are in the order of its moments, which may be another one
    where the clock was set back: of these it is only seen that each has one of the versions that the others leave.
    """
    return {"version": (kept, entry[VERSION])} if by else {}


def _key(row: AnyRow, entry: Entry) -> Columns:
    said = {name: (getattr(row, name), entry.get(name)) for name in ("name", "digest", "scopes")}
    moments = {"expires_at": moment_of(entry, "expires_at"), "added_at": moment_of(entry)}
    return {**said, **{name: (getattr(row, name), told) for name, told in moments.items()}}


def _revocation(row: AnyRow, entry: Entry) -> Columns:
    by = {"revoked_by": (row.revoked_by, entry.get("by")), "revoked_at": (row.revoked_at, moment_of(entry))}
    return {**by, "reason": (row.reason, entry.get("reason"))}


def _kept(row: AnyRow, entry: Entry) -> Columns:
    return {
        "by": (row.by, entry.get("by")),
        "at": (row.at, moment_of(entry)),
        "document": (digest(row.document), entry.get("kept")),
    }


def _of_grade(row: AnyRow) -> tuple[object, ...]:
    return row.grade, row.number


def _of_key(row: AnyRow) -> tuple[object, ...]:
    return (row.key,)


OF_REVISIONS = {
    "draft-added": ("document", "creation"),
    "draft-replaced": ("document",),
    "revision-released": ("release",),
    "revision-withdrawn": ("withdrawal",),
}
OF_KEYS = {"key-added": ("key",), "key-revoked": ("revocation",)}
"""By what an entry tells, the sorts of rows that it tells of."""
_RELEASES = select(releases, revisions.c.digest).outerjoin(
    revisions, (revisions.c.grade == releases.c.grade) & (revisions.c.number == releases.c.number)
)
SORTS: Mapping[str, Sort] = {
    "grade": Sort("grades", select(grades), lambda row: (row.code,), "grade {}", _grade),
    "document": Sort("revisions", select(revisions), _of_grade, "document of revision {1} of {0}", _document),
    "creation": Sort("revisions", select(revisions), _of_grade, "creation of revision {1} of {0}", _grade),
    "release": Sort("releases", _RELEASES, _of_grade, "release of revision {1} of {0}", _release),
    "withdrawal": Sort("withdrawals", select(withdrawals), _of_grade, "withdrawal of revision {1} of {0}", _withdrawal),
    "key": Sort("keys", select(keys), _of_key, "key {}", _key),
    "revocation": Sort("key_revocations", select(key_revocations), _of_key, "revocation of key {}", _revocation),
    "version": Sort(
        "instruments", select(instruments), lambda row: (row.instrument, row.number), "version {1} of instrument {0}", _kept
    ),
    "decision": Sort(
        "line_decisions",
        select(line_decisions),
        lambda row: (row.grade, row.line, row.id),
        "decision {2} about line {1} of {0}",
        _kept,
    ),
}
"""What the rows of each table say that an entry says too."""
