"""The plans that need nothing but the lot's size: `fixed`, `percent`, `square_root`, `every`."""

from fractions import Fraction
from math import isqrt
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.numerals import exact
from service.engine.texts import Count

Percentage = Annotated[float, Meta(gt=0, le=100)]
Factor = Annotated[float, Meta(gt=0)]


class SampleSize(NamedTuple):
    """What a plan asks of one lot: so many packages, each with so many readings."""

    packages: int
    readings_per_package: int


class Plan(Struct, frozen=True, forbid_unknown_fields=True, tag_field="plan", kw_only=True):
    """What every plan may say."""

    readings_per_package: Count | UnsetType = UNSET


class Fixed(Plan, frozen=True, tag="fixed"):
    """So many packages, whatever the lot's size."""

    packages: Count

    def packages_of(self, lot_size: int | None) -> int:
        """As many as it says."""
        return self.packages


class Percent(Plan, frozen=True, tag="percent"):
    """A share of the lot, rounded up, at least so many and at most the whole lot."""

    percent: Percentage
    at_least: Count | UnsetType = UNSET

    def packages_of(self, lot_size: int | None) -> int | None:
        """Rounded up: 2.5 % of 81 packages are 3."""
        if lot_size is None:
            return None
        return min(lot_size, max(self.at_least or 1, -(-exact(self.percent) * lot_size // 100)))


class SquareRoot(Plan, frozen=True, tag="square_root"):
    """A factor times the root of the lot's size, to the nearest whole, half up; at least so many, at most the whole lot.

    Source: the rule of ISO 2307:2010, 6.4, whose factor is 0.4 and whose lot is counted in coils of 220 m.
    """

    factor: Factor
    at_least: Count | UnsetType = UNSET

    def packages_of(self, lot_size: int | None) -> int | None:
        """Half up, exactly: floor(f·√N + 1/2), by integers alone."""
        if lot_size is None:
            return None
        twice_squared = (2 * exact(self.factor)) ** 2 * lot_size
        return min(lot_size, max(self.at_least or 1, (floor_of_root(twice_squared) + 1) // 2))


class Every(Plan, frozen=True, tag="every"):
    """Every package of the lot."""

    def packages_of(self, lot_size: int | None) -> int | None:
        """The lot's size."""
        return lot_size


def floor_of_root(square: Fraction) -> int:
    """The greatest whole number not above √square; the root of a whole part is enough, as no whole square lies between."""
    return isqrt(square.numerator // square.denominator)
