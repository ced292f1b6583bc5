"""Declarations of the operations on the service itself, for the OpenAPI document, logs and access control."""

from service.api.operations import Operation, Reply
from service.api.pages.documents import Health
from service.api.problems import AWAY, OK
from service.ports.catalogue import Scope

SHOW_LIVE = Operation(
    name="showLive",
    tag="service",
    summary="Show whether the process answers",
    description="Always 200 while the process answers at all. Restart it where this fails.",
    scope=None,
    replies=(Reply(OK, "It answers.", Health),),
    is_strict=False,
)
SHOW_READY = Operation(
    name="showReady",
    tag="service",
    summary="Show whether requests can be answered",
    description=(
        "200 where they can; 503 with the reasons where the database does not answer, its schema is not known, or the "
        "service is stopping. Send no requests where this fails."
    ),
    scope=None,
    replies=(
        Reply(OK, "They can.", Health),
        Reply(AWAY, "They can't, with the reasons.", Health),
    ),
    is_strict=False,
)
SHOW_METRICS = Operation(
    name="showMetrics",
    tag="service",
    summary="Show figures for Prometheus",
    description=(
        "Answers by operation and status and the seconds that they took, checks and verdicts by grade and outcome, "
        "refusals by code, memory, and connections to the database, in Prometheus' text format."
    ),
    # Needs a key where there are any, as the metrics name grades.
    scope=Scope.READ,
    replies=(Reply(OK, "The figures.", str, media_type="text/plain"),),
    is_strict=False,
)
SHOW_DOCUMENT = Operation(
    name="showDocument",
    tag="service",
    summary="Show this document",
    description="The OpenAPI 3.1 document of the service.",
    scope=None,
    replies=(Reply(OK, "The document.", dict[str, object]),),
    is_strict=False,
)
SHOW_DOCS = Operation(
    name="showDocs",
    tag="service",
    summary="Show this document as a page",
    description="For people, in a browser; it needs no network.",
    scope=None,
    replies=(Reply(OK, "The page.", str, media_type="text/html"),),
    is_strict=False,
)
SHOW_DOCS_FILE = Operation(
    name="showDocsFile",
    tag="service",
    summary="Show a file of that page",
    description="Its style and its program.",
    scope=None,
    replies=(Reply(OK, "The file."),),
    is_strict=False,
    in_document=False,
)
