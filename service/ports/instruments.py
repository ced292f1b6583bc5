"""Port of the register of measuring instruments."""

from collections.abc import Sequence
from typing import NamedTuple, Protocol

from msgspec import Struct

from service.ports.catalogue import Moment, StateError


class InstrumentUnknownError(StateError):
    """No instrument has this id, or it has no version of this number."""


class InstrumentRow(Struct, frozen=True, kw_only=True):
    """One version of an instrument's record; every version stays stored."""

    instrument: str
    number: int
    """Version number, from 1 without gaps."""
    at: Moment
    by: str
    document: bytes
    """Canonical JSON, with sorted keys."""


class Due(NamedTuple):
    """A filter of instruments: those whose calibration had expired on a day, or those for which it had not."""

    day: str
    """As YYYY-MM-DD."""
    is_overdue: bool


# The newest version counts, also for readings taken before it was written and sent late. Versions are no history of
# calibrations: a mistyped date that was corrected would otherwise mark readings that it never should have.
class Instruments(Protocol):
    """Instruments with all their versions. Each call raises CatalogueAwayError while the database is unavailable."""

    async def put(self, instrument: str, document: bytes, by: str) -> tuple[InstrumentRow, bool]:
        """Return (new version, True), or (newest version, False) if that has the same document.

        Two concurrent callers get two versions; the later one is the newest.
        """

    async def version(self, instrument: str, number: int | None = None) -> InstrumentRow:
        """Return the version of this number, or the newest for None. Raises InstrumentUnknownError."""

    async def listed(self, after: str, limit: int, due: Due | None = None) -> Sequence[InstrumentRow]:
        """Return the newest versions of at most `limit` instruments whose id sorts after `after`, in order of id."""
