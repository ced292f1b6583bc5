"""What the figures of a rule are made of: plans by the size of the batch, and what a package may be short by."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from service.engine.documents import Quantity
from service.engine.sampling import LotSize, NoPlan, Stage

PLAIN = Fraction(0)
"""The factor of a plain mean, to which nothing is added."""


class MeanCheck(NamedTuple):
    """The mean of so many packages, and so many of their standard deviations or ranges, are not below the nominal content."""

    packages: int
    factor: Fraction
    """As printed: that numeral is compared."""
    spread: Literal["standard deviation", "range"] = "standard deviation"


class ContentPlan(NamedTuple):
    """What a rule asks of one lot."""

    stages: tuple[Stage, ...]
    """How many packages may be short by more than is tolerable: one stage, or two of a double plan."""
    mean: MeanCheck


class Row(NamedTuple):
    """A row of a table: the batches that it is for, both ends included, and what is asked of them."""

    least: int
    greatest: int | None
    stages: tuple[Stage, ...]
    mean: MeanCheck

    def plan(self, lot_size: int) -> ContentPlan:
        """The same for every lot of the row."""
        return ContentPlan(self.stages, self.mean)


class WholeRow(NamedTuple):
    """Batches that are too small for a sample: every package is looked at, and the plain mean is compared."""

    least: int
    greatest: int
    percent_beyond: Fraction | None
    """So many packages in a hundred may be short by more than is tolerable, rounded down; None where the rule does not say."""

    def plan(self, lot_size: int) -> ContentPlan:
        """Every package; where the rule does not say how many may be short, none accepts and no number rejects."""
        accept = 0 if self.percent_beyond is None else int(self.percent_beyond * lot_size // 100)
        reject = lot_size + 1 if self.percent_beyond is None else accept + 1
        return ContentPlan((Stage(lot_size, accept, reject),), MeanCheck(lot_size, PLAIN))


class Band(NamedTuple):
    """Nominal contents from `least` to `greatest`, both included, and what a package may be short by: percent or an amount."""

    least: Fraction
    greatest: Fraction | None
    percent: Fraction | None = None
    amount: Fraction | None = None


class Tolerance(NamedTuple):
    """What a package may be short by, by its nominal content; the first band that a nominal is in holds."""

    bands: tuple[Band, ...]
    rounding_up_to: Fraction | None = None

    def of(self, nominal: Fraction) -> Fraction | None:
        """In the unit of the bands; None for a nominal that is in none of them.

        150 g at 4.5 %, rounded up to 0.1 g: 6.75 g and so 6.8 g.
        """
        for band in self.bands:
            if band.least <= nominal and (band.greatest is None or nominal <= band.greatest):
                return self._within(band, nominal)
        return None

    def _within(self, band: Band, nominal: Fraction) -> Fraction:
        if band.percent is None:
            assert band.amount is not None
            return band.amount
        share = nominal * band.percent / 100
        return share if self.rounding_up_to is None else -(-share // self.rounding_up_to) * self.rounding_up_to


class Law(NamedTuple):
    """A rule whose figures stand here; bands are in the SI unit of its quantity."""

    name: str
    quantity: Quantity
    rows: Mapping[str, Sequence[Row | WholeRow]]
    """By `single`, `double`, `destructive`; a rule that has one plan for all cases has `single` alone."""
    tolerance: Tolerance
    yarn_tolerance: Tolerance | None = None
    """For yarn, where the rule treats it apart."""
    none_beyond_times: Fraction | None = None
    """No package may be short by more than so many times what is tolerable."""


def plan_in(name: str, rows: Sequence[Row | WholeRow], lot: LotSize) -> ContentPlan | NoPlan:
    """The plan of a rule's table for a lot, or why there is none."""
    size = lot.packages
    if size is None:
        text = "How many packages it takes goes by the size of the lot, which is not told. Give `size` in `lot`."
        return NoPlan("lot-size-unknown", text)
    for row in rows:
        if row.least <= size and (row.greatest is None or size <= row.greatest):
            return row.plan(size)
    least, greatest = rows[0].least, rows[-1].greatest
    held = f"at least {least}" if greatest is None else f"{least} to {greatest}"
    remedy = "Judge this one by another rule" if size < least else "Judge this one in parts, each a lot of its own"
    text = f"`{name}` has plans for lots of {held} packages, and this one has {size}. {remedy}."
    return NoPlan("plan-not-in-table", text)


def single(packages: int, accept: int) -> tuple[Stage, ...]:
    """One stage that rejects from one more than it accepts."""
    return (Stage(packages, accept, accept + 1),)


def double(packages: int, accept: int, reject: int, accept_both: int) -> tuple[Stage, ...]:
    """Two stages of so many packages each."""
    return Stage(packages, accept, reject), Stage(packages, accept_both, accept_both + 1)


def bands_in_grams(*bands: tuple[int, int, str, str]) -> Iterator[Band]:
    """(from, to, figure, `%` or `g`) in grams, as a law prints them, as bands in kilograms."""
    for least, greatest, figure, unit in bands:
        percent, amount = (Fraction(figure), None) if unit == "%" else (None, Fraction(figure) / 1000)
        yield Band(Fraction(least, 1000), Fraction(greatest, 1000), percent, amount)
