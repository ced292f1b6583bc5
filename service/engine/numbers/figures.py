"""The spelling of values beside a limit: figures, unit and position in words, prepared once for each limit."""

from fractions import Fraction

from msgspec import Struct

from service.engine.numbers.numerals import Exact, figures_beside, nearest_whole, ratio
from service.engine.numbers.units import POINTS, distance_in, with_unit


class Figures(Struct, frozen=True):
    """Everything needed to write a value beside one limit, prepared at compilation."""

    # Made of integers: no Decimal and no float is involved, so the figures are exact and cost one division.
    limit: Fraction
    numerator: int
    denominator: int
    """Numerator and denominator are those of the limit."""
    decimals: int
    """The number of decimals that values are shown with at most: one more than the limit has."""
    scale: int
    """10 to the power of `decimals`."""
    scaled: int
    """The limit times `scale`, rounded to a whole number."""
    unit: str
    """What follows a value: ` N`."""
    apart: str
    """What follows a distance: ` N`, or ` percentage points`."""
    words: str
    """The limit in a sentence: `the lower limit of 1400 N`."""
    on: str
    """The position on the limit: `is exactly on the lower limit of 1400 N`."""

    def beside(self, value: Exact, shown: int, apart: float) -> tuple[str, str]:
        """The value and its position beside the limit, as two parts of a sentence.

        shown  the whole number nearest to value × scale
        apart  any number with the sign of value − limit
        """
        side = (apart > 0) - (apart < 0)
        return self._at_scale(shown, side) or self._with_more_decimals(value, side)

    def beside_ratio(self, numerator: int, denominator: int, apart: float) -> tuple[str, str]:
        """The value numerator / denominator and its position, as `beside` gives them; denominator > 0."""
        side = (apart > 0) - (apart < 0)
        # Half to even, as `nearest_whole`; written out here since every finding passes it.
        shown, rest = divmod(numerator * self.scale, denominator)
        if rest and (2 * rest > denominator or (2 * rest == denominator and shown & 1)):
            shown += 1
        return self._at_scale(shown, side) or self._with_more_decimals(ratio(numerator, denominator), side)

    def _at_scale(self, shown: int, side: int) -> tuple[str, str] | None:
        """The value `shown` / `scale` and its position; None where these decimals put it on another side of the limit."""
        by = shown - self.scaled
        # divmod rounds toward −∞, so negative values, which are rare, take the longer way.
        if shown < 0 or (by > 0) - (by < 0) != side:
            return None
        return self._written(self._numeral(shown), self._numeral(abs(by)), side)

    def _with_more_decimals(self, value: Exact, side: int) -> tuple[str, str]:
        """The value and its position with as many decimals as put it on its own side of the limit."""
        return self._written(*figures_beside(value, self.limit, self.decimals - 1, side), side)

    def _numeral(self, scaled: int) -> str:
        """Scaled / `scale`, at least 0, without zeros at its end: 8070.6, 262."""
        whole, part = divmod(scaled, self.scale)
        return f"{whole}.{part:0{self.decimals}d}".rstrip("0") if part else str(whole)

    def _written(self, value: str, distance: str, side: int) -> tuple[str, str]:
        shown = value + self.unit
        if side == 0:
            return shown, self.on
        apart = self.apart.removesuffix("s") if distance == "1" and self.apart.endswith(POINTS) else self.apart
        return shown, f"is {distance}{apart} {'above' if side > 0 else 'below'} {self.words}"


def figures_of(limit: Fraction, decimals: int, unit: str, words: str, exactly: str) -> Figures:
    """The figures of values beside this limit.

    decimals  how many the limit has
    unit      the symbol of limit and values
    words     the limit in a sentence: `the lower limit of 1400 N`
    exactly   the position of a value on it: `exactly on the lower limit of 1400 N`
    """
    scale = 10 ** (decimals + 1)
    return Figures(
        limit=limit,
        numerator=limit.numerator,
        denominator=limit.denominator,
        decimals=decimals + 1,
        scale=scale,
        scaled=nearest_whole(limit.numerator * scale, limit.denominator, "even"),
        unit=with_unit("", unit),
        apart=distance_in("", unit),
        words=words,
        on=f"is {exactly}",
    )
