"""The controller of the journal: who changed what and when."""

from functools import partial
from typing import Annotated

from litestar import Controller
from litestar.di import NamedDependency
from msgspec import UNSET, Meta, Struct

from service.api.handlers import get
from service.api.journal.documents import JournalEntry, JournalPage
from service.api.journal.operations import LIST_JOURNAL
from service.api.operations import documented
from service.api.parameters import Limit, query_parameter
from service.ports.catalogue import Journal
from service.usecases.paging import MOST_AT_ONCE, part

_Number = Annotated[int, Meta(ge=0, le=1_000_000_000_000)]
AfterEntry = Annotated[_Number | None, query_parameter("Only entries with a greater number.", 0)]


class Entries(Struct, frozen=True):
    """The journal that the handlers read."""

    journal: Journal


class JournalController(Controller):
    """Entries of the journal."""

    path = "/v1/journal"

    @get(**documented(LIST_JOURNAL))
    async def list_entries(
        self, entries: NamedDependency[Entries], after: AfterEntry = None, limit: Limit = None
    ) -> JournalPage:
        """List the entries after a number."""
        first, most = after or 0, limit or MOST_AT_ONCE
        # Entries are numbered without gaps, so the next page starts `most` numbers later.
        found, last = await part(partial(entries.journal.entries, first), most)
        return JournalPage([JournalEntry(digest, entry) for entry, digest in found], first + most if last else UNSET)
