"""The documents of trends that only HTTP has."""

from msgspec import UNSET, Struct, UnsetType

from service.engine.trends import Lacking, LeftOut, Trend


class TrendShown(Struct, frozen=True, kw_only=True):
    """How a characteristic ran over the lots of a grade, in the order in which they were closed."""

    grade: str
    revision: int
    """By whose unit and limits it is told."""
    specification: str
    """Digest of that revision's document."""
    line: str | UnsetType = UNSET
    trend: Trend
    left_out: list[LeftOut]
    """Lots that have no point in it, and why."""
    lacking: list[Lacking]
    """What it cannot say, and what it would take."""
