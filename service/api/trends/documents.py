"""Documents of trends that only the HTTP layer has."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.trends import Lacking, LeftOut, Trend


class TrendShown(Struct, frozen=True, kw_only=True):
    """A characteristic over the lots of a grade, in the order in which they were closed."""

    grade: str
    revision: int
    """The revision whose unit and limits are used."""
    specification: str
    """Digest of that revision's document."""
    line: str | UnsetType = UNSET
    trend: Trend
    left_out: list[LeftOut]
    """Lots without a point in the trend, and why."""
    lacking: list[Lacking]
    """What can't be calculated, and what is needed for it."""
