"""The routes that are no resource of the trade."""

from service.api.documents import Health
from service.api.handlers.pages import show_docs, show_docs_file, show_document, show_live, show_metrics, show_ready
from service.api.problems import AWAY, OK
from service.api.routing import Example, Reply, Route
from service.ports import Scope


def page_routes() -> tuple[Route, ...]:
    """The OpenAPI document and its page, health, figures."""
    return (
        Route(
            method="GET",
            path="/health/live",
            operation_id="showLive",
            scope=None,
            tag="service",
            summary="Whether the process answers",
            description="Always 200 while the process answers at all. Restart it where this fails.",
            handler=show_live,
            replies=[Reply(OK, "It answers.", Health, [Example("live", {"ready": True, "reasons": []})])],
            is_strict=False,
        ),
        Route(
            method="GET",
            path="/health/ready",
            operation_id="showReady",
            scope=None,
            tag="service",
            summary="Whether requests can be answered",
            description="200 where they can; 503 with the reasons where the database is away, its schema is not known, or the "
            "service is stopping. Send no requests where this fails.",
            handler=show_ready,
            replies=[
                Reply(OK, "They can.", Health, [Example("ready", {"ready": True, "reasons": []})]),
                Reply(
                    AWAY,
                    "They can't, and why.",
                    Health,
                    [Example("away", {"ready": False, "reasons": ["The database does not answer."]})],
                ),
            ],
            is_strict=False,
        ),
        Route(
            method="GET",
            path="/metrics",
            operation_id="showMetrics",
            scope=Scope.READ,
            tag="service",
            summary="Figures for Prometheus",
            description="Answers by operation and status and the seconds that they took, checks and verdicts by grade and "
            "outcome, refusals by code, what is in memory, and connections to the database, in Prometheus' text format.",
            handler=show_metrics,
            replies=[
                Reply(
                    OK,
                    "The figures.",
                    str,
                    [Example("figures", 'markeryarn_judged_total{grade="TB-130",of="checks",outcome="pass"} 41.0\n')],
                    media_type="text/plain",
                )
            ],
            is_strict=False,
        ),
        Route(
            method="GET",
            path="/openapi.json",
            operation_id="showDocument",
            scope=None,
            tag="service",
            summary="This document",
            description="The OpenAPI 3.1 document of the service.",
            handler=show_document,
            replies=[Reply(OK, "The document.", dict[str, object], [Example("document", {"openapi": "3.1.0"})])],
            is_strict=False,
        ),
        Route(
            method="GET",
            path="/docs",
            operation_id="showDocs",
            scope=None,
            tag="service",
            summary="A page that shows this document",
            description="For people, in a browser; it needs no network.",
            handler=show_docs,
            replies=[Reply(OK, "The page.", str, [Example("page", "<!doctype html>")], media_type="text/html")],
            is_strict=False,
        ),
        Route(
            method="GET",
            path="/docs/{file}",
            operation_id="showDocsFile",
            scope=None,
            tag="service",
            summary="A file of that page",
            description="Its style and its program.",
            handler=show_docs_file,
            replies=[Reply(OK, "The file.")],
            is_strict=False,
            in_document=False,
        ),
    )
