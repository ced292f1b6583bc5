"""The Protocol that every column of exact numbers implements."""

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
        """The number of values."""

    def mean(self) -> Known:
        """The arithmetic mean; enclosed where its exact sum is long."""

    def variance(self) -> Known:
        """The sample variance, Σ(x − mean)² / (n − 1), of at least two values; enclosed where its exact sum is long."""

    def extremes(self) -> tuple[Fraction, Fraction]:
        """The lowest and the highest value."""

    def outside(self, lower: Fraction | None, upper: Fraction | None) -> Sequence[int]:
        """The indices, from 0 in the order sent, of the values below `lower` or above `upper`; None is an open side."""

    def worst(self, lower: Fraction | None, upper: Fraction | None, rank: int) -> Fraction:
        """The value with the least distance inside the limits after leaving out the `rank` worst ones; 0 ≤ rank < count.

        Distances are negative outside. Of two values at the same distance the lower one counts as worse.
        """

    def rounded(self, step: Fraction, way: Way) -> "WholeColumn":
        """The column of each value rounded to a multiple of `step`."""

    def means(self, groups: Sequence[int], group_count: int) -> "Column":
        """The column of the means of groups; `groups[i]` is the group of value i, from 0, and no group is empty."""

    def picked(self, places: Sequence[int]) -> "Column":
        """The column of the values at these indices, at least one."""

    def in_plain_python(self) -> "WholeColumn | QuotientColumn":
        """The same values as a column of Python integers: whole multiples of a step, or quotients of whole numbers."""

    def exact_values(self) -> Sequence[Fraction]:
        """All values as Fractions; slow for long columns."""
