"""The series of evidence with their indices, and long ones as arrays that all later steps share."""

from typing import TYPE_CHECKING, NamedTuple

from service.engine.documents import Evidence, Series
from service.engine.numbers import LONG

if TYPE_CHECKING:
    from service.engine.numbers.columns.long import Doubles


class SentSeries(NamedTuple):
    """A series as sent, with its index in the evidence, and with its values as an array too where there are `LONG` or more."""

    number: int
    series: Series
    doubles: "Doubles | None"


def sent(evidence: Evidence) -> list[SentSeries]:
    """The series of the evidence, in its order."""
    # Arrays are made once here, since digest, range check and column all use them.
    return [
        SentSeries(number, series, _doubles(series.values) if len(series.values) >= LONG else None)
        for number, series in enumerate(evidence.series or ())
    ]


def _doubles(values: list[float]) -> "Doubles":
    from service.engine.numbers.columns.long import doubles_of  # numpy only where it pays

    return doubles_of(values)
