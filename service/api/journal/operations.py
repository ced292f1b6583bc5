"""Declarations of the operations on the journal, for the OpenAPI document, logs and access control."""

from service.api.journal.documents import JournalPage
from service.api.operations import Operation, Reply
from service.api.problems import OK
from service.ports.catalogue import Scope

LIST_JOURNAL = Operation(
    name="listJournal",
    tag="service",
    summary="List the journal",
    description=(
        "Entries of the journal in their order: what was changed, by whom and when. Each names the digest of the one "
        "before, which is SHA-256 over its RFC 8785 form, so that none can be altered or removed unnoticed. "
        "`markeryarn verify` checks all of them."
    ),
    scope=Scope.ADMINISTER,
    replies=(Reply(OK, "Entries.", JournalPage),),
    refusals=("not-ready",),
)
