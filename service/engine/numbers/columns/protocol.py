"""What every column can be asked."""

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol

from service.engine.numbers.enclosures import Known
from service.engine.numbers.numerals import Way

if TYPE_CHECKING:
    from service.engine.numbers.columns.quotients import QuotientColumn
    from service.engine.numbers.columns.whole import WholeColumn


class Column(Protocol):
    """Exact values in one unit, at least one of them, in the order sent."""

    @property
    def count(self) -> int:
        """How many values."""

    def mean(self) -> Known:
        """The arithmetic mean."""

    def variance(self) -> Known:
        """The squared deviations from the mean, summed and divided by n − 1; of at least two values."""

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """The places, from 0 in the order sent, of the values that are below `lower` or above `upper`."""

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """The value with the smallest distance to the limits, less `rank` worse ones; 0 ≤ rank < count.

        Of two at the same distance the lower counts first.
        """

    def rounded(self, step: Fraction, way: Way) -> "WholeColumn":
        """Each value rounded to a multiple of `step`."""

    def means(self, groups: Sequence[int], group_count: int) -> "Column":
        """The mean of each group; `groups` gives each value's group, numbered from 0, none of them empty."""

    def picked(self, places: Sequence[int]) -> "Column":
        """The values at these places, at least one."""

    def in_plain_python(self) -> "WholeColumn | QuotientColumn":
        """The same values in plain integers: whole multiples of a step, or quotients of whole numbers."""

    def exact_values(self) -> Sequence[Fraction]:
        """All values, one by one; slow."""
