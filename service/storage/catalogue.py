"""The Catalogue port over a database."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import (
    JSON,
    ColumnElement,
    Row,
    Select,
    bindparam,
    cast,
    func,
    insert,
    literal_column,
    select,
    text,
    union_all,
    update,
)
from sqlalchemy.exc import DatabaseError
from sqlalchemy.ext.asyncio import AsyncConnection

from service.engine.documents import Flaw, FlawedDocumentError, quoted
from service.ports.catalogue import (
    LOCAL,
    CatalogueState,
    Draft,
    Final,
    GradeEntry,
    GradeUnknownError,
    Moment,
    Released,
    Revision,
    RevisionIsDraftError,
    RevisionIsReleasedError,
    RevisionIsWithdrawnError,
    RevisionUnknownError,
    SecondPersonNeededError,
    SpecificationHasChangedError,
    TablesVersion,
    Withdrawn,
    written,
)
from service.storage.database import (
    Database,
    catalogue_version,
    grades,
    lock_catalogue,
    now_expression,
    releases,
    revisions,
    schema_promise,
    to_microseconds,
    to_moment,
    withdrawals,
)
from service.storage.journal import append, timestamp

UNDEFINED_TABLE = "42P01"
"""PostgreSQL's SQLSTATE for a missing table; its manual, appendix on error codes."""

# All columns of revisions except their documents, which can be large.
_ENVELOPES = (
    select(
        revisions.c.grade,
        revisions.c.number,
        revisions.c.digest,
        revisions.c.created_at,
        revisions.c.author,
        releases.c.effective_from,
        releases.c.released_at,
        releases.c.released_by,
        withdrawals.c.withdrawn_at,
        withdrawals.c.withdrawn_by,
        withdrawals.c.reason,
    )
    .outerjoin(releases, (releases.c.grade == revisions.c.grade) & (releases.c.number == revisions.c.number))
    .outerjoin(withdrawals, (withdrawals.c.grade == revisions.c.grade) & (withdrawals.c.number == revisions.c.number))
)

_FINAL = (revisions.c.grade == releases.c.grade) & (revisions.c.number == releases.c.number)


class DatabaseCatalogue:
    """Catalogue in SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        """Use a database whose tables exist."""
        self._database = database

    async def grades(self, after: str, limit: int) -> Sequence[GradeEntry]:
        """Return at most `limit` grades after `after`, in order of code."""
        query = (
            select(grades.c.code, func.count(revisions.c.number))
            .join(revisions, revisions.c.grade == grades.c.code)
            .where(grades.c.code > after)
            .group_by(grades.c.code)
            .order_by(grades.c.code)
            .limit(limit)
        )
        async with self._database.reading() as connection:
            return [GradeEntry(*row) for row in await connection.execute(query)]

    async def revisions(self, grade: str, after: int, limit: int) -> Sequence[Revision]:
        """Return at most `limit` revisions with numbers above `after`."""
        query = _ENVELOPES.where(revisions.c.grade == grade, revisions.c.number > after)
        async with self._database.reading() as connection:
            await _check_grade(connection, grade)
            return [_revision(row) for row in await connection.execute(query.order_by(revisions.c.number).limit(limit))]

    async def revision(self, grade: str, number: int) -> Revision:
        """Return one revision."""
        async with self._database.reading() as connection:
            return await _revision_of(connection, grade, number)

    async def specification(self, grade: str, number: int) -> bytes:
        """Return a revision's document as canonical JSON."""
        query = select(revisions.c.specification).where(revisions.c.grade == grade, revisions.c.number == number)
        async with self._database.reading() as connection:
            await _revision_of(connection, grade, number)
            document: str = (await connection.execute(query)).scalar_one()
            return document.encode()

    async def add_draft(self, grade: str, canonical: bytes, digest: str, *, by: str = LOCAL) -> tuple[Revision, bool]:
        """Return the draft, and whether it is new."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            of_grade = _ENVELOPES.where(revisions.c.grade == grade).order_by(revisions.c.number.desc()).limit(1)
            draft = (await connection.execute(of_grade.where(releases.c.released_at.is_(None)))).first()
            if draft and draft.digest == digest:
                return _revision(draft), False
            newest = (await connection.execute(of_grade)).first()
            if newest is None:
                await connection.execute(insert(grades).values(code=grade, created_at=now))
            number = newest.number + 1 if newest else 1
            values = {
                "grade": grade,
                "number": number,
                "specification": canonical.decode(),
                "digest": digest,
                "created_at": now,
                "author": by,
            }
            await connection.execute(insert(revisions).values(values))
            await append(connection, now, by, _change("draft-added", grade, number, specification=digest))
            return Draft(grade=grade, number=number, digest=digest, created_at=to_moment(now), author=by), True

    async def replace_draft(
        self, grade: str, number: int, canonical: bytes, digest: str, expected: frozenset[str] | None, *, by: str = LOCAL
    ) -> Revision:
        """Replace a draft's document."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            draft = await _draft_of(connection, grade, number, expected)
            change = update(revisions).where(revisions.c.grade == grade, revisions.c.number == number)
            await connection.execute(change.values(specification=canonical.decode(), digest=digest, author=by))
            await append(connection, now, by, _change("draft-replaced", grade, number, specification=digest))
            return Draft(grade=grade, number=number, digest=digest, created_at=draft.created_at, author=by)

    async def release(
        self,
        grade: str,
        number: int,
        effective_from: Moment | None,
        expected: frozenset[str] | None,
        *,
        by: str = LOCAL,
        one_person_may: bool = False,
    ) -> Revision:
        """Release a draft."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            draft = await _draft_of(connection, grade, number, expected)
            # LOCAL is no person: without keys everybody has this name.
            is_alone = draft.author == by != LOCAL
            if is_alone and not one_person_may:
                raise SecondPersonNeededError(
                    f"{quoted(by)} was the last to write revision {number} of {grade}. Have another person release it."
                )
            # A moment in the past would change which revision lots were judged by.
            if effective_from is not None and to_microseconds(effective_from) < now:
                text = f"The time has passed: it is {written(to_moment(now))} now. Give a later time, or none for now."
                raise FlawedDocumentError([Flaw("moment-past", text, "/effective_from")])
            effective = now if effective_from is None else to_microseconds(effective_from)
            values = {"grade": grade, "number": number, "effective_from": effective, "released_at": now, "released_by": by}
            await connection.execute(insert(releases).values(**values, version=await _next_version(connection)))
            about = {"specification": draft.digest, "effective_from": timestamp(to_moment(effective))}
            alone = {"one_person": True} if is_alone else {}
            await append(connection, now, by, _change("revision-released", grade, number, **about, **alone))
            return await _revision_of(connection, grade, number)

    async def withdraw(self, grade: str, number: int, reason: str, *, by: str = LOCAL) -> Revision:
        """Withdraw a released revision."""
        async with self._database.writing() as connection:
            now = await lock_catalogue(connection)
            revision = await _revision_of(connection, grade, number)
            if isinstance(revision, Draft):
                raise RevisionIsDraftError(
                    f"Revision {number} of {grade} is a draft and was never in force. There is nothing to withdraw."
                )
            if isinstance(revision, Withdrawn):
                since = written(revision.withdrawn_at)
                raise RevisionIsWithdrawnError(f"Revision {number} of {grade} was already withdrawn, at {since}.")
            values = {"grade": grade, "number": number, "withdrawn_at": now, "withdrawn_by": by, "reason": reason}
            await connection.execute(insert(withdrawals).values(**values, version=await _next_version(connection)))
            await append(connection, now, by, _change("revision-withdrawn", grade, number, reason=reason))
            return await _revision_of(connection, grade, number)

    async def final_revisions(self, grade: str) -> Sequence[Final]:
        """Return all released and withdrawn revisions of a grade."""
        query = _ENVELOPES.where(revisions.c.grade == grade, releases.c.released_at.is_not(None))
        async with self._database.reading() as connection:
            found = [_revision(row) for row in await connection.execute(query.order_by(revisions.c.number))]
            return [revision for revision in found if not isinstance(revision, Draft)]

    async def grades_of_article(self, article: str, after: str, limit: int) -> Sequence[str]:
        """Return codes of grades with a final revision of this article."""
        async with self._database.reading() as connection:
            query = (
                select(releases.c.grade)
                .distinct()
                .join(revisions, _FINAL)
                .where(_article_in(connection) == article, releases.c.grade > after)
                .order_by(releases.c.grade)
                .limit(limit)
            )
            return list((await connection.execute(query)).scalars())

    async def articles(self, limit: int) -> Sequence[str]:
        """Return the articles of final revisions."""
        async with self._database.reading() as connection:
            article = _article_in(connection)
            query = select(article).distinct().select_from(releases).join(revisions, _FINAL).where(article.is_not(None))
            return list((await connection.execute(query.order_by(article).limit(limit))).scalars())

    async def current_state(self) -> CatalogueState:
        """Return the version and the clock."""
        async with self._database.reading() as connection:
            row = (await connection.execute(select(catalogue_version.c.version, now_expression(connection)))).one()
            return CatalogueState(row[0], to_moment(row[1]))

    async def changed_since(self, version: int) -> Sequence[str]:
        """Return codes of grades with a release or withdrawal after this version."""
        changed = [select(table.c.grade).where(table.c.version > version) for table in (releases, withdrawals)]
        async with self._database.reading() as connection:
            return sorted(set((await connection.execute(union_all(*changed))).scalars()))

    async def tables_version(self) -> TablesVersion | None:
        """Return the version of the tables; None without tables."""
        version = await self._value_of("SELECT version_num FROM alembic_version")
        if version is None:
            return None
        # Tables of the first version have no promise; only their own release runs on them.
        return TablesVersion(version, await self._value_of(str(select(schema_promise.c.oldest))) or version)

    async def _value_of(self, query: str) -> str | None:
        """Return the one value of a query; None if the row or the table does not exist."""
        async with self._database.reading() as connection:
            try:
                found: str | None = (await connection.execute(text(query))).scalar_one_or_none()
            except DatabaseError as error:
                if _is_no_table(error):
                    return None
                raise
            return found


def _change(what: str, grade: str, number: int, **about: object) -> dict[str, object]:
    """The journal's content for a change of a revision."""
    return {"what": what, "grade": grade, "revision": number, **about}


def _article_in(connection: AsyncConnection) -> ColumnElement[str]:
    """An SQL expression for the `article` of a revision's document; NULL where it has none."""
    # Read from the documents, by each database's own function, without an index: grading by article is rare, and there are few
    # grades. Released documents never change, so an index can be added later.
    if connection.dialect.name == "postgresql":
        return func.json_extract_path_text(cast(revisions.c.specification, JSON), literal_column("'article'"))
    return func.json_extract(revisions.c.specification, literal_column("'$.article'"))


async def _next_version(connection: AsyncConnection) -> int:
    """Raise the catalogue's version by 1 and return it; the caller holds `lock_catalogue`."""
    await connection.execute(update(catalogue_version).values(version=catalogue_version.c.version + 1))
    version: int = (await connection.execute(select(catalogue_version.c.version))).scalar_one()
    return version


async def _check_grade(connection: AsyncConnection, grade: str) -> None:
    """Raise GradeUnknownError unless the grade exists."""
    if (await connection.execute(select(grades.c.code).where(grades.c.code == grade))).first() is None:
        raise GradeUnknownError(f"There is no grade {quoted(grade)}. `GET /v1/grades` lists them.")


async def _revision_of(connection: AsyncConnection, grade: str, number: int) -> Revision:
    """Return one revision. Raises GradeUnknownError, RevisionUnknownError."""
    row = (await connection.execute(_one_revision(grade, number))).first()
    if row is None:
        await _check_grade(connection, grade)
        raise RevisionUnknownError(f"{grade} has no revision {number}. `GET /v1/grades/{grade}` lists its revisions.")
    return _revision(row)


async def _draft_of(connection: AsyncConnection, grade: str, number: int, expected: frozenset[str] | None) -> Draft:
    """Read a draft with an expected digest. Raises the errors of `replace_draft`."""
    revision = await _revision_of(connection, grade, number)
    if expected is not None and revision.digest not in expected:
        text = (
            f"The specification has changed since it was read: its digest is {revision.digest} now. Read it again, then repeat."
        )
        raise SpecificationHasChangedError(text)
    if not isinstance(revision, Draft):
        raise RevisionIsReleasedError(
            f"Revision {number} of {grade} is released and can't be changed. Add a new draft instead."
        )
    return revision


def _one_revision(grade: str, number: int) -> Select[*tuple[Any, ...]]:
    return _ENVELOPES.where(
        revisions.c.grade == bindparam("of_grade", grade), revisions.c.number == bindparam("of_number", number)
    )


def _revision(row: Row[*tuple[Any, ...]]) -> Revision:
    """Return a row of _ENVELOPES as a Revision."""
    known = {"grade": row.grade, "number": row.number, "digest": row.digest, "created_at": to_moment(row.created_at)}
    # Rows from before there were keys have no names.
    known["author"] = row.author or LOCAL
    if row.released_at is None or row.effective_from is None:
        return Draft(**known)
    final = {**known, "effective_from": to_moment(row.effective_from), "released_at": to_moment(row.released_at)}
    final["released_by"] = row.released_by or LOCAL
    if row.withdrawn_at is None:
        return Released(**final)
    withdrawn_by, reason = row.withdrawn_by or LOCAL, row.reason or ""
    return Withdrawn(**final, withdrawn_at=to_moment(row.withdrawn_at), withdrawn_by=withdrawn_by, reason=reason)


def _is_no_table(error: DatabaseError) -> bool:
    """True for the error of a missing table."""
    # SQLite has no code of its own for it.
    code = getattr(error.orig, "sqlstate", None)
    return code == UNDEFINED_TABLE if code else str(error.orig).startswith("no such table")
