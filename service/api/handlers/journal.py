"""The journal: who changed what and when."""

from functools import partial

from msgspec import UNSET

from service.api.documents import JournalEntry, JournalPage
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.usecases.paging import MOST_AT_ONCE, part


async def list_entries(request: Request, service: Service) -> Answer:
    """Entries in their order."""
    after, limit = request.query.get("after", 0), request.query.get("limit", MOST_AT_ONCE)
    found, last = await part(partial(service.journal.entries, after), limit)
    return shown(JournalPage([JournalEntry(digest, entry) for entry, digest in found], after + limit if last else UNSET))
