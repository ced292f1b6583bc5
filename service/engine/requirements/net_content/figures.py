"""The types of a rule's figures: plans by the size of the batch, and the tolerable shortage of a package."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from service.engine.documents import Quantity
from service.engine.sampling import LotSize, NoPlan, Stage

PLAIN = Fraction(0)
"""The factor of a plain mean, to which no multiple of the spread is added."""


class MeanCheck(NamedTuple):
    """The mean of so many packages, plus a factor times their standard deviation or range, is not below the nominal content."""

    packages: int
    factor: Fraction
    """The numeral that the law prints, also where it is printed wrong by a digit."""
    spread: Literal["standard deviation", "range"] = "standard deviation"


class ContentPlan(NamedTuple):
    """The plan of a rule for one lot."""

    stages: tuple[Stage, ...]
    """The plan for packages that are short by more than is tolerable: one stage, or two of a double plan."""
    mean: MeanCheck


class Row(NamedTuple):
    """A row of a table: the least and the greatest batch that it is for, both included, and the plan for them."""

    least: int
    greatest: int | None
    stages: tuple[Stage, ...]
    mean: MeanCheck

    def plan(self, lot_size: int) -> ContentPlan:
        """The plan of the row, which is the same for each of its lots."""
        return ContentPlan(self.stages, self.mean)


class WholeRow(NamedTuple):
    """A row for batches that are too small for a sample: every package is measured, and the plain mean is compared."""

    least: int
    greatest: int
    percent_beyond: Fraction | None
    """The percentage of packages that may be short by more than is tolerable; None where the rule does not say."""

    def plan(self, lot_size: int) -> ContentPlan:
        """A plan for every package; the number that may be short is rounded down."""
        # Where the rule does not say how many may be short, none accepts and no number can reject: anything else is undecided.
        accept = 0 if self.percent_beyond is None else int(self.percent_beyond * lot_size // 100)
        reject = lot_size + 1 if self.percent_beyond is None else accept + 1
        return ContentPlan((Stage(lot_size, accept, reject),), MeanCheck(lot_size, PLAIN))


class Band(NamedTuple):
    """Nominal contents from `least` to `greatest`, both included, and their tolerable shortage: percent or an amount."""

    least: Fraction
    greatest: Fraction | None
    percent: Fraction | None = None
    amount: Fraction | None = None


class Tolerance(NamedTuple):
    """The tolerable shortage of a package by its nominal content; of two bands that share an end, the first applies."""

    bands: tuple[Band, ...]
    rounding_up_to: Fraction | None = None

    def of(self, nominal: Fraction) -> Fraction | None:
        """The tolerable shortage in the unit of the bands; None for a nominal content in none of them.

        150 g at 4.5 %, rounded up to 0.1 g: 6.75 g, so 6.8 g.
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
        # Floor division of the negative number rounds up, exactly.
        return share if self.rounding_up_to is None else -(-share // self.rounding_up_to) * self.rounding_up_to


class Law(NamedTuple):
    """A rule with its figures; bands are in the SI unit of its quantity."""

    name: str
    quantity: Quantity
    rows: Mapping[str, Sequence[Row | WholeRow]]
    """The rows of each table: `single`, `double`, `destructive`; a rule with one table for all cases has only `single`."""
    tolerance: Tolerance
    yarn_tolerance: Tolerance | None = None
    """For yarn; None where the rule makes no difference."""
    none_beyond_times: Fraction | None = None
    """No package may be short by more than this many times the tolerable shortage; None where the rule does not limit it."""


def plan_in(name: str, rows: Sequence[Row | WholeRow], lot: LotSize) -> ContentPlan | NoPlan:
    """The plan of a rule's table for a lot, or why the table has none."""
    size = lot.packages
    if size is None:
        text = "How many packages to take depends on the size of the lot, which is not given. Give `size` in `lot`."
        return NoPlan("lot-size-unknown", text)
    for row in rows:
        if row.least <= size and (row.greatest is None or size <= row.greatest):
            return row.plan(size)
    least, greatest = rows[0].least, rows[-1].greatest
    sizes = f"at least {least}" if greatest is None else f"{least} to {greatest}"
    remedy = "Judge it by another rule" if size < least else "Judge it in parts, each a lot of its own"
    text = f"`{name}` has plans for lots of {sizes} packages, and this lot has {size}. {remedy}."
    return NoPlan("plan-not-in-table", text)


def single(packages: int, accept: int) -> tuple[Stage, ...]:
    """A single plan, which rejects at one more than it accepts."""
    return (Stage(packages, accept, accept + 1),)


def double(packages: int, accept: int, reject: int, accept_both: int) -> tuple[Stage, ...]:
    """A double plan with two stages of so many packages each; `accept_both` is the accept number of both together."""
    return Stage(packages, accept, reject), Stage(packages, accept_both, accept_both + 1)


def bands_in_grams(*bands: tuple[int, int, str, str]) -> Iterator[Band]:
    """Bands in kilograms, from (least, greatest, figure, `%` or `g`) in grams as a law prints them."""
    # Figures are texts, so that `4.5` becomes 9/2: as a double it would be another number for most numerals.
    for least, greatest, figure, unit in bands:
        percent, amount = (Fraction(figure), None) if unit == "%" else (None, Fraction(figure) / 1000)
        yield Band(Fraction(least, 1000), Fraction(greatest, 1000), percent, amount)
