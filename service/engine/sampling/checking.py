"""Flaws of sampling plans in a grade, whether the plan is on a characteristic or on a requirement."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.documents import Flaw, counted, number_flaws, one_of, quoted, written
from service.engine.numbers import amount_unit_flaws, exact
from service.engine.sampling.acceptance import Basis
from service.engine.sampling.code_letter import CodeLetter, Table
from service.engine.sampling.plans import Bands, Percent, Share, SquareRoot
from service.engine.sampling.samples import Sample
from service.engine.sampling.tables import mil_std_105e, mil_std_414
from service.engine.sampling.two_point import TwoPoint

# Beyond these a plan depends on tails that are known of no process, and the search through them takes seconds.
LEAST_RISK, GREATEST_RISK = 0.001, 99
"""The least and the greatest risk of a two-point plan, in percent."""
SIZES_ALONE = "Give it a `sample` that is only a size: `fixed`, `percent`, `square_root`, `every` or `bands`."
OTHER_PLANS: Mapping[Basis, str] = {
    "attributes": "Give it one of MIL-STD-105E, or a sample that is only a size and `at_most`.",
    "variables": "Give it one of MIL-STD-414, or a sample that is only a size and `k`.",
}


class TableContents(NamedTuple):
    """The levels, code letters, AQLs and schemes of a published table that are available here."""

    levels: Sequence[str]
    letters: Sequence[str]
    aqls: Sequence[str]
    schemes: Sequence[str]


def sample_flaws(sample: Sample, at: str) -> Iterator[Flaw]:
    """Flaws of a plan whose numbers are out of range, contradict each other or are not in its table."""
    match sample:
        case Percent():
            yield from number_flaws(sample.percent, f"{at}/percent")
            yield from _share_flaws(sample, at)
        case SquareRoot():
            yield from number_flaws(sample.factor, f"{at}/factor")
            yield from _share_flaws(sample, at)
        case Bands():
            yield from _bands_flaws(sample, at)
        case CodeLetter():
            yield from _code_letter_flaws(sample, at)
        case TwoPoint():
            yield from _two_point_flaws(sample, at)


def plan_place_flaws(sample: Sample, basis: Basis | None, whose: str, at: str) -> Iterator[Flaw]:
    """The flaw of a plan with acceptance numbers on a requirement that does not accept by such numbers.

    basis  what the requirement accepts by; None where it only takes a number of packages
    whose  begins the sentence: `The sample`, `The sample of breaking_force`
    at     JSON Pointer to the sample, or to the requirement where the sample is on a characteristic
    """
    if basis in sample.accepts_by and isinstance(sample, TwoPoint):
        yield from _no_plan_flaws(sample, basis, at)
    if not sample.accepts_by or basis in sample.accepts_by:
        return
    given = " or ".join(sample.accepts_by)
    if basis is None:
        text = f"{whose} is a plan by {given}, and this requirement only needs a number of packages. {SIZES_ALONE}"
    else:
        text = f"{whose} is a plan by {given}, and this requirement accepts by {basis}. {OTHER_PLANS[basis]}"
    yield Flaw("plan-not-here", text, at)


def counting_flaws(sample: Sample, counting: str, at: str) -> Iterator[Flaw]:
    """Flaws of a plan for the other way of counting: an AQL above 10 needs occurrences, a two-point plan needs packages.

    counting  `packages` or `occurrences`
    at        JSON Pointer to the sample
    """
    if isinstance(sample, CodeLetter) and sample.is_per_hundred and counting != "occurrences":
        text = (
            f"An AQL of {written(sample.aql)} is a number of faults per hundred packages, not a percentage of packages. "
            "Set `counting` to `occurrences`, or write an AQL of 10 or less."
        )
        yield Flaw("aql-of-occurrences", text, f"{at}/aql")
    if isinstance(sample, TwoPoint) and counting == "occurrences":
        text = (
            "The two points are percentages of packages, and this requirement counts occurrences. Set `counting` to `packages`."
        )
        yield Flaw("points-of-packages", text, at)


def _share_flaws(sample: Share, at: str) -> Iterator[Flaw]:
    """Flaws of `at_least` above `at_most`, and of `counted_in` that is no length or mass."""
    if sample.at_least and sample.at_most and sample.at_least > sample.at_most:
        text = (
            f"The plan takes at least {counted(sample.at_least, 'package')} and at most {sample.at_most}. Correct one of them."
        )
        yield Flaw("at-least-above-at-most", text, f"{at}/at_most")
    if not isinstance(sample.counted_in, UnsetType):
        what = "a lot is counted in pieces of so much length or mass"
        yield from amount_unit_flaws(sample.counted_in, ("length", "mass"), what, f"{at}/counted_in")
        yield from number_flaws(sample.counted_in.value, f"{at}/counted_in/value")


def _bands_flaws(sample: Bands, at: str) -> Iterator[Flaw]:
    """Flaws of bands that do not end above the one before, and of a band without an end that is not the last."""
    for number, (before, band) in enumerate(pairwise(sample.bands), 1):
        if isinstance(before.up_to, UnsetType):
            text = "The band has no end, so the ones after it are never reached. Give it `up_to`, or put it last."
            yield Flaw("band-without-end", text, f"{at}/bands/{number - 1}")
        elif not isinstance(band.up_to, UnsetType) and band.up_to <= before.up_to:
            text = (
                f"The band ends at {counted(band.up_to, 'package')}, and the one before it at {before.up_to}. "
                "Put the bands in rising order."
            )
            yield Flaw("bands-not-rising", text, f"{at}/bands/{number}/up_to")


def _two_point_flaws(sample: TwoPoint, at: str) -> Iterator[Flaw]:
    """Flaws of risks out of range, and of a producer's quality that is not better than the consumer's."""
    for name in ("producer", "consumer"):
        point = sample.producer if name == "producer" else sample.consumer
        yield from number_flaws(point.percent, f"{at}/{name}/percent")
        yield from number_flaws(point.risk, f"{at}/{name}/risk")
        if not LEAST_RISK <= point.risk <= GREATEST_RISK:
            text = f"A risk of {written(point.risk)} % is out of range. Give one from 0.001 to 99 %."
            yield Flaw("risk-not-chosen-by", text, f"{at}/{name}/risk")
    if exact(sample.producer.percent) >= exact(sample.consumer.percent):
        text = (
            f"The producer's {written(sample.producer.percent)} % nonconforming is to be accepted, and the consumer's "
            f"{written(sample.consumer.percent)} % is to be rejected. Make the producer's the smaller one."
        )
        yield Flaw("points-not-apart", text, f"{at}/producer/percent")


def _no_plan_flaws(sample: TwoPoint, basis: Basis, at: str) -> Iterator[Flaw]:
    """The flaw of two points that no plan of at most 100,000 packages meets."""
    # Only searched for points without another flaw, as the search may take a second.
    if not any(_two_point_flaws(sample, at)) and not sample.has_plan(basis):
        yield Flaw("no-such-plan", sample.no_such_plan(None).text, at)


@cache
def _contents_of(table: Table) -> TableContents:
    """The contents of a table, read from its text."""
    if table == mil_std_105e.NAME:
        return TableContents(
            mil_std_105e.letters().levels, mil_std_105e.code_letters(), mil_std_105e.aqls(), ("single", "double")
        )
    return TableContents(mil_std_414.letters().levels, mil_std_414.code_letters(), mil_std_414.aqls(), ("single",))


def _code_letter_flaws(sample: CodeLetter, at: str) -> Iterator[Flaw]:
    """Flaws of a level, letter, AQL or scheme that is missing, given twice or not in the table."""
    contents = _contents_of(sample.table)
    if not sample.level and not sample.letter:
        yield Flaw("level-or-letter", f"The plan has neither level nor letter. Give `level`: {one_of(contents.levels)}.", at)
    elif sample.level and sample.letter:
        yield Flaw("level-or-letter", "Both `level` and `letter` are given. Remove one of the two.", f"{at}/letter")
    if sample.level and sample.level not in contents.levels:
        text = f"{sample.table} has no level {quoted(sample.level)}. Write {one_of(contents.levels)}."
        yield Flaw("level-not-in-table", text, f"{at}/level")
    if sample.letter and sample.letter not in contents.letters:
        text = f"{sample.table} has no code letter {quoted(sample.letter)}. Write {one_of(contents.letters)}."
        yield Flaw("letter-not-in-table", text, f"{at}/letter")
    # Compared as numerals: the double 0.1 is not one tenth, and the page has 0.10 where a grade has 0.1.
    if exact(sample.aql) not in map(Fraction, contents.aqls):
        text = f"{sample.table} has no AQL {written(sample.aql)}. Write {one_of(contents.aqls)}."
        yield Flaw("aql-not-in-table", text, f"{at}/aql")
    if sample.scheme and sample.scheme not in contents.schemes:
        text = f"{sample.table} has no {sample.scheme} plans. Write {one_of(contents.schemes)}, or remove `scheme`."
        yield Flaw("scheme-not-in-table", text, f"{at}/scheme")
