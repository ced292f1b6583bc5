"""The route of what-if."""

from service.api import impact_examples as examples
from service.api.handlers.impact import show_impact
from service.api.impact_documents import Period
from service.api.problems import NDJSON, OK
from service.api.routing import Body, Example, Reply, Route
from service.engine.impact import Line
from service.ports import Scope


def impact_routes() -> tuple[Route, ...]:
    """What another revision would have made of lots."""
    shown = [
        Example("progress", examples.PROGRESS),
        Example("lot", examples.LOT),
        Example("summary", examples.SUMMARY),
    ]
    return (
        Route(
            method="POST",
            path="/v1/grades/{grade}/revisions/{revision}/impact",
            operation_id="showImpact",
            scope=Scope.AUTHOR,
            tag="grades",
            summary="Ask what a revision would change",
            description="Judges the lots of a period, each by the evidence of its newest verdict, by this revision, a draft as "
            "well, and keeps nothing. The answer comes a line at a time, each a document of its own: `lot` for each lot whose "
            "outcome or one of whose requirements' would change, the newest first; `progress`; at the end `summary`, which "
            "counts all lots. Without it, or with an `error` in it, the answer is not whole. A requirement that only one "
            "side has changes a lot unless the lot passes it. Hang up, and the work ends.",
            handler=show_impact,
            body=Body(Period, [Example("season", examples.PERIOD), Example("all", {})]),
            replies=[Reply(OK, "Lines, each one of these documents.", Line, shown, media_type=NDJSON)],
            refusals=("not-found", "not-ready"),
        ),
    )
