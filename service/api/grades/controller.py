"""The controller of grades and their revisions."""

from collections.abc import Callable
from datetime import datetime
from typing import Annotated

from litestar import Controller, Response
from litestar.di import NamedDependency
from litestar.params import JSONBody
from litestar.response import Stream
from msgspec import UNSET, Struct

from service.api.answers import PUBLIC_FOR_EVER, REVALIDATE, cacheable, created_or_found, not_modified
from service.api.bodies.receiving import StrictRequest
from service.api.grades import operations
from service.api.grades.documents import Envelope, GradeList, GradeShown, GradeSummary, Release, Withdrawal
from service.api.grades.envelopes import envelope
from service.api.grades.impact_documents import Period
from service.api.grades.tags import etag, expected_digests, is_held_by_caller
from service.api.handlers import get, post, put
from service.api.json_lines import stream_json_lines
from service.api.moments import Moment, in_utc
from service.api.operations import NDJSON, documented
from service.api.parameters import GradeCode, IfMatch, IfNoneMatch, Limit, RevisionNumber, query_parameter
from service.engine.documents import Code, digest_of
from service.engine.documents import RevisionNumber as Number
from service.engine.grade import Specification
from service.ports.catalogue import Catalogue, Draft, Revision
from service.ports.closed_lots import ClosedLots, ClosedLotsQuery
from service.ports.workers import Workers
from service.usecases.grades import Changes, GradeCache
from service.usecases.grades import catalogue as use
from service.usecases.impact import ImpactSources, impact
from service.usecases.paging import MOST_AT_ONCE

AfterGrade = Annotated[Code | None, query_parameter("Only grades whose code comes after this one.", "TB-130")]
AfterRevision = Annotated[Number | None, query_parameter("Only revisions with a greater number.", 1)]
At = Annotated[Moment | None, query_parameter("Date and time, with the time zone; now if left out.", "2026-11-25T00:00:00Z")]
Since = Annotated[Number | None, query_parameter("The other revision; the one before if left out.", 1)]


class Grades(Struct, frozen=True):
    """What these handlers need: the catalogue, the cache of compiled grades, closed lots, and workers to judge these again."""

    catalogue: Catalogue
    grade_cache: GradeCache
    history: ClosedLots
    workers: Workers
    is_stopping: Callable[[], bool]
    """Returns True from the signal to stop onwards."""
    one_person_may: bool
    """Whether the last author of a revision may also release it."""

    async def release(
        self, grade: str, revision: int, moment: datetime | None, expected: frozenset[str] | None, by: str
    ) -> Revision:
        """Release a revision, in force from a moment on. Raises what `release` of the use cases raises."""
        return await use.release(
            self.catalogue,
            self.grade_cache,
            grade,
            revision,
            effective_from=moment,
            expected=expected,
            by=by,
            one_person_may=self.one_person_may,
        )


class GradeController(Controller):
    """Grades: drafts, releases, what is in force."""

    path = "/v1/grades"

    @get(**documented(operations.LIST_GRADES))
    async def list_grades(self, grades: NamedDependency[Grades], after: AfterGrade = None, limit: Limit = None) -> GradeList:
        """List grades in the order of their codes."""
        page = await use.list_grades(grades.catalogue, after or "", limit or MOST_AT_ONCE)
        return GradeList([GradeSummary(entry.grade, entry.revisions) for entry in page.grades], page.after or UNSET)

    @get("/{grade:str}", **documented(operations.SHOW_GRADE))
    async def show_grade(
        self, grade: GradeCode, grades: NamedDependency[Grades], after: AfterRevision = None, limit: Limit = None
    ) -> GradeShown:
        """Show a grade with its revisions."""
        page = await use.list_revisions(grades.catalogue, grade, after or 0, limit or MOST_AT_ONCE)
        return GradeShown(grade, [envelope(listed) for listed in page.revisions], page.after or UNSET)

    @get("/{grade:str}/in-force", **documented(operations.SHOW_IN_FORCE))
    async def show_in_force(self, grade: GradeCode, grades: NamedDependency[Grades], at: At = None) -> Envelope:
        """Show the revision in force at a moment."""
        return envelope(await use.revision_in_force(grades.catalogue, grade, in_utc(at, "/at")))

    @post("/{grade:str}/revisions", **documented(operations.ADD_DRAFT))
    async def add_draft(
        self, grade: GradeCode, data: JSONBody[Specification], grades: NamedDependency[Grades], request: StrictRequest
    ) -> Response[Envelope]:
        """Add a draft, or find the newest one where it has the same specification."""
        revision, is_new = await use.add_draft(grades.catalogue, grade, data, by=request.user.name)
        location = f"/v1/grades/{revision.grade}/revisions/{revision.number}"
        return created_or_found(envelope(revision), is_new=is_new, etag=etag(revision.digest), location=location)

    @get("/{grade:str}/revisions/{revision:str}", **documented(operations.SHOW_REVISION))
    async def show_revision(self, grade: GradeCode, revision: RevisionNumber, grades: NamedDependency[Grades]) -> Envelope:
        """Show a revision without its specification."""
        return envelope(await grades.catalogue.revision(grade, revision))

    @get("/{grade:str}/revisions/{revision:str}/specification", **documented(operations.SHOW_SPECIFICATION))
    async def show_specification(
        self,
        grade: GradeCode,
        revision: RevisionNumber,
        grades: NamedDependency[Grades],
        if_none_match: IfNoneMatch = None,
    ) -> Response[bytes] | Response[None]:
        """Show the specification of a revision."""
        stored = await grades.catalogue.revision(grade, revision)
        document = await grades.catalogue.specification(grade, revision)
        # A draft may be replaced at any time, so caches have to revalidate it; a released document is immutable.
        digest, cache_control = digest_of(document), REVALIDATE if isinstance(stored, Draft) else PUBLIC_FOR_EVER
        if is_held_by_caller(digest, if_none_match):
            return not_modified(cache_control, etag=etag(digest))
        return cacheable(document, cache_control, etag=etag(digest))

    @put("/{grade:str}/revisions/{revision:str}/specification", **documented(operations.REPLACE_SPECIFICATION))
    async def replace_specification(
        self,
        grade: GradeCode,
        revision: RevisionNumber,
        data: JSONBody[Specification],
        grades: NamedDependency[Grades],
        request: StrictRequest,
        if_match: IfMatch = None,
    ) -> Response[Envelope]:
        """Replace the specification of a draft."""
        expected, is_conditional, by = expected_digests(if_match), if_match is not None, request.user.name
        stored = await use.replace_draft(
            grades.catalogue, grade, revision, data, expected=expected, is_conditional=is_conditional, by=by
        )
        return created_or_found(envelope(stored), is_new=False, etag=etag(stored.digest))

    @get("/{grade:str}/revisions/{revision:str}/changes", **documented(operations.SHOW_CHANGES))
    async def show_changes(
        self, grade: GradeCode, revision: RevisionNumber, grades: NamedDependency[Grades], since: Since = None
    ) -> Changes:
        """Show the differences from another revision."""
        return await use.changes(grades.catalogue, grade, revision, since)

    @post("/{grade:str}/revisions/{revision:str}/release", **documented(operations.RELEASE_REVISION))
    async def release(
        self,
        grade: GradeCode,
        revision: RevisionNumber,
        data: JSONBody[Release],
        grades: NamedDependency[Grades],
        request: StrictRequest,
        if_match: IfMatch = None,
    ) -> Response[Envelope]:
        """Release a draft."""
        moment = in_utc(data.effective_from, "/effective_from")
        stored = await grades.release(grade, revision, moment, expected_digests(if_match), request.user.name)
        return created_or_found(envelope(stored), is_new=False, etag=etag(stored.digest))

    @post("/{grade:str}/revisions/{revision:str}/withdraw", **documented(operations.WITHDRAW_REVISION))
    async def withdraw(
        self,
        grade: GradeCode,
        revision: RevisionNumber,
        data: JSONBody[Withdrawal],
        grades: NamedDependency[Grades],
        request: StrictRequest,
    ) -> Envelope:
        """Withdraw a released revision."""
        by = request.user.name
        return envelope(await use.withdraw(grades.catalogue, grades.grade_cache, grade, revision, data.reason, by=by))

    @post("/{grade:str}/revisions/{revision:str}/impact", media_type=NDJSON, **documented(operations.SHOW_IMPACT))
    async def show_impact(
        self,
        grade: GradeCode,
        revision: RevisionNumber,
        data: JSONBody[Period],
        grades: NamedDependency[Grades],
        request: StrictRequest,
    ) -> Stream:
        """Judge closed lots by this revision, and stream those whose outcome changes while the work goes on."""
        within = ImpactSources(grades.catalogue, grades.history, grades.workers, grades.is_stopping)
        return await stream_json_lines(impact(within, revision, _closed_in(data, grade)), request)


def _closed_in(period: Period, grade: str) -> ClosedLotsQuery:
    """The query for the lots of a grade that were closed in this period."""
    return ClosedLotsQuery(
        grade=grade,
        lines=period.lines or (),
        closed_from=in_utc(period.from_, "/from"),
        closed_until=in_utc(period.until, "/until"),
        limit=period.limit or None,
    )
