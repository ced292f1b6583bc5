"""Documents of the journal."""

from msgspec import UNSET, Raw, Struct, UnsetType


class JournalEntry(Struct, frozen=True):
    """An entry of the journal, and the digest by which the next one names it."""

    digest: str
    entry: Raw
    """Verbatim as stored: what was changed, by whom and when, and the digest of the entry before."""


class JournalPage(Struct, frozen=True):
    """Entries of the journal in their order."""

    entries: list[JournalEntry]
    next: int | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""
