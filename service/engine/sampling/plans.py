"""The plans that need nothing but the lot's size: `fixed`, `percent`, `square_root`, `every`, `bands`."""

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
    """What a plan asks of one lot: so many packages, each with so many readings."""

    packages: int
    readings_per_package: int


class Plan(Struct, frozen=True, forbid_unknown_fields=True, tag_field="plan", kw_only=True):
    """What every plan may say, and what it comes to where it is only a number of packages."""

    readings_per_package: Count | UnsetType = UNSET

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """So many packages to take of this lot; `what` is what a sentence says that there are too few of. Each plan says."""
        raise AssertionError("A plan says how many packages it takes.")

    @property
    def greatest(self) -> int | None:
        """The most packages that it can ask for; None where only the lot's size bounds it."""
        return None

    @property
    def accepts_by(self) -> tuple[Basis, ...]:
        """What it has acceptance numbers of its own for; nothing where it is only a size, which any requirement can use."""
        return ()

    def attributes_plan(self, lot: LotSize, at_most: int | None = None) -> AttributesPlan | NoPlan:
        """The plan by attributes for a lot; of what is only a size one stage.

        at_most  the Ac of the grade, for a plan that has none of its own; None where the plan has one

        80 packages with at most 2: one stage with Ac 2, Re 3. Raises ValueError where there is no Ac or two, which compilation
        has refused before.
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

        Raises ValueError for a plan that has no k of its own, as a size has none; compilation has refused that before.
        """
        message = f"a sample that is only a size has no k of its own, for {lot}"
        raise ValueError(message)


class Fixed(Plan, frozen=True, tag="fixed"):
    """So many packages, whatever the lot's size."""

    packages: Count

    @property
    def greatest(self) -> int:
        """As many as it says."""
        return self.packages

    def packages_of(self, lot: LotSize, what: str = "readings") -> int:
        """As many as it says."""
        return self.packages


class Share(Plan, frozen=True, kw_only=True):
    """What the plans say alike that go by how large the lot is."""

    at_least: Count | UnsetType = UNSET
    """1 where left out; the lot's size stands before it."""
    at_most: Count | UnsetType = UNSET
    counted_in: Amount | UnsetType = UNSET
    """A length or a mass: the lot counts as its own length or mass divided by this, not as its packages."""

    @property
    def greatest(self) -> int | None:
        """The most packages that it can ask for."""
        return self.at_most or None

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """What the rule gives, at least and at most so many, and no more than there are."""
        pieces = self._pieces(lot, what)
        if isinstance(pieces, NoPlan):
            return pieces
        wanted = max(self.at_least or 1, self._wanted(pieces))
        return min([wanted, *(bound for bound in (self.at_most or None, lot.packages) if bound is not None)])

    def _pieces(self, lot: LotSize, what: str) -> Fraction | NoPlan:
        """How large the lot is: its packages, or its length or mass in so many pieces, not rounded."""
        if isinstance(self.counted_in, UnsetType):
            return size_unknown(what) if lot.packages is None else Fraction(lot.packages)
        by, told = ("length", lot.length) if quantity_of(self.counted_in) == "length" else ("mass", lot.mass)
        return size_unknown(what, by) if told is None else told / in_base_unit(self.counted_in)

    def _wanted(self, pieces: Fraction) -> int:
        """What the rule gives for a lot that counts as so many. Each plan says."""
        raise AssertionError("A plan says how many packages it takes.")


class Percent(Share, frozen=True, kw_only=True, tag="percent"):
    """A share of the lot, rounded up, at least so many and at most the whole lot."""

    percent: Percentage

    def _wanted(self, pieces: Fraction) -> int:
        """Rounded up: 2.5 % of 81 packages are 3."""
        return -(-exact(self.percent) * pieces // 100)


class SquareRoot(Share, frozen=True, kw_only=True, tag="square_root"):
    """A factor times the root of the lot's size, to the nearest whole, half up; at least so many, at most the whole lot.

    Source: the rule of ISO 2307:2010, 6.4, whose factor is 0.4 and whose lot is counted in coils of 220 m.
    """

    factor: Factor

    def _wanted(self, pieces: Fraction) -> int:
        """Half up, exactly: floor(f·√N + 1/2), by integers alone."""
        return (floor_of_root((2 * exact(self.factor)) ** 2 * pieces) + 1) // 2


class Every(Plan, frozen=True, tag="every"):
    """Every package of the lot."""

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """The lot's size."""
        return size_unknown(what) if lot.packages is None else lot.packages


class Band(Struct, frozen=True, forbid_unknown_fields=True):
    """So many packages of a lot of up to so many; of any larger lot where `up_to` is left out."""

    packages: Count
    up_to: Count | UnsetType = UNSET


class Bands(Plan, frozen=True, tag="bands"):
    """A number of packages by the lot's size, as a buyer's table gives it; at most the whole lot."""

    bands: Annotated[list[Band], Meta(min_length=1, max_length=MOST_BANDS)]

    @property
    def greatest(self) -> int:
        """The most packages that it can ask for."""
        return max(band.packages for band in self.bands)

    def packages_of(self, lot: LotSize, what: str = "readings") -> int | NoPlan:
        """Of the first band that the lot is not above."""
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
