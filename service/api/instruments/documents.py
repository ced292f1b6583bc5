"""Instruments as they are sent."""

from msgspec import UNSET, Struct, UnsetType

from service.api.moments import Moment
from service.engine.documents import Day
from service.engine.ledger import InstrumentUncertainty


class InstrumentShown(Struct, frozen=True, kw_only=True):
    """A version of what is known of an instrument."""

    instrument: str
    number: int
    """From 1; the newest one counts."""
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
    """Give it as `after` to get the next ones; left out at the end."""
