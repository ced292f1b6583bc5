"""Declarations of the operations on grades and their revisions, for the OpenAPI document, logs and access control."""

from service.api.grades.documents import Envelope, GradeList, GradeShown, Release, Withdrawal
from service.api.grades.impact_documents import Period
from service.api.operations import NDJSON, Operation, Reply
from service.api.problems import CREATED, NOT_MODIFIED, OK
from service.engine.grade import Specification
from service.engine.impact import ImpactProgress, ImpactSummary, LotImpact
from service.ports.catalogue import Scope
from service.usecases.grades import Changes

LIST_GRADES = Operation(
    name="listGrades",
    tag="grades",
    summary="List grades",
    description="Grades in the order of their codes. Send `next` as `after` to get the next page; the last page has none.",
    scope=Scope.READ,
    replies=(Reply(OK, "Grades.", GradeList),),
    refusals=("not-ready",),
)
SHOW_GRADE = Operation(
    name="showGrade",
    tag="grades",
    summary="Show a grade with its revisions",
    description=(
        "Its revisions in the order of their numbers. Send `next` as `after` to get the next page; the last page has none."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The grade.", GradeShown),),
    refusals=("not-found", "not-ready"),
)
SHOW_IN_FORCE = Operation(
    name="showInForce",
    tag="grades",
    summary="Show the revision in force",
    description=(
        "Which revision is or was in force at a given time, by the database's clock: of those released by then, the one "
        "whose effective time is the latest not after it, then the one with the greatest number. If that one was "
        "withdrawn by then, none is in force."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "The revision in force.", Envelope),),
    refusals=("not-found", "not-ready"),
)
ADD_DRAFT = Operation(
    name="addDraft",
    tag="grades",
    summary="Add a draft",
    description=(
        "A new draft of a grade; the first draft creates the grade. If the newest draft has the same specification, that "
        "draft is the answer, so that the request can be repeated. A specification with a flaw is refused as a whole."
    ),
    scope=Scope.AUTHOR,
    body=Specification,
    replies=(
        Reply(
            OK,
            "The newest draft already has this specification.",
            Envelope,
            headers=("ETag", "Location"),
            links=("release", "replace", "specification", "revision", "changes"),
        ),
        Reply(
            CREATED,
            "The new draft.",
            Envelope,
            headers=("ETag", "Location"),
            links=("release", "replace", "specification", "revision", "changes"),
        ),
    ),
    refusals=("not-found", "not-ready"),
    # The first draft creates the grade.
    creates_what_path_names=True,
)
SHOW_REVISION = Operation(
    name="showRevision",
    tag="grades",
    summary="Show a revision",
    description="Its state, when it was written, released and withdrawn, and the digest of its document; never cached.",
    scope=Scope.READ,
    replies=(Reply(OK, "The revision.", Envelope),),
    refusals=("not-found", "not-ready"),
)
SHOW_SPECIFICATION = Operation(
    name="showSpecification",
    tag="grades",
    summary="Show the specification of a revision",
    description="The document itself, in the canonical form of RFC 8785. Once it is released, it never changes.",
    scope=Scope.READ,
    replies=(
        Reply(OK, "The document.", Specification, headers=("ETag",)),
        Reply(NOT_MODIFIED, "The caller already has this document.", headers=("ETag",)),
    ),
    refusals=("not-found", "not-ready"),
)
REPLACE_SPECIFICATION = Operation(
    name="replaceSpecification",
    tag="grades",
    summary="Replace the specification of a draft",
    description="Only of a draft, and only if the specification is still the one named by If-Match, which is required.",
    scope=Scope.AUTHOR,
    body=Specification,
    replies=(Reply(OK, "The draft.", Envelope, headers=("ETag",)),),
    refusals=("not-found", "conflict", "specification-changed", "precondition-missing", "not-ready"),
)
SHOW_CHANGES = Operation(
    name="showChanges",
    tag="grades",
    summary="Show what differs from another revision",
    description=(
        "Requirement by requirement, characteristic by characteristic; an entry without either is about the document "
        "itself. What is the same in both is left out."
    ),
    scope=Scope.READ,
    replies=(Reply(OK, "What differs.", Changes),),
    refusals=("not-found", "not-ready"),
)
RELEASE_REVISION = Operation(
    name="releaseRevision",
    tag="grades",
    summary="Release a revision",
    description=(
        "The draft can't be changed any more, and is in force from the given time or from now on. With If-Match, only the "
        "specification that was read is released."
    ),
    scope=Scope.RELEASE,
    body=Release,
    replies=(Reply(OK, "The released revision.", Envelope, headers=("ETag",), links=("withdraw", "in-force")),),
    refusals=("second-person-needed", "not-found", "conflict", "specification-changed", "not-ready"),
)
WITHDRAW_REVISION = Operation(
    name="withdrawRevision",
    tag="grades",
    summary="Withdraw a revision",
    description=(
        "A released revision is no longer in force; an older one does not come back by itself. It can still be named, to "
        "answer a claim."
    ),
    scope=Scope.RELEASE,
    body=Withdrawal,
    replies=(Reply(OK, "The withdrawn revision.", Envelope),),
    refusals=("not-found", "conflict", "not-ready"),
)
SHOW_IMPACT = Operation(
    name="showImpact",
    tag="grades",
    summary="Show which lots a revision would change",
    description=(
        "Judges the lots of a period, each by the evidence of its newest verdict, by this revision, which may be a draft, "
        "and stores nothing. The answer comes in lines, each a document of its own: `lot` for each lot whose outcome, or "
        "the outcome of one of whose requirements, would change, the newest first; `progress`; at the end `summary`, "
        "which counts all lots. Without a `summary`, or with an `error` in it, the answer is incomplete. A requirement "
        "that only one of the two revisions has changes a lot unless the lot passes it. The work ends when the caller "
        "closes the connection."
    ),
    scope=Scope.AUTHOR,
    body=Period,
    replies=(Reply(OK, "Lines, each one of these documents.", ImpactProgress | LotImpact | ImpactSummary, media_type=NDJSON),),
    refusals=("not-found", "not-ready"),
)
