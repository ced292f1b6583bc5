"""Numbers made of very many different quotients: cut where that decides, worked out in full where it does not."""

from collections.abc import Callable
from fractions import Fraction

import pytest

from service.engine.columns import Column, column_of, settled
from service.engine.columns.quotients import MANY
from service.engine.numerals import is_below, nearest_double, root_of, to_step
from tests.support.grades import RUNNAGE, Document, grade, mean, series, spread, variables
from tests.support.judging import found

Formula = Callable[[Column], Fraction]
FORMULAS: list[Formula] = [
    lambda values: values.mean(),
    lambda values: values.variance(),
    lambda values: values.variance() / values.mean() ** 2,
    lambda values: (values.mean() - 1) ** 2 / values.variance(),
]


def turned(values: list[float], factor: Fraction = Fraction(1)) -> Column:
    """The factor divided by each."""
    return column_of(values, None, factor, turned_round=True)


def uneven(count: int) -> list[float]:
    """So many different densities about 7700 tex."""
    return [7000 + number * number % 1_000_003 / 1000 for number in range(count)]


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize("count", [MANY + 1, 1500])
def test_a_cut_number_is_reported_as_the_full_one(formula: Formula, count: int) -> None:
    """To the last digit of its double and of its root's, and at every step of rounding."""
    column = turned(uneven(count), Fraction(10**6))
    cut, full = settled(formula, column), formula(column.in_full())

    assert cut != full
    assert (nearest_double(full), nearest_double(root_of(full))) == (nearest_double(cut), nearest_double(root_of(cut)))
    for decimals in range(60):
        step = Fraction(1, 10**decimals)
        assert to_step(full, step, "even") == to_step(cut, step, "even")
        assert to_step(root_of(full), step, "even") == to_step(root_of(cut), step, "even")


def test_a_mean_on_its_limit_is_worked_out_in_full() -> None:
    """1/(1·2) + 1/(2·3) + … + 1/(999·1000) = 999/1000: the mean is a thousandth, and a cut one would lie below it."""
    column = turned([number * (number + 1) for number in range(1, 1000)])

    assert column.mean() < Fraction(1, 1000)
    assert Fraction(1, 1000) == settled(lambda values: values.mean(), column)


def test_the_mean_of_a_large_package_is_worked_out_in_full() -> None:
    """The same thousandth, as the mean of one package: each value that is compared by itself is exact."""
    column = turned([number * (number + 1) for number in range(1, 1000)])

    assert [Fraction(1, 1000)] == list(column.means([0] * 999, 1).exact_values())


def test_a_root_on_its_limit_is_worked_out_in_full() -> None:
    """A quarter of the variance divided by the variance has the root 1/2, whatever the variance is."""
    column = turned(uneven(MANY + 1))
    quarter = settled(lambda values: values.variance() / 4 / turned(uneven(MANY + 1)).in_full().variance(), column)

    assert Fraction(1, 2) == root_of(quarter)
    assert not is_below(root_of(quarter), Fraction(1, 2))


def test_few_quotients_are_added_up_in_full() -> None:
    """Nothing is cut where it costs nothing not to."""
    column = turned(uneven(MANY))

    assert column is column.in_full()
    assert Fraction(sum(Fraction(1000, round(value * 1000)) for value in uneven(MANY)), MANY) == column.mean()


def test_negative_quotients_are_added_up_in_full() -> None:
    """Their mean could be 0, and nothing divides by that."""
    column = turned([number - 500.5 for number in range(1001)])

    assert column is column.in_full()


REQUIREMENTS = [
    mean(lower=100),
    spread("standard_deviation", 5),
    spread("coefficient_of_variation", 5),
    variables(1, lower=100),
]


@pytest.mark.parametrize("requirement", REQUIREMENTS)
def test_a_day_s_densities_are_judged_as_any_others(requirement: Document) -> None:
    """2000 different readings in tex, and the same turned round by hand to numerals that differ from them by less than 1e-9."""
    densities = uneven(2000)
    as_sent = found(grade(requirement, of=RUNNAGE), series(*densities, of=RUNNAGE, unit="tex"))
    by_hand = found(grade(requirement, of=RUNNAGE), series(*[1e6 / density for density in densities], of=RUNNAGE))

    assert by_hand["outcome"] == as_sent["outcome"]
    assert by_hand["margin"] == pytest.approx(as_sent["margin"], rel=1e-9)
