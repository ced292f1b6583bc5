"""Grades and their revisions."""

from msgspec import UNSET, UnsetType

from service.api.decoding import Shape, decode_and, decoded
from service.api.documents import Envelope, GradeList, GradeShown, GradeSummary, Release, Withdrawal
from service.api.moments import in_utc
from service.api.problems import CREATED, NOT_MODIFIED, OK, Answer
from service.api.requests import Request
from service.api.reviews import SPECIFICATION, compiled
from service.api.service import Service, shown
from service.api.tags import etag, expected_by, is_among
from service.api.wires import Head
from service.engine.digests import digest_of
from service.ports import LOCAL, Draft, Revision, Withdrawn
from service.usecases import catalogue as use

RELEASE, WITHDRAWAL = Shape(Release), Shape(Withdrawal)
FOR_EVER, ASK_EACH_TIME = "public, max-age=31536000, immutable", "no-cache"


async def list_grades(request: Request, service: Service) -> Answer:
    """Grades in the order of their codes."""
    page = await use.list_grades(service.catalogue, **request.query)
    grades = [GradeSummary(entry.grade, entry.revisions) for entry in page.grades]
    return shown(GradeList(grades, page.after or UNSET))


async def show_grade(request: Request, service: Service) -> Answer:
    """A grade with its revisions."""
    grade = request.path["grade"]
    page = await use.list_revisions(service.catalogue, grade, **request.query)
    return shown(GradeShown(grade, [envelope(each) for each in page.revisions], page.after or UNSET))


async def show_in_force(request: Request, service: Service) -> Answer:
    """The revision in force at a moment."""
    at = in_utc(request.query["at"], "/at") if "at" in request.query else None
    return shown(envelope(await use.revision_in_force(service.catalogue, request.path["grade"], at)))


async def add_draft(request: Request, service: Service) -> Answer:
    """A new draft, or the newest one where it is the same."""
    specification = await decode_and(compiled, request.body, SPECIFICATION)
    revision, is_new = await use.add_draft(service.catalogue, request.path["grade"], specification, by=request.by.name)
    location = f"/v1/grades/{revision.grade}/revisions/{revision.number}"
    return shown(envelope(revision), CREATED if is_new else OK, (*_tagged(revision.digest), ("location", location)))


async def show_revision(request: Request, service: Service) -> Answer:
    """The envelope of a revision."""
    return shown(envelope(await service.catalogue.revision(*_named(request))))


async def show_specification(request: Request, service: Service) -> Answer:
    """The document of a revision."""
    revision = await service.catalogue.revision(*_named(request))
    document = await service.catalogue.specification(*_named(request))
    digest, keep = digest_of(document), ASK_EACH_TIME if isinstance(revision, Draft) else FOR_EVER
    if is_among(digest, request.header("if-none-match")):
        return Answer(NOT_MODIFIED, headers=_tagged(digest), keep=keep)
    return Answer(OK, document, headers=_tagged(digest), keep=keep)


async def replace_specification(request: Request, service: Service) -> Answer:
    """Another document for a draft."""
    specification, tags = await decode_and(compiled, request.body, SPECIFICATION), request.header("if-match")
    revision = await use.replace_draft(
        service.catalogue,
        *_named(request),
        specification,
        expected=expected_by(tags),
        is_conditional=tags is not None,
        by=request.by.name,
    )
    return shown(envelope(revision), headers=_tagged(revision.digest))


async def show_changes(request: Request, service: Service) -> Answer:
    """What differs from another revision."""
    return shown(await use.changes(service.catalogue, *_named(request), request.query.get("since")))


async def release_revision(request: Request, service: Service) -> Answer:
    """Release a draft."""
    asked = (await decoded(request.body, RELEASE)).effective_from
    moment = in_utc(asked, "/effective_from") if asked else None
    expected = expected_by(request.header("if-match"))
    revision = await use.release(
        service.catalogue,
        service.shelf,
        *_named(request),
        effective_from=moment,
        expected=expected,
        by=request.by.name,
        one_person_may=service.one_person_may_release,
    )
    return shown(envelope(revision), headers=_tagged(revision.digest))


async def withdraw_revision(request: Request, service: Service) -> Answer:
    """Withdraw a released revision."""
    reason = (await decoded(request.body, WITHDRAWAL)).reason
    return shown(envelope(await use.withdraw(service.catalogue, service.shelf, *_named(request), reason, by=request.by.name)))


def envelope(revision: Revision) -> Envelope:
    """A revision as it is sent; who did what is told where it is known."""
    author = _known(revision.author)
    if isinstance(revision, Draft):
        return Envelope(revision.grade, revision.number, "draft", revision.digest, revision.created_at, author=author)
    made = (revision.digest, revision.created_at, revision.effective_from, revision.released_at)
    released_by = _known(revision.released_by)
    if isinstance(revision, Withdrawn):
        withdrawn_by, gone = _known(revision.withdrawn_by), (revision.withdrawn_at, revision.reason)
        return Envelope(revision.grade, revision.number, "withdrawn", *made, *gone, author, released_by, withdrawn_by)
    return Envelope(revision.grade, revision.number, "released", *made, author=author, released_by=released_by)


def _known(name: str) -> str | UnsetType:
    """The name of somebody who has a key; without keys everybody is one."""
    return UNSET if name == LOCAL else name


def _named(request: Request) -> tuple[str, int]:
    """The grade and the number in the path."""
    return request.path["grade"], int(request.path["revision"])


def _tagged(digest: str) -> Head:
    return (("etag", etag(digest)),)
