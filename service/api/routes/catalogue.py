"""The routes of grades and their revisions."""

from typing import Annotated, Any

from msgspec import Meta

from service.api import examples
from service.api.documents import Envelope, GradeList, GradeShown, Moment, Release, Withdrawal
from service.api.handlers import catalogue as does
from service.api.problems import CREATED, NOT_MODIFIED, OK
from service.api.requests import Parameter
from service.api.routing import Body, Example, Reply, Route
from service.engine.specification import Specification
from service.engine.texts import Code, RevisionNumber
from service.ports import Scope
from service.usecases.changes import Changes
from service.usecases.paging import MOST_AT_ONCE

Limit = Annotated[int, Meta(ge=1, le=MOST_AT_ONCE)]
LIMIT = Parameter("limit", Limit, f"So many at most; {MOST_AT_ONCE} where it is left out.", 10)
REVISION = "/v1/grades/{grade}/revisions/{revision}"
SPECIFICATION_BODY = Body(Specification, [Example("baler-twine", examples.SPECIFICATION)])


def _envelope(state: str, **members: str) -> dict[str, Any]:
    named = {"grade": examples.GRADE, "revision": 1, "state": state, "specification": examples.DIGEST}
    return {**named, "created_at": examples.CREATED, **members}


DRAFT = _envelope("draft")
RELEASED = _envelope("released", effective_from=examples.RELEASED, released_at=examples.RELEASED)
WITHDRAWN = {**RELEASED, "state": "withdrawn", "withdrawn_at": examples.WITHDRAWN, "reason": examples.REASON}


def catalogue_routes() -> tuple[Route, ...]:
    """Grades, revisions, specifications, releases."""
    return (*_grade_routes(), *_revision_routes(), *_state_routes())


def _grade_routes() -> tuple[Route, ...]:
    listed = {"grades": [{"grade": examples.GRADE, "revisions": 1}], "next": examples.GRADE}
    return (
        Route(
            method="GET",
            path="/v1/grades",
            operation_id="listGrades",
            scope=Scope.READ,
            tag="grades",
            summary="List grades",
            description="Grades in the order of their codes. Give `next` as `after` to go on; it is left out at the end.",
            handler=does.list_grades,
            parameters=[Parameter("after", Code, "Only grades whose code comes after this one.", examples.GRADE), LIMIT],
            replies=[Reply(OK, "Grades.", GradeList, [Example("one-of-many", listed)])],
            refusals=("not-ready",),
        ),
        Route(
            method="GET",
            path="/v1/grades/{grade}",
            operation_id="showGrade",
            scope=Scope.READ,
            tag="grades",
            summary="Show a grade with its revisions",
            description="Its revisions in the order of their numbers. Give `next` as `after` to go on; the last page has none.",
            handler=does.show_grade,
            parameters=[Parameter("after", RevisionNumber, "Only revisions with a greater number.", 1), LIMIT],
            replies=[Reply(OK, "The grade.", GradeShown, [Example("one", {"grade": examples.GRADE, "revisions": [RELEASED]})])],
            refusals=("not-found", "not-ready"),
        ),
        Route(
            method="GET",
            path="/v1/grades/{grade}/in-force",
            operation_id="showInForce",
            scope=Scope.READ,
            tag="grades",
            summary="Show the revision in force",
            description="Which revision is, or was, in force at a moment, by the database's clock: among those released by "
            "then, the one with the greatest effective moment not after it, then the greatest number. If that one is withdrawn "
            "by then, none is.",
            handler=does.show_in_force,
            parameters=[Parameter("at", Moment, "The moment, with its offset; now where it is left out.", examples.RELEASED)],
            replies=[Reply(OK, "The revision in force.", Envelope, [Example("released", RELEASED)])],
            refusals=("not-found", "not-ready"),
        ),
        Route(
            method="POST",
            path="/v1/grades/{grade}/revisions",
            operation_id="addDraft",
            scope=Scope.AUTHOR,
            tag="grades",
            summary="Add a draft",
            description="A new draft of a grade, which comes to be with its first. If the newest draft has the same "
            "specification, that one is the answer, so that it is safe to repeat. A flawed specification is refused whole.",
            handler=does.add_draft,
            makes_grade=True,
            body=SPECIFICATION_BODY,
            replies=[
                Reply(
                    OK,
                    "The newest draft has this specification already.",
                    Envelope,
                    [Example("draft", DRAFT)],
                    headers=("ETag", "Location"),
                    links=("release", "replace", "specification", "revision", "changes"),
                ),
                Reply(
                    CREATED,
                    "The new draft.",
                    Envelope,
                    [Example("draft", DRAFT)],
                    headers=("ETag", "Location"),
                    links=("release", "replace", "specification", "revision", "changes"),
                ),
            ],
            refusals=("not-found", "not-ready"),
        ),
    )


def _revision_routes() -> tuple[Route, ...]:
    differing = [
        {"requirement": "strength", "change": "altered", "fields": ["limits"]},
        {"requirement": "weak-places", "change": "added"},
    ]
    return (
        Route(
            method="GET",
            path=REVISION,
            operation_id="showRevision",
            scope=Scope.READ,
            tag="grades",
            summary="Show a revision",
            description="Its state, its moments and the digest of its document; never cached.",
            handler=does.show_revision,
            replies=[
                Reply(
                    OK,
                    "The revision.",
                    Envelope,
                    [Example("draft", DRAFT), Example("released", RELEASED), Example("withdrawn", WITHDRAWN)],
                )
            ],
            refusals=("not-found", "not-ready"),
        ),
        Route(
            method="GET",
            path=f"{REVISION}/specification",
            operation_id="showSpecification",
            scope=Scope.READ,
            tag="grades",
            summary="Show the specification of a revision",
            description="The document itself, in RFC 8785's canonical form. Released, it never changes; keep it for ever.",
            handler=does.show_specification,
            headers=("If-None-Match",),
            replies=[
                Reply(OK, "The document.", Specification, SPECIFICATION_BODY.examples, headers=("ETag",)),
                Reply(NOT_MODIFIED, "It is the one that the caller holds.", headers=("ETag",)),
            ],
            refusals=("not-found", "not-ready"),
        ),
        Route(
            method="PUT",
            path=f"{REVISION}/specification",
            operation_id="replaceSpecification",
            scope=Scope.AUTHOR,
            tag="grades",
            summary="Replace the specification of a draft",
            description="Only of a draft, and only if it still is the one named by If-Match, which is required.",
            handler=does.replace_specification,
            headers=("If-Match",),
            body=SPECIFICATION_BODY,
            replies=[Reply(OK, "The draft.", Envelope, [Example("draft", DRAFT)], headers=("ETag",))],
            refusals=("not-found", "conflict", "specification-changed", "precondition-missing", "not-ready"),
        ),
        Route(
            method="GET",
            path=f"{REVISION}/changes",
            operation_id="showChanges",
            scope=Scope.READ,
            tag="grades",
            summary="Show what differs from another revision",
            description="Requirement by requirement, characteristic by characteristic; an entry without either is of the "
            "document itself. What is the same is left out.",
            handler=does.show_changes,
            parameters=[Parameter("since", RevisionNumber, "The other revision; the one before where it is left out.", 1)],
            replies=[
                Reply(OK, "What differs.", Changes, [Example("two", {"since": 1, "until": 2, "changes": differing})]),
            ],
            refusals=("not-found", "not-ready"),
        ),
    )


def _state_routes() -> tuple[Route, ...]:
    return (
        Route(
            method="POST",
            path=f"{REVISION}/release",
            operation_id="releaseRevision",
            scope=Scope.RELEASE,
            tag="grades",
            summary="Release a revision",
            description="A draft becomes immutable, and is in force from a moment or from now on. With If-Match, one releases "
            "what one has read.",
            handler=does.release_revision,
            headers=("If-Match",),
            body=Body(Release, [Example("now", {}), Example("from-a-moment", {"effective_from": "2027-01-01T00:00:00Z"})]),
            replies=[
                Reply(
                    OK,
                    "The released revision.",
                    Envelope,
                    [Example("released", RELEASED)],
                    headers=("ETag",),
                    links=("withdraw", "in-force"),
                )
            ],
            refusals=("second-person-needed", "not-found", "conflict", "specification-changed", "not-ready"),
        ),
        Route(
            method="POST",
            path=f"{REVISION}/withdraw",
            operation_id="withdrawRevision",
            scope=Scope.RELEASE,
            tag="grades",
            summary="Withdraw a revision",
            description="A released revision is in force no more; an older one does not come back by itself. It can still be "
            "named, to answer a claim.",
            handler=does.withdraw_revision,
            body=Body(Withdrawal, [Example("withdrawn", {"reason": examples.REASON})]),
            replies=[Reply(OK, "The withdrawn revision.", Envelope, [Example("withdrawn", WITHDRAWN)])],
            refusals=("not-found", "conflict", "not-ready"),
        ),
    )
