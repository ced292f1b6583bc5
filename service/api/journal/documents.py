"""Entries of the journal as they are sent."""

from msgspec import UNSET, Raw, Struct, UnsetType


class JournalEntry(Struct, frozen=True):
    """An entry of the journal, and the digest by which the next one names it."""

    digest: str
    entry: Raw
    """As it is kept: what was changed, by whom and when, and the digest of the entry before."""


class JournalPage(Struct, frozen=True):
    """Entries of the journal in their order."""

    entries: list[JournalEntry]
    next: int | UnsetType = UNSET
    """Give it as `after` to get the next ones; left out at the end."""
