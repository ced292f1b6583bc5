"""Documents of instruments that only the HTTP layer has."""

from msgspec import UNSET, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Day
from service.engine.ledger import InstrumentUncertainty


class InstrumentShown(Struct, frozen=True, kw_only=True):
    """A version of an instrument's data."""

    instrument: str
    number: int
    """Number of the version, from 1; the newest version counts."""
    at: Moment
    by: str
    measures: list[str]
    calibrated_until: Day | UnsetType = UNSET
    uncertainty: list[InstrumentUncertainty] | UnsetType = UNSET
    note: str | UnsetType = UNSET


class InstrumentList(Struct, frozen=True):
    """Instruments in the order of their ids, each in its newest version."""

    instruments: list[InstrumentShown]
    next: str | UnsetType = UNSET
    """Send it as `after` to get the next page; left out on the last page."""
