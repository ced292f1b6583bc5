"""How a value beside a limit is written: its figures, and where it lies, each worked out once for the limit."""

from fractions import Fraction
from typing import NamedTuple

from service.engine.numerals import SAFE, Exact, Root, figures_beside, nearest_scaled, nearest_whole
from service.engine.units import apart_in, with_unit


class Figures(NamedTuple):
    """How values beside a limit are written."""

    limit: Fraction
    numerator: int
    denominator: int
    """Of the limit."""
    decimals: int
    """How many the limit has."""
    scale: int
    """10 to the decimals that most values beside it are shown with: one more than it has."""
    scaled: int
    """The limit, that many times."""
    form: str
    """`%.1f`, for so many decimals."""
    unit: str
    """` N`, or nothing."""
    above: str
    """What follows a distance: ` N above the lower limit of 1400 N`."""
    below: str
    on: str
    """`is exactly on the lower limit of 1400 N`"""

    def beside(self, value: Exact, apart: float) -> tuple[str, str]:
        """The value, and where it lies.

        apart  below, on or above 0 as the value is below, on or above the limit

        What `figures_beside` says, by one division where so many decimals tell the side. A whole number below 10^15 divided
        by a power of ten is the double that the quotient's numeral reads back as, so that `%` writes just its digits.
        """
        if isinstance(value, Root):
            shown = nearest_scaled(value, self.scale)
        else:
            shown = nearest_whole(value.numerator * self.scale, value.denominator, "even")
        by, side = shown - self.scaled, (apart > 0) - (apart < 0)
        if (by > 0) - (by < 0) == side and -SAFE < shown < SAFE and -SAFE < by < SAFE:
            written, distance = self.form % (shown / self.scale), self.form % (abs(by) / self.scale)
        else:
            written, distance = figures_beside(value, self.limit, self.decimals, side)
        where = self.on if side == 0 else f"is {distance}{self.above if side > 0 else self.below}"
        return f"{written}{self.unit}", where


def figures_of(limit: Fraction, decimals: int, unit: str, words: str, exactly: str) -> Figures:
    """How values beside this limit are written.

    words    the limit in a sentence: `the lower limit of 1400 N`
    exactly  where a value on it lies: `exactly on the lower limit of 1400 N`
    """
    shown_with = decimals + 1
    scale = 10**shown_with
    distance = apart_in("", unit)
    return Figures(
        limit=limit,
        numerator=limit.numerator,
        denominator=limit.denominator,
        decimals=decimals,
        scale=scale,
        scaled=nearest_whole(limit.numerator * scale, limit.denominator, "even"),
        form=f"%.{shown_with}f",
        unit=with_unit("", unit),
        above=f"{distance} above {words}",
        below=f"{distance} below {words}",
        on=f"is {exactly}",
    )
