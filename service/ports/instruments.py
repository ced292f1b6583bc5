"""What use cases need of the register of instruments."""

from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct

from service.ports.catalogue import Moment, StateError


class InstrumentUnknownError(StateError):
    """There is no instrument of this id, or no version of this number."""


class InstrumentRow(Struct, frozen=True, kw_only=True):
    """A version of what is known of an instrument; each one is kept."""

    instrument: str
    number: int
    """From 1, without gaps."""
    at: Moment
    by: str
    document: bytes
    """As JSON, keys in order."""


class Instruments(Protocol):
    """Instruments, each in all its versions. All raise CatalogueAwayError while the database is away."""

    async def put(self, instrument: str, document: bytes, by: str) -> tuple[InstrumentRow, bool]:
        """(the new version, True), or (the newest one, False) where it holds the same document.

        Of two callers at once each gets a version of its own, and the later one is the newest.
        """

    async def version(self, instrument: str, number: int | None = None) -> InstrumentRow:
        """The version of this number, the newest where none is named. Raises InstrumentUnknownError."""

    async def listed(self, after: str, limit: int) -> Sequence[InstrumentRow]:
        """The newest versions of at most so many instruments that come after this one, in the order of their ids."""
