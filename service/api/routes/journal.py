"""The route of the journal."""

from typing import Annotated

from msgspec import Meta

from service.api import examples
from service.api.documents import JournalPage
from service.api.handlers.journal import list_entries
from service.api.problems import OK
from service.api.requests import Parameter
from service.api.routes.catalogue import LIMIT
from service.api.routing import Example, Reply, Route
from service.ports import Scope

EntryNumber = Annotated[int, Meta(ge=0, le=1_000_000_000_000)]
ENTRY = {
    "at": "2026-11-25T08:00:00.000000Z",
    "by": "local",
    "grade": examples.GRADE,
    "number": 1,
    "previous": "sha256:" + "0" * 64,
    "revision": 1,
    "specification": examples.DIGEST,
    "what": "draft-added",
}

LISTED = {"entries": [{"digest": examples.DIGEST, "entry": ENTRY}]}


def journal_routes() -> tuple[Route, ...]:
    """What was changed."""
    return (
        Route(
            method="GET",
            path="/v1/journal",
            operation_id="listJournal",
            scope=Scope.ADMINISTER,
            tag="service",
            summary="List what was changed",
            description="Entries of the journal in their order: what was changed, by whom and when. Each names the digest of "
            "the one before, which is SHA-256 over its RFC 8785 form, so that none can be altered or left out unseen. "
            "`markeryarn verify` walks all of them.",
            handler=list_entries,
            parameters=[Parameter("after", EntryNumber, "Only entries with a greater number.", 0), LIMIT],
            replies=[Reply(OK, "Entries.", JournalPage, [Example("one", LISTED)])],
            refusals=("not-ready",),
        ),
    )
