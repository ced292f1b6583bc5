"""Exact arithmetic on numerals: what is compared, rounded, reported and shown."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.engine.numbers import (
    Exact,
    Ties,
    decimals_of,
    difference,
    exact,
    figure,
    figures_beside,
    nearest_double,
    placed,
    plain,
    reported,
    root_of,
    to_step,
)
from service.engine.numbers.numerals import Root, is_below, nearest_scaled, ratio

ROOT_OF_2 = root_of(Fraction(2))
"""1.41421356237309504880168872420969807856967…"""


@pytest.mark.parametrize(
    ("number", "fraction"),
    [
        (0.1, Fraction(1, 10)),
        (1400.0, Fraction(1400)),
        (-0.0, Fraction(0)),
        (1e-9, Fraction(1, 10**9)),
        (1e12, Fraction(10**12)),
        (0.30000000000000004, Fraction(30000000000000004, 10**17)),
        (5e-324, Fraction(5, 10**324)),
    ],
)
def test_a_number_stands_for_its_shortest_numeral(number: float, fraction: Fraction) -> None:
    """What a person wrote is judged, not the binary neighbour of it."""
    assert fraction == exact(number)


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_refused(number: float) -> None:
    """It is no reading of anything."""
    with pytest.raises((ValueError, OverflowError)):
        exact(number)


def test_a_rational_root_is_a_fraction() -> None:
    """√(9/4) is 1.5, and negative where it is meant so."""
    assert Fraction(3, 2) == root_of(Fraction(9, 4))
    assert Fraction(-3, 2) == root_of(Fraction(9, 4), -1)
    assert Fraction(0) == root_of(Fraction(0))


def test_an_irrational_root_stays_a_root() -> None:
    """√2 is no fraction, nor is √(1/2), whose numerator alone has a root."""
    assert Root(Fraction(2)) == ROOT_OF_2
    assert Root(Fraction(1, 2)) == root_of(Fraction(1, 2))


@pytest.mark.parametrize(
    ("value", "limit", "below"),
    [
        (Fraction(1), Fraction(1), False),
        (Fraction(1, 3), Fraction(334, 1000), True),
        (ROOT_OF_2, Fraction(14142135623730950, 10**16), False),
        (ROOT_OF_2, Fraction(14142135623730951, 10**16), True),
        (ROOT_OF_2, Fraction(0), False),
        (ROOT_OF_2, Fraction(-2), False),
        (root_of(Fraction(2), -1), Fraction(0), True),
        (root_of(Fraction(2), -1), Fraction(1), True),
        (root_of(Fraction(2), -1), Fraction(-1), True),
        (root_of(Fraction(2), -1), Fraction(-2), False),
    ],
)
def test_a_value_is_below_a_limit_or_not_without_rounding(value: Exact, limit: Fraction, below: bool) -> None:  # noqa: FBT001  a column of the table
    """Roots are compared by squares, with their sign."""
    assert below == is_below(value, limit)


@pytest.mark.parametrize(
    ("value", "limit", "apart"),
    [
        (Fraction(1, 3), Fraction(0), 1 / 3),
        (Fraction(1), Fraction(1), 0.0),
        (Fraction(10**30 + 1), Fraction(10**30), 1.0),
        (ROOT_OF_2, Fraction(0), 1.4142135623730951),
        (ROOT_OF_2, Fraction(14142135623730951, 10**16), -5.119831127579030192143e-17),
        (root_of(Fraction(2), -1), Fraction(1), -2.414213562373095),
        (root_of(Fraction(2, 10**40)), Fraction(0), 1.4142135623730951e-20),
        (root_of(Fraction(2 * 10**40)), Fraction(0), 1.4142135623730951e20),
    ],
)
def test_a_difference_is_the_double_nearest_to_it(value: Exact, limit: Fraction, apart: float) -> None:
    """1.4142135623730951 − √2 = 0.00000000000000005119831127579030192143… by the digits of √2; floats would give 0."""
    assert apart == difference(value, limit)


def test_the_nearest_double_of_a_root_is_rounded_once() -> None:
    """√2 is 1.41421356237309505 and −√3 is −1.7320508075688772935, to a few digits more."""
    assert 1.4142135623730951 == nearest_double(ROOT_OF_2)
    assert -1.7320508075688772 == nearest_double(root_of(Fraction(3), -1))


@pytest.mark.parametrize(
    ("value", "step", "ties", "rounded"),
    [
        ("36.5", "1", "even", "36"),
        ("36.5", "1", "away", "37"),
        ("37.5", "1", "even", "38"),
        ("-36.5", "1", "even", "-36"),
        ("-36.5", "1", "away", "-37"),
        ("-0.4", "1", "away", "0"),
        ("36.49", "1", "away", "36"),
        ("36.51", "1", "even", "37"),
        ("0.15", "0.1", "even", "0.2"),
        ("0.25", "0.1", "even", "0.2"),
        ("0.25", "0.1", "away", "0.3"),
        ("1252.5", "5", "even", "1250"),
        ("1252.5", "5", "away", "1255"),
        ("0.7", "0.5", "even", "0.5"),
        ("0.75", "0.5", "even", "1"),
    ],
)
def test_a_value_is_rounded_to_a_multiple_of_the_step(value: str, step: str, ties: Ties, rounded: str) -> None:
    """A tie goes to the even multiple or away from zero: 1252.5 lies between 250 × 5 and 251 × 5."""
    assert Fraction(rounded) == to_step(Fraction(value), Fraction(step), ties)


@pytest.mark.parametrize(("sign", "rounded"), [(1, Fraction(14, 10)), (-1, Fraction(-14, 10))])
def test_a_root_is_rounded_to_the_multiple_it_is_nearest_to(sign: int, rounded: Fraction) -> None:
    """±√2 to a step of 0.1; it is never half-way."""
    assert rounded == to_step(root_of(Fraction(2), sign), Fraction(1, 10), "even")


@pytest.mark.parametrize(
    ("number", "decimals", "text"), [("123.5", 1, "123.5"), ("1400", 0, "1400"), ("0.001", 3, "0.001"), ("-2.50", 1, "-2.5")]
)
def test_a_limit_is_shown_with_all_its_decimals(number: str, decimals: int, text: str) -> None:
    """And with no more."""
    assert (decimals, text) == (decimals_of(Fraction(number)), plain(Fraction(number)))


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (Fraction(2, 3), 3, "0.667"),
        (Fraction(-2, 3), 1, "-0.7"),
        (Fraction(1, 1000), 1, "0"),
        (Fraction(10**15), 0, "1000000000000000"),
        (ROOT_OF_2, 5, "1.41421"),
        (root_of(Fraction(3), -1), 2, "-1.73"),
    ],
)
def test_a_figure_has_as_many_decimals_as_asked_and_no_exponent(value: Exact, decimals: int, text: str) -> None:
    """People read it."""
    assert text == figure(value, decimals)


def test_a_figure_that_comes_to_zero_has_no_sign() -> None:
    """Nobody reads -0.0 as a figure."""
    assert "0" == figure(Fraction(-1, 1000), 1)


@pytest.mark.parametrize(
    ("value", "limit", "side", "figures"),
    [
        (Fraction("1392.44"), "1400", -1, ("1392.4", "7.6")),
        (Fraction("1399.97"), "1400", -1, ("1399.97", "0.03")),
        (Fraction("1400.03"), "1400", 1, ("1400.03", "0.03")),
        (Fraction(1400), "1400", 0, ("1400", "0")),
        (Fraction("123.49"), "123.5", -1, ("123.49", "0.01")),
        (Fraction(2, 3), "0.7", -1, ("0.67", "0.03")),
        (ROOT_OF_2, "1.4", 1, ("1.41", "0.01")),
        (ROOT_OF_2, "1.4142136", -1, ("1.41421356", "0.00000004")),
        (Fraction("-4.96"), "-5", 1, ("-4.96", "0.04")),
        (Fraction("-0.02"), "0", -1, ("-0.02", "0.02")),
    ],
)
def test_figures_beside_a_limit_stand_on_their_true_side(value: Exact, limit: str, side: int, figures: tuple[str, str]) -> None:
    """One decimal more than the limit, and more until they do."""
    assert figures == figures_beside(value, Fraction(limit), decimals_of(Fraction(limit)), side)


def test_whole_numbers_are_reported_whole() -> None:
    """A grade that says 1400 reads 1400 in its verdict, not 1400.0."""
    assert (1400, "int") == (reported(Fraction(1400)), type(reported(Fraction(1400))).__name__)
    assert (123.5, "float") == (reported(Fraction("123.5")), type(reported(Fraction("123.5"))).__name__)


@given(st.integers(-(10**20), 10**20), st.integers(1, 10**20))
def test_a_ratio_is_the_fraction_that_the_library_makes(numerator: int, denominator: int) -> None:
    """It is put together from the library's own parts, and must be no other number in any use."""
    made, known = ratio(numerator, denominator), Fraction(numerator, denominator)

    assert (known, hash(known), repr(known)) == (made, hash(made), repr(made))
    assert known + 1 == made + 1
    assert known.as_integer_ratio() == made.as_integer_ratio()


@pytest.mark.parametrize("limit", [Fraction(120), Fraction(1, 3), Fraction(-5), Fraction(14142, 10000)])
@pytest.mark.parametrize(
    "value", [Fraction(7, 3), root_of(Fraction(2)), root_of(Fraction(2), -1), root_of(Fraction(10**30 + 1))]
)
def test_one_root_gives_the_value_its_distance_and_its_figure(value: Exact, limit: Fraction) -> None:
    """What is worked out by a root each is what one root gives, with few decimals and with many."""
    for scale in (1, 10, 10**40):
        expected = nearest_double(value), difference(value, limit), nearest_scaled(value, scale)
        assert expected == placed(value, limit, scale)
