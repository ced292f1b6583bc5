"""The plans that need nothing but the lot's size: `fixed`, `percent`, `square_root`, `every`."""

from fractions import Fraction
from math import isqrt
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.numerals import exact
from service.engine.sampling.acceptance import AttributesPlan, LotSize, NoPlan, Stage, VariablesPlan
from service.engine.texts import Count

Percentage = Annotated[float, Meta(gt=0, le=100)]
Factor = Annotated[float, Meta(gt=0)]


class SampleSize(NamedTuple):
    """What a plan asks of one lot: so many packages, each with so many readings."""

    packages: int
    readings_per_package: int


class Plan(Struct, frozen=True, forbid_unknown_fields=True, tag_field="plan", kw_only=True):
    """What every plan may say, and what it comes to where it is only a number of packages."""

    readings_per_package: Count | UnsetType = UNSET

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """So many packages to take of this lot; `what` is what a sentence says that there are too few of. Each plan says."""
        raise NotImplementedError

    def attributes_plan(self, lot: LotSize, at_most: int | None) -> AttributesPlan | NoPlan:
        """One stage, with the Ac of the grade."""
        if at_most is None:
            message = "a sample that is only a size takes its accept number from the grade"
            raise ValueError(message)
        packages = self.packages_of(lot, "packages")
        if isinstance(packages, NoPlan):
            return packages
        if lot.packages is not None and packages > lot.packages:
            return lot_too_small(packages, lot.packages)
        return AttributesPlan((Stage(packages, at_most, at_most + 1),), takes_all=packages == lot.packages)

    def variables_plan(self, lot: LotSize) -> VariablesPlan | NoPlan:
        """None: a size alone has no k."""
        message = f"a sample that is only a size has no k of its own, for {lot}"
        raise ValueError(message)


class Fixed(Plan, frozen=True, tag="fixed"):
    """So many packages, whatever the lot's size."""

    packages: Count

    def packages_of(self, lot: LotSize, what: str = "readings") -> int:
        """As many as it says."""
        return self.packages


class Percent(Plan, frozen=True, tag="percent"):
    """A share of the lot, rounded up, at least so many and at most the whole lot."""

    percent: Percentage
    at_least: Count | UnsetType = UNSET

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """Rounded up: 2.5 % of 81 packages are 3."""
        if lot.packages is None:
            return size_unknown(what)
        return min(lot.packages, max(self.at_least or 1, -(-exact(self.percent) * lot.packages // 100)))


class SquareRoot(Plan, frozen=True, tag="square_root"):
    """A factor times the root of the lot's size, to the nearest whole, half up; at least so many, at most the whole lot.

    Source: the rule of ISO 2307:2010, 6.4, whose factor is 0.4 and whose lot is counted in coils of 220 m.
    """

    factor: Factor
    at_least: Count | UnsetType = UNSET

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """Half up, exactly: floor(f·√N + 1/2), by integers alone."""
        if lot.packages is None:
            return size_unknown(what)
        twice_squared = (2 * exact(self.factor)) ** 2 * lot.packages
        return min(lot.packages, max(self.at_least or 1, (floor_of_root(twice_squared) + 1) // 2))


class Every(Plan, frozen=True, tag="every"):
    """Every package of the lot."""

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The lot's size."""
        return size_unknown(what) if lot.packages is None else lot.packages


def floor_of_root(square: Fraction) -> int:
    """The greatest whole number not above √square; the root of a whole part is enough, as no whole square lies between."""
    return isqrt(square.numerator // square.denominator)


def size_unknown(what: str, by: str = "size") -> NoPlan:
    """The plan goes by something of the lot that is not told: its `size`, `length` or `mass`."""
    text = f"How many {what} it takes goes by the {by} of the lot, which is not told. Give `{by}` in `lot`."
    return NoPlan("lot-size-unknown", text)


def lot_too_small(packages: int, lot_size: int) -> NoPlan:
    """The plan takes more packages than there are."""
    text = (
        f"The plan takes {packages} packages, and the lot has {lot_size}, so it can't be carried out. "
        "Put a plan for small lots into the grade, such as `every` or `bands`."
    )
    return NoPlan("lot-smaller-than-plan", text)
