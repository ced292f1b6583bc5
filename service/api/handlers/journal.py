"""The journal: who changed what and when."""

from msgspec import UNSET

from service.api.documents import JournalEntry, JournalPage
from service.api.problems import Answer
from service.api.requests import Request
from service.api.service import Service, shown
from service.usecases.catalogue import MOST_AT_ONCE


async def list_entries(request: Request, service: Service) -> Answer:
    """Entries in their order."""
    after, limit = request.query.get("after", 0), request.query.get("limit", MOST_AT_ONCE)
    found = await service.journal.entries(after, limit + 1)
    shown_ones = [JournalEntry(digest, entry) for entry, digest in found[:limit]]
    return shown(JournalPage(shown_ones, after + limit if len(found) > limit else UNSET))
