"""The plans that give only a number of packages: `fixed`, `percent`, `square_root`, `every`, `bands`."""

from fractions import Fraction
from math import isqrt
from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.documents import Amount, Count, counted
from service.engine.numbers import exact, in_base_unit, quantity_of
from service.engine.sampling.acceptance import AttributesPlan, Basis, LotSize, NoPlan, Stage, VariablesPlan

Percentage = Annotated[float, Meta(gt=0, le=100)]
Factor = Annotated[float, Meta(gt=0)]
MOST_BANDS = 100


class SampleSize(NamedTuple):
    """The size of a sample: a number of packages, and of readings of each."""

    packages: int
    readings_per_package: int


class Plan(Struct, frozen=True, forbid_unknown_fields=True, tag_field="plan", kw_only=True):
    """The members and methods of every plan; a plan with acceptance numbers overrides the methods."""

    # A plan answers for a lot itself, with a number, a plan or a NoPlan, so that no judge needs to know the kinds of plans.
    readings_per_package: Count | UnsetType = UNSET

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The number of packages to draw; `what` is the word of a sentence for what is drawn. Each plan overrides it."""
        raise AssertionError("A plan says how many packages it takes.")

    @property
    def greatest(self) -> int | None:
        """The most packages that the plan can require; None where only the lot's size bounds it."""
        return None

    @property
    def accepts_by(self) -> tuple[Basis, ...]:
        """The bases for which the plan has its own Ac or k; empty where it is only a size, which any requirement can use."""
        return ()

    def attributes_plan(self, lot: LotSize, at_most: int | None = None) -> AttributesPlan | NoPlan:
        """The plan by attributes for a lot; a single stage for a plan that is only a size.

        at_most  the Ac of the grade, for a plan without its own; None for a plan that has one

        80 packages with at most 2: one stage with Ac 2, Re 3. Raises ValueError where no Ac or two are given, which
        compilation has refused before.
        """
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
        """The plan by variables for a lot.

        Raises ValueError for a plan without its own k, as one that is only a size; compilation has refused that before.
        """
        message = f"a sample that is only a size has no k of its own, for {lot}"
        raise ValueError(message)


class Fixed(Plan, frozen=True, tag="fixed"):
    """The same number of packages whatever the lot's size."""

    packages: Count

    @property
    def greatest(self) -> int:
        """The number of packages that the grade gives."""
        return self.packages

    def packages_of(self, lot: LotSize, what: str = "readings") -> int:
        """The number of packages that the grade gives."""
        return self.packages


class Share(Plan, frozen=True, kw_only=True):
    """The common members of plans whose number of packages is a function of the lot's size."""

    at_least: Count | UnsetType = UNSET
    """1 where left out; a smaller lot is drawn whole."""
    at_most: Count | UnsetType = UNSET
    counted_in: Amount | UnsetType = UNSET
    """A length or a mass: the lot's size is then its own length or mass divided by this, not its number of packages."""

    @property
    def greatest(self) -> int | None:
        """The `at_most` of the grade; None where only the lot's size bounds it."""
        return self.at_most or None

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The number that the rule gives, not below `at_least`, not above `at_most`, and at most the whole lot."""
        pieces = self._pieces(lot, what)
        if isinstance(pieces, NoPlan):
            return pieces
        wanted = max(self.at_least or 1, self._wanted(pieces))
        return min([wanted, *(bound for bound in (self.at_most or None, lot.packages) if bound is not None)])

    def _pieces(self, lot: LotSize, what: str) -> Fraction | NoPlan:
        """The lot's size: its number of packages, or its length or mass divided by `counted_in`, not rounded."""
        if isinstance(self.counted_in, UnsetType):
            return size_unknown(what) if lot.packages is None else Fraction(lot.packages)
        by, given = ("length", lot.length) if quantity_of(self.counted_in) == "length" else ("mass", lot.mass)
        # Not rounded, so that the rule's own rounding is the only one.
        return size_unknown(what, by) if given is None else given / in_base_unit(self.counted_in)

    def _wanted(self, pieces: Fraction) -> int:
        """The number that the rule gives for a lot of this size. Each plan overrides it."""
        raise AssertionError("A plan says how many packages it takes.")


class Percent(Share, frozen=True, kw_only=True, tag="percent"):
    """A percentage of the lot, rounded up; at most the whole lot."""

    percent: Percentage

    def _wanted(self, pieces: Fraction) -> int:
        """The percentage of the lot, rounded up: 2.5 % of 81 packages are 3."""
        return -(-exact(self.percent) * pieces // 100)


class SquareRoot(Share, frozen=True, kw_only=True, tag="square_root"):
    """A factor times the square root of the lot's size, rounded to the nearest whole number, half up; at most the whole lot.

    Source: the rule of ISO 2307:2010, 6.4, whose factor is 0.4 and whose lot is counted in coils of 220 m.
    """

    factor: Factor

    def _wanted(self, pieces: Fraction) -> int:
        """The factor times the square root, rounded half up: floor(f·√N + 1/2)."""
        # By integers alone: floor(x + 1/2) is (floor(2x) + 1) // 2, and 2x is the root of (2f)²·N.
        return (floor_of_root((2 * exact(self.factor)) ** 2 * pieces) + 1) // 2


class Every(Plan, frozen=True, tag="every"):
    """Every package of the lot."""

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The number of packages in the lot."""
        return size_unknown(what) if lot.packages is None else lot.packages


class Band(Struct, frozen=True, forbid_unknown_fields=True):
    """The number of packages to draw from lots of `up_to` packages; from any larger lot where `up_to` is left out."""

    packages: Count
    up_to: Count | UnsetType = UNSET


class Bands(Plan, frozen=True, tag="bands"):
    """A number of packages by the lot's size, as in a buyer's table; at most the whole lot."""

    bands: Annotated[list[Band], Meta(min_length=1, max_length=MOST_BANDS)]

    @property
    def greatest(self) -> int:
        """The largest number of all bands."""
        return max(band.packages for band in self.bands)

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The number of the first band whose `up_to` is not below the lot's size."""
        if lot.packages is None:
            return size_unknown(what)
        for band in self.bands:
            if isinstance(band.up_to, UnsetType) or lot.packages <= band.up_to:
                return min(lot.packages, band.packages)
        text = (
            f"The bands of the plan end at {counted(self.bands[-1].up_to or 0, 'package')}, and the lot has {lot.packages}. "
            "Add a band without `up_to` to the grade."
        )
        return NoPlan("lot-beyond-bands", text)


def floor_of_root(square: Fraction) -> int:
    """The greatest whole number not above √square."""
    # The fraction's whole part suffices: no square of a whole number lies between it and the fraction.
    return isqrt(square.numerator // square.denominator)


def size_unknown(what: str, by: str = "size") -> NoPlan:
    """No plan, as the lot's `size`, `length` or `mass` is not given and the plan depends on it."""
    text = f"How many {what} to take depends on the {by} of the lot, which is not given. Give `{by}` in `lot`."
    return NoPlan("lot-size-unknown", text)


def lot_too_small(packages: int, lot_size: int) -> NoPlan:
    """No plan, as it takes more packages than the lot has."""
    text = (
        f"The plan takes {packages} packages, and the lot has only {lot_size}. "
        "Use a plan for small lots in the grade, such as `every` or `bands`."
    )
    return NoPlan("lot-smaller-than-plan", text)
