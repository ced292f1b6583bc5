"""What is enclosed is answered as if it had been worked out to its last digit; plain Fraction arithmetic is the measure."""

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import mean, variance
from typing import TypeVar

import pytest

from service.engine.characteristics import Bounds, LimitSide
from service.engine.numbers import (
    Enclosure,
    answered,
    combined,
    difference,
    exactly,
    figure,
    figures_beside,
    nearest_double,
    root_of,
    rooted,
    side_of,
    to_step,
)
from service.engine.numbers.columns.quotients import FEW, LONGEST_KEY, QuotientColumn
from service.engine.numbers.enclosures import WIDTHS
from tests.support.grades import RUNNAGE, Document, grade, series, spread, variables
from tests.support.grades import mean as mean_within
from tests.support.judging import found

Value = TypeVar("Value")
Answer = TypeVar("Answer")
STEP = Fraction(1000, 7)
SOME, MANY = 40, 300
"""A law's columns have at most so many values, which is more than FEW, and there are so many of them."""


def turned(numbers: list[int], step: Fraction = STEP) -> QuotientColumn:
    """Readings turned round: the step divided by each."""
    return QuotientColumn([1] * len(numbers), numbers, step)


def drawn(rng: Random) -> QuotientColumn:
    """Quotients of one, of three, of nine and of seventeen digits, some of them equal, some negative or 0."""
    count, digits = rng.randint(1, SOME), rng.choice((1, 3, 9, 17))
    numerators = [1] * count if rng.random() < 0.5 else [rng.randint(-(10**digits), 10**digits) for _ in range(count)]
    return QuotientColumn(numerators, [rng.randint(1, 10**digits) for _ in range(count)], Fraction(rng.randint(1, 99), 7))


def margin(value: Fraction, lower: Fraction | None, upper: Fraction | None) -> Fraction:
    """The distance from the nearer limit; negative outside."""
    return min(([] if lower is None else [value - lower]) + ([] if upper is None else [upper - value]))


def beside(limit: Fraction, ask: Callable[[Value, Fraction], Answer]) -> Callable[[Value], Answer]:
    """The question about a value and this limit."""
    return lambda value: ask(value, limit)


def limits_about(rng: Random, values: list[Fraction]) -> tuple[Fraction | None, Fraction | None]:
    """Limits on values of the column and between them, one side open now and then."""
    lower, upper = sorted((rng.choice(values), rng.choice(values) + Fraction(rng.randint(0, 1), 3)))
    return rng.choice(((lower, upper), (lower, upper), (lower, None), (None, upper)))


@pytest.mark.parametrize("seed", range(8))
def test_quotients_order_as_fractions_do(seed: int) -> None:
    """The readings a finding names and the one that decides are those of exact arithmetic, limits on readings included."""
    rng = Random(seed)
    for _ in range(MANY):
        column = drawn(rng)
        values = column.exact_values()
        lower, upper = limits_about(rng, values)
        rank = rng.randrange(column.count)
        ordered = sorted((margin(value, lower, upper), value) for value in values)
        outside = [place for place, value in enumerate(values) if margin(value, lower, upper) < 0]

        assert (min(values), max(values)) == column.extremes()
        assert outside == list(column.outside(lower, upper))
        assert ordered[rank][1] == column.worst(lower, upper, rank)


@pytest.mark.parametrize("seed", range(4))
def test_both_ends_hold_the_statistic_between_them(seed: int) -> None:
    """Whatever is settled rests on this: the mean and the variance lie between their ends, at every width."""
    rng = Random(seed)
    for _ in range(MANY):
        column = drawn(rng)
        values = column.exact_values()
        found = [(column.mean(), mean(values))]
        if column.count > 1:
            found.append((column.variance(), variance(values)))

        for number, expected in found:
            assert expected == exactly(number)
            if isinstance(number, Enclosure):
                ends = [number.between(bits) for bits in WIDTHS]
                assert all(pair and pair[0] <= expected <= pair[1] for pair in ends)
                assert all(one and two and two[1] - two[0] < one[1] - one[0] for one, two in pairwise(ends))


QUESTIONS: dict[str, Callable[[Fraction, Fraction], object]] = {
    "side": side_of,
    "double": lambda value, _: nearest_double(value),
    "distance": difference,
    "step, even": lambda value, _: to_step(value, Fraction(1, 4), "even"),
    "step, away": lambda value, _: to_step(value, Fraction(1, 4), "away"),
    "figure": lambda value, _: figure(value, 2),
    "figures": lambda value, limit: figures_beside(value, limit, 1, side_of(value, limit)),
    "standing": lambda value, limit: LimitSide("upper", limit, "", 0, "N", "the limit", 1).standing(value),
}


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_question_gets_the_exact_answer(name: str) -> None:
    """Beside a limit, on it, and a hair from it: the verdict is the one of exact arithmetic."""
    rng, ask = Random(name), QUESTIONS[name]
    for _ in range(MANY):
        column = drawn(rng)
        expected = mean(column.exact_values())
        hair = Fraction(rng.randint(-1, 1), 10 ** rng.choice((1, 9, 30, 60, 120)))
        limits = [Fraction(round(expected * 10), 10), Fraction(round(expected))]
        limit = rng.choice((*limits, expected + hair)) if name == "side" else rng.choice(limits)

        assert ask(expected, limit) == answered(column.mean(), beside(limit, ask))


def test_spreads_get_the_exact_answer() -> None:
    """A coefficient of variation and a quality statistic are made of two enclosed numbers and a root."""
    rng = Random(7)
    for _ in range(MANY):
        column = turned([rng.randint(7000, 8000) for _ in range(SOME)])
        values = column.exact_values()
        squared = variance(values) / mean(values) ** 2
        found = rooted(combined(lambda one, other: one / other**2, column.variance(), column.mean()))
        limit = Fraction(round(nearest_double(root_of(squared)) * 1000), 1000)

        assert isinstance(found, Enclosure)
        assert difference(root_of(squared), limit) == answered(found, beside(limit, difference))
        assert root_of(squared) == found.exactly()


class Spied:
    """A number that tells how far it had to be worked out."""

    def __init__(self, value: Fraction) -> None:
        """Enclose it as a column would."""
        self.value, self.widths, self.times_in_full = value, list[int](), 0
        self.number = Enclosure(self._ends, self._in_full)

    def _ends(self, bits: int) -> tuple[Fraction, Fraction]:
        self.widths.append(bits)
        return self.value - Fraction(1, 1 << bits), self.value + Fraction(1, 1 << bits)

    def _in_full(self) -> Fraction:
        self.times_in_full += 1
        return self.value


@pytest.mark.parametrize(
    ("distance", "widths", "times_in_full"),
    [
        (Fraction(1, 10), WIDTHS[:1], 0),
        (Fraction(1, 1 << 200), WIDTHS[:2], 0),
        (Fraction(1, 1 << 500), WIDTHS, 0),
        (Fraction(1, 1 << 600), WIDTHS, 1),
        (Fraction(0), WIDTHS, 1),
    ],
)
def test_a_number_is_worked_out_as_far_as_the_limit_is_near(
    distance: Fraction, widths: tuple[int, ...], times_in_full: int
) -> None:
    """The long sum is for the lot that lies exactly on its limit; nobody else waits for it."""
    spied, limit = Spied(Fraction(130)), Fraction(130) + distance

    assert (-1 if distance else 0) == answered(spied.number, lambda value: side_of(value, limit))
    assert (list(widths), times_in_full) == (spied.widths, spied.times_in_full)


def test_an_enclosure_about_zero_settles_nothing_made_of_it() -> None:
    """A mean's distance from its limit is squared for a quality statistic, and a square does not rise all the way."""
    spied = Spied(-Fraction(1, 1 << 200))
    squared = combined(lambda number: number**2, spied.number)

    assert -1 == answered(squared, lambda value: side_of(value, Fraction(1, 1 << 300)))
    assert list(WIDTHS[:2]) == spied.widths


def test_a_mean_exactly_on_its_limit_meets_it() -> None:
    """Limits are inclusive. 1/(60 + d) + 1/(60 + 3600/d) = 1/60 for each divisor d, so 240 divided by each is 2 on average."""
    pairs = [(60 + divisor, 60 + 3600 // divisor) for divisor in (1, 2, 3, 4, 5, 6, 8, 9, 10, 12)]
    column = turned([number for pair in pairs for number in pair], Fraction(240))
    side = LimitSide("lower", Fraction(2), "", 2, "m/kg", "the lower limit of 2 m/kg", 0)
    found = column.mean()

    assert isinstance(found, Enclosure)
    assert side == answered(found, Bounds(side, None).nearest)
    standing = answered(found, side.standing)
    assert (True, 0.0, 2.0) == (standing.is_met, standing.distance, standing.value)


def test_few_values_and_equal_ones_are_not_enclosed() -> None:
    """Their sums are short; and equal values have no spread at all, which a kind must be able to see."""
    assert Fraction(100, 3) == turned([3] * (FEW + 1), Fraction(100)).mean()
    assert Fraction(3, 8) == turned([2, 4], Fraction(1)).mean()
    assert Fraction(0) == QuotientColumn([1, 2, 3] * FEW, [2, 4, 6] * FEW, STEP).variance()


def test_values_a_hair_apart_are_told_apart_by_themselves() -> None:
    """Package means have denominators too long for a key; their order still is the exact one."""
    long = 1 << LONGEST_KEY
    column = QuotientColumn([1, long, 1, long + 1], [1, long + 1, 1, long], Fraction(1))
    below, above = Fraction(long, long + 1), Fraction(long + 1, long)

    assert (below, above) == column.extremes()
    assert [below, 1, 1, above] == [column.worst(Fraction(0), None, rank) for rank in range(4)]
    assert [1, 3] == list(column.outside(Fraction(1), Fraction(1)))


def test_the_means_of_two_large_packages_are_enclosed_too() -> None:
    """Few values can have long sums behind them: 2/(i·(i + 1)) from 1 to 50 in one package, to 1,000 in the other."""
    numbers = [number * (number + 1) for number in (*range(1, 51), *range(1, 1001))]
    column = turned(numbers, Fraction(2)).means([0] * 50 + [1] * 1000, 2)
    one, other = Fraction(2, 51), Fraction(2, 1001)

    assert isinstance(column.mean(), Enclosure)
    assert (one + other) / 2 == exactly(column.mean())
    assert (other, one) == column.extremes()
    assert (one - other) ** 2 / 2 == exactly(column.variance())


def test_ten_thousand_readings_turned_round_are_exact() -> None:
    """A day's readings at once: 2/(i·(i + 1)) from 1 to 10,000 sum to 2 − 2/10,001."""
    count = 10_000
    column = turned([number * (number + 1) for number in range(1, count + 1)], Fraction(2))
    expected = (2 - Fraction(2, count + 1)) / count

    assert nearest_double(expected) == answered(column.mean(), nearest_double)
    assert 1 == answered(column.mean(), lambda value: side_of(value, expected - Fraction(1, 10**100)))


@pytest.mark.parametrize(
    "requirement",
    [mean_within(lower=100), spread("standard_deviation", 5), spread("coefficient_of_variation", 5), variables(1, lower=100)],
)
def test_a_day_s_densities_are_judged_as_any_others(requirement: Document) -> None:
    """2000 different readings in tex, and the same turned round by hand to numerals that differ from them by less than 1e-9."""
    densities = [7000 + number * number % 1_000_003 / 1000 for number in range(2000)]
    as_sent = found(grade(requirement, of=RUNNAGE), series(*densities, of=RUNNAGE, unit="tex"))
    by_hand = found(grade(requirement, of=RUNNAGE), series(*[1e6 / density for density in densities], of=RUNNAGE))

    assert by_hand["outcome"] == as_sent["outcome"]
    assert by_hand["margin"] == pytest.approx(as_sent["margin"], rel=1e-9)
