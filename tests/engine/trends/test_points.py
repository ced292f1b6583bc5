"""From the evidence of a lot to its point in a trend."""

import json
from fractions import Fraction
from math import sqrt

import msgspec
import pytest

from service.engine.documents import Evidence
from service.engine.trends import LeftOut, Point, lacking, limits_on, point_of, trend_of
from service.engine.trends.capability import Limits
from service.engine.trends.documents import LotPoint
from tests.support.grades import (
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    POOLED_EFFICIENCY,
    RUNNAGE,
    Document,
    each,
    grade,
    lot,
    mean,
    series,
    variables,
)
from tests.support.judging import compiled
from tests.support.trends import point as made_point

AT = "2026-11-26T06:00:00Z"


def point(specification: Document, evidence: Document, name: str) -> Point | LeftOut:
    """The point of this evidence in the trend of a characteristic."""
    held = compiled(specification)
    told = msgspec.json.decode(json.dumps(evidence), type=Evidence)
    return point_of(held, held.characteristics[name], told, AT)


def strong(*columns: Document, of: Document = FORCE) -> Point | LeftOut:
    """The point of forces under a grade that asks for 1400 N in the mean."""
    return point(grade(mean(lower=1400), of=of), lot(*columns), "breaking_force")


def told_why(found: Point | LeftOut) -> str:
    """The code for which a lot has no point."""
    assert isinstance(found, LeftOut)
    return found.code


def test_a_point_is_in_the_unit_of_the_grade() -> None:
    """Readings of 1 and 3 kgf are 9.80665 and 29.41995 N: mean 19.6133, standard deviation √2 · 9.80665."""
    found = strong(series(1, 3, unit="kgf"))

    assert isinstance(found, Point)
    assert (2, 19.6133, Fraction("19.6133")) == (found.document.readings, found.document.mean, found.mean)
    assert pytest.approx(sqrt(2) * 9.80665, rel=1e-15) == found.document.standard_deviation


def test_one_reading_has_no_spread() -> None:
    """Nothing is known of how it would differ from another."""
    assert Point(LotPoint(lot="L-1", at=AT, readings=1, mean=1500), Fraction(1500), None) == strong(series(1500))


def test_struck_readings_and_those_left_out_enter_no_trend() -> None:
    """They enter no verdict either: 1400 and 1600 are left of five."""
    column = {**series(1400, 1600, 9, 9, 9), "remarks": ["", "confirmed", "struck", "slipped", "slipped"]}
    found = strong(column, of={**FORCE, "remarks": {"leave_out": ["slipped"]}})

    assert isinstance(found, Point)
    assert (2, 1500) == (found.document.readings, found.document.mean)


def test_a_second_sample_enters_no_trend() -> None:
    """It is drawn from doubtful lots alone, and would count these more than others."""
    found = strong(series(1400, 1600), {**series(900, 900), "stage": 2})

    assert isinstance(found, Point)
    assert (2, 1500) == (found.document.readings, found.document.mean)


@pytest.mark.parametrize(
    ("column", "of", "code"),
    [
        ({**series(1400), "remarks": ["slipped"]}, FORCE, "remark-without-rule"),
        (series(1400), {**FORCE, "method": "ISO 2307"}, "other-method"),
        (series(140_000), {**FORCE, "plausible": {"upper": 9000}}, "implausible"),
        ({**series(1400), "remarks": ["struck"]}, FORCE, "not-measured"),
        (series(128, of=RUNNAGE), [FORCE, RUNNAGE], "not-measured"),
    ],
)
def test_a_lot_without_readings_that_count_is_left_out_and_says_why(column: Document, of: Document, code: str) -> None:
    """What no verdict would rest on moves no control limit; and nobody wonders where the lot is."""
    assert code == told_why(strong(column, of=of))


def test_a_lot_in_a_unit_that_the_revision_does_not_take_is_left_out() -> None:
    """The revision asked for may be another one than the lot was judged by."""
    assert "unknown-unit" == told_why(strong({**series(1400), "unit": "furlong"}))


def test_what_is_derived_has_a_trend_too() -> None:
    """Knots hold 600 of 1000 and 700 of 1000 N: 60 and 70 %, mean 65; the means, pooled, give one value of the lot."""
    columns = series(1000, 1000), series(600, 700, of=KNOT_FORCE)
    found = [
        point(grade(mean(lower=55, of=each["name"]), of=[FORCE, KNOT_FORCE, each]), lot(*columns), each["name"])
        for each in (EFFICIENCY, POOLED_EFFICIENCY)
    ]

    assert isinstance(found[0], Point)
    assert (2, 65) == (found[0].document.readings, found[0].document.mean)
    assert pytest.approx(sqrt(50), rel=1e-15) == found[0].document.standard_deviation
    assert Point(LotPoint(lot="L-1", at=AT, readings=1, mean=65), Fraction(65), None) == found[1]


def test_a_derived_value_of_readings_in_doubt_is_in_doubt() -> None:
    """A mistyped force makes an efficiency that nobody should chart."""
    of = [{**FORCE, "plausible": {"upper": 9000}}, KNOT_FORCE, EFFICIENCY]
    evidence = lot(series(100_000), series(600, of=KNOT_FORCE))

    assert "implausible" == told_why(point(grade(mean(lower=55, of="knot_efficiency"), of=of), evidence, "knot_efficiency"))


def test_the_limits_are_those_that_bind_single_readings() -> None:
    """The narrower of two holds; a limit on means, on packages, or one that binds nothing is none of a reading's."""
    specification = grade(
        each(lower=1000, upper=2000),
        variables(1.5, lower=1100),
        mean(lower=1400),
        each(lower=1500, over="packages"),
        each(lower=1600, binding=False),
    )
    held = compiled(specification)

    assert Limits(Fraction(1100), Fraction(2000)) == limits_on(held, held.characteristics["breaking_force"])
    held = compiled(grade(mean(lower=1400)))
    assert Limits() == limits_on(held, held.characteristics["breaking_force"])


@pytest.mark.parametrize(
    ("points", "lower", "codes"),
    [
        ([], None, ["no-lots"]),
        ([(1, 5, None)], None, ["one-lot", "no-spread-within", "no-limits"]),
        ([(2, 5, 1), (2, 6, 1)], None, ["no-limits"]),
        ([(2, 5, 0), (2, 5, 0)], 1, ["no-spread"]),
        ([(2, 5, 0), (2, 6, 0)], 1, ["no-spread"]),
        ([(2, 5, 1), (2, 6, 1)], 1, []),
    ],
)
def test_what_a_trend_cannot_say_is_told(
    points: list[tuple[int, int, int | None]], lower: int | None, codes: list[str]
) -> None:
    """A figure that is just not there would be looked for."""
    lots = [
        made_point(f"L-{number}", Fraction(mean), readings, None if variance is None else Fraction(variance))
        for number, (readings, mean, variance) in enumerate(points)
    ]
    limits = Limits(None if lower is None else Fraction(lower))

    assert codes == [each.code for each in lacking(trend_of("breaking_force", "N", lots, limits))]


def test_the_mean_of_many_readings_turned_round_goes_on_finer_than_any_double() -> None:
    """Forty densities of 7.001 to 7.040 kg/km against a grade in m/kg: within 2⁻⁴⁰⁰ of the exact mean, in few bits."""
    densities = [Fraction(7000 + number, 1000) for number in range(1, 41)]
    column = series(*(float(each) for each in densities), of=RUNNAGE, unit="g/m")
    found = point(grade(mean(lower=1, of="runnage"), of=[FORCE, RUNNAGE]), lot(column), "runnage")
    exact_mean = sum((1000 / each for each in densities), Fraction(0)) / 40

    assert isinstance(found, Point)
    assert abs(found.mean - exact_mean) < Fraction(1, 2**400)
    assert float(exact_mean) == found.document.mean
    assert found.mean.denominator.bit_length() < 1000
