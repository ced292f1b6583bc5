"""How a value beside a limit is written: its figures, and where it lies, each worked out once for the limit."""

from fractions import Fraction

from msgspec import Struct

from service.engine.numbers.numerals import Exact, figures_beside, nearest_whole, ratio
from service.engine.numbers.units import apart_in, with_unit


class Figures(Struct, frozen=True):
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
    figure: str
    """`%d.%01d`, for so many decimals: a whole part, and the rest in parts of `scale`."""
    form: str
    """`%d.%01d N`: a value in a sentence."""
    above: str
    """`is %d.%01d N above the lower limit of 1400 N`"""
    below: str
    on: str
    """`is exactly on the lower limit of 1400 N`"""

    def beside(self, value: Exact, shown: int, apart: float) -> tuple[str, str]:
        """The value, and where it lies.

        shown  the whole number nearest to value × scale
        apart  below, on or above 0 as the value is below, on or above the limit
        """
        return self._shortly(shown, apart) or self._closely(value, (apart > 0) - (apart < 0))

    def beside_ratio(self, numerator: int, denominator: int, apart: float) -> tuple[str, str]:
        """The same of numerator / denominator."""
        shown, rest = divmod(numerator * self.scale, denominator)
        if rest and (2 * rest > denominator or (2 * rest == denominator and shown & 1)):
            shown += 1
        return self._shortly(shown, apart) or self._closely(ratio(numerator, denominator), (apart > 0) - (apart < 0))

    def _shortly(self, shown: int, apart: float) -> tuple[str, str] | None:
        """The same of a value that is shown as `shown` / `scale`, where so many decimals tell the side."""
        by, scale = shown - self.scaled, self.scale
        if shown >= 0:
            if apart > 0 < by:
                return self.form % divmod(shown, scale), self.above % divmod(by, scale)
            if apart < 0 > by:
                return self.form % divmod(shown, scale), self.below % divmod(-by, scale)
            if apart == 0 == by:
                return self.form % divmod(shown, scale), self.on
        return None

    def _closely(self, value: Exact, side: int) -> tuple[str, str]:
        """The same with as many decimals as it takes."""
        written, distance = figures_beside(value, self.limit, self.decimals, side)
        where = self.on if side == 0 else (self.above if side > 0 else self.below).replace(self.figure, distance)
        shown = self.form.replace(self.figure, written)
        return shown.replace("%%", "%"), where if side == 0 else where.replace("%%", "%")


def figures_of(limit: Fraction, decimals: int, unit: str, words: str, exactly: str) -> Figures:
    """How values beside this limit are written.

    words    the limit in a sentence: `the lower limit of 1400 N`
    exactly  where a value on it lies: `exactly on the lower limit of 1400 N`
    """
    shown_with = decimals + 1
    scale = 10**shown_with
    # Where there are no decimals, the rest is nothing, and written as that.
    figure = f"%d.%0{shown_with}d" if shown_with else "%d%.0s"
    distance, plainly = apart_in("", unit).replace("%", "%%"), words.replace("%", "%%")
    return Figures(
        limit=limit,
        numerator=limit.numerator,
        denominator=limit.denominator,
        decimals=decimals,
        scale=scale,
        scaled=nearest_whole(limit.numerator * scale, limit.denominator, "even"),
        figure=figure,
        form=figure + with_unit("", unit).replace("%", "%%"),
        above=f"is {figure}{distance} above {plainly}",
        below=f"is {figure}{distance} below {plainly}",
        on=f"is {exactly}",
    )
