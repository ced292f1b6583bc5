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
    description="Grades in the order of their codes. Give `next` as `after` to go on; it is left out at the end.",
    scope=Scope.READ,
    replies=(Reply(OK, "Grades.", GradeList),),
    refusals=("not-ready",),
)
SHOW_GRADE = Operation(
    name="showGrade",
    tag="grades",
    summary="Show a grade with its revisions",
    description=("Its revisions in the order of their numbers. Give `next` as `after` to go on; the last page has none."),
    scope=Scope.READ,
    replies=(Reply(OK, "The grade.", GradeShown),),
    refusals=("not-found", "not-ready"),
)
SHOW_IN_FORCE = Operation(
    name="showInForce",
    tag="grades",
    summary="Show the revision in force",
    description=(
        "Which revision is, or was, in force at a moment, by the database's clock: among those released by then, "
        "the one with the greatest effective moment not after it, then the greatest number. If that one is "
        "withdrawn by then, none is."
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
        "A new draft of a grade, which comes to be with its first. If the newest draft has the same specification, "
        "that one is the answer, so that it is safe to repeat. A flawed specification is refused whole."
    ),
    scope=Scope.AUTHOR,
    body=Specification,
    replies=(
        Reply(
            OK,
            "The newest draft has this specification already.",
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
    description="Its state, its moments and the digest of its document; never cached.",
    scope=Scope.READ,
    replies=(Reply(OK, "The revision.", Envelope),),
    refusals=("not-found", "not-ready"),
)
SHOW_SPECIFICATION = Operation(
    name="showSpecification",
    tag="grades",
    summary="Show the specification of a revision",
    description="The document itself, in RFC 8785's canonical form. Released, it never changes; keep it for ever.",
    scope=Scope.READ,
    replies=(
        Reply(OK, "The document.", Specification, headers=("ETag",)),
        Reply(NOT_MODIFIED, "It is the one that the caller holds.", headers=("ETag",)),
    ),
    refusals=("not-found", "not-ready"),
)
REPLACE_SPECIFICATION = Operation(
    name="replaceSpecification",
    tag="grades",
    summary="Replace the specification of a draft",
    description="Only of a draft, and only if it still is the one named by If-Match, which is required.",
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
        "Requirement by requirement, characteristic by characteristic; an entry without either is of the document "
        "itself. What is the same is left out."
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
        "A draft becomes immutable, and is in force from a moment or from now on. With If-Match, one releases what "
        "one has read."
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
        "A released revision is in force no more; an older one does not come back by itself. It can still be "
        "named, to answer a claim."
    ),
    scope=Scope.RELEASE,
    body=Withdrawal,
    replies=(Reply(OK, "The withdrawn revision.", Envelope),),
    refusals=("not-found", "conflict", "not-ready"),
)
SHOW_IMPACT = Operation(
    name="showImpact",
    tag="grades",
    summary="Ask what a revision would change",
    description=(
        "Judges the lots of a period, each by the evidence of its newest verdict, by this revision, a draft as "
        "well, and keeps nothing. The answer comes a line at a time, each a document of its own: `lot` for each "
        "lot whose outcome or one of whose requirements' would change, the newest first; `progress`; at the end "
        "`summary`, which counts all lots. Without it, or with an `error` in it, the answer is not whole. A "
        "requirement that only one side has changes a lot unless the lot passes it. Hang up, and the work ends."
    ),
    scope=Scope.AUTHOR,
    body=Period,
    replies=(Reply(OK, "Lines, each one of these documents.", ImpactProgress | LotImpact | ImpactSummary, media_type=NDJSON),),
    refusals=("not-found", "not-ready"),
)
