"""The spelling of values beside a limit: figures, unit and position in words, prepared once for each limit."""

from fractions import Fraction

from msgspec import Struct

from service.engine.numbers.numerals import Exact, figures_beside, nearest_whole, ratio
from service.engine.numbers.units import distance_in, with_unit


class Figures(Struct, frozen=True):
    """Everything needed to write a value beside one limit, prepared at compilation."""

    # Made with % on integers: no Decimal and no float is involved, so the figures are exact and cost one division.
    limit: Fraction
    numerator: int
    denominator: int
    """Numerator and denominator are those of the limit."""
    decimals: int
    """The number of decimals of the limit."""
    scale: int
    """10 to the power of the decimals that values are shown with: one more than the limit has."""
    scaled: int
    """The limit times `scale`, rounded to a whole number."""
    figure: str
    """Format of a number: `%d.%01d`, its whole part, and the rest in units of 1 / `scale`."""
    form: str
    """Format of a value in a sentence: `%d.%01d N`."""
    above: str
    """Format of the position above: `is %d.%01d N above the lower limit of 1400 N`."""
    below: str
    on: str
    """The position on the limit: `is exactly on the lower limit of 1400 N`."""

    def beside(self, value: Exact, shown: int, apart: float) -> tuple[str, str]:
        """The value and its position beside the limit, as two parts of a sentence.

        shown  the whole number nearest to value × scale
        apart  any number with the sign of value − limit
        """
        return self._at_scale(shown, apart) or self._with_more_decimals(value, (apart > 0) - (apart < 0))

    def beside_ratio(self, numerator: int, denominator: int, apart: float) -> tuple[str, str]:
        """The value numerator / denominator and its position, as `beside` gives them; denominator > 0."""
        # Half to even, as `nearest_whole`; written out here since every finding passes it.
        shown, rest = divmod(numerator * self.scale, denominator)
        if rest and (2 * rest > denominator or (2 * rest == denominator and shown & 1)):
            shown += 1
        return self._at_scale(shown, apart) or self._with_more_decimals(
            ratio(numerator, denominator), (apart > 0) - (apart < 0)
        )

    def _at_scale(self, shown: int, apart: float) -> tuple[str, str] | None:
        """The value `shown` / `scale` and its position; None where these decimals put it on another side of the limit."""
        by, scale = shown - self.scaled, self.scale
        # divmod rounds toward −∞, so negative values, which are rare, take the longer way.
        if shown >= 0:
            if apart > 0 < by:
                return self.form % divmod(shown, scale), self.above % divmod(by, scale)
            if apart < 0 > by:
                return self.form % divmod(shown, scale), self.below % divmod(-by, scale)
            if apart == 0 == by:
                return self.form % divmod(shown, scale), self.on
        return None

    def _with_more_decimals(self, value: Exact, side: int) -> tuple[str, str]:
        """The value and its position with as many decimals as put it on its own side of the limit."""
        written, distance = figures_beside(value, self.limit, self.decimals, side)
        where = self.on if side == 0 else (self.above if side > 0 else self.below).replace(self.figure, distance)
        shown = self.form.replace(self.figure, written)
        return shown.replace("%%", "%"), where if side == 0 else where.replace("%%", "%")


def figures_of(limit: Fraction, decimals: int, unit: str, words: str, exactly: str) -> Figures:
    """The figures of values beside this limit.

    decimals  how many the limit has
    unit      the symbol of limit and values
    words     the limit in a sentence: `the lower limit of 1400 N`
    exactly   the position of a value on it: `exactly on the lower limit of 1400 N`
    """
    shown_with = decimals + 1
    scale = 10**shown_with
    # `%.0s` writes nothing: without decimals the rest of divmod is dropped.
    figure = f"%d.%0{shown_with}d" if shown_with else "%d%.0s"
    # The unit % and the grade's own words become part of a format, so their % signs are doubled.
    distance, plainly = distance_in("", unit).replace("%", "%%"), words.replace("%", "%%")
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
