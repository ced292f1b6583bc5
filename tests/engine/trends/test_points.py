"""From the evidence of a lot to its point in a trend."""

import json
from math import sqrt

import msgspec
import pytest
from msgspec import UNSET

from service.engine.evidence import Evidence
from service.engine.trends import Bound, LeftOut, LotPoint, lacking, limits_on, point_of, trend_of
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

AT = "2026-11-26T06:00:00Z"


def point(specification: Document, evidence: Document, name: str) -> LotPoint | LeftOut:
    """The point of this evidence in the trend of a characteristic."""
    held = compiled(specification)
    told = msgspec.json.decode(json.dumps(evidence), type=Evidence)
    return point_of(held, held.characteristics[name], told, AT)


def strong(*columns: Document, of: Document = FORCE) -> LotPoint | LeftOut:
    """The point of forces under a grade that asks for 1400 N in the mean."""
    return point(grade(mean(lower=1400), of=of), lot(*columns), "breaking_force")


def told_why(found: LotPoint | LeftOut) -> str:
    """The code for which a lot has no point."""
    assert isinstance(found, LeftOut)
    return found.code


def test_a_point_is_in_the_unit_of_the_grade() -> None:
    """Readings of 1 and 3 kgf are 9.80665 and 29.41995 N: mean 19.6133, standard deviation √2 · 9.80665."""
    found = strong(series(1, 3, unit="kgf"))

    assert isinstance(found, LotPoint)
    assert (2, 19.6133) == (found.readings, found.mean)
    assert pytest.approx(sqrt(2) * 9.80665, rel=1e-15) == found.standard_deviation


def test_one_reading_has_no_spread() -> None:
    """Nothing is known of how it would differ from another."""
    assert LotPoint(lot="L-1", at=AT, readings=1, mean=1500) == strong(series(1500))


def test_struck_readings_and_those_left_out_enter_no_trend() -> None:
    """They enter no verdict either: 1400 and 1600 are left of five."""
    column = {**series(1400, 1600, 9, 9, 9), "remarks": ["", "confirmed", "struck", "slipped", "slipped"]}
    found = strong(column, of={**FORCE, "remarks": {"leave_out": ["slipped"]}})

    assert isinstance(found, LotPoint)
    assert (2, 1500) == (found.readings, found.mean)


def test_a_second_sample_enters_no_trend() -> None:
    """It is drawn from doubtful lots alone, and would count these more than others."""
    found = strong(series(1400, 1600), {**series(900, 900), "stage": 2})

    assert isinstance(found, LotPoint)
    assert (2, 1500) == (found.readings, found.mean)


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

    assert isinstance(found[0], LotPoint)
    assert (2, 65) == (found[0].readings, found[0].mean)
    assert pytest.approx(sqrt(50), rel=1e-15) == found[0].standard_deviation
    assert LotPoint(lot="L-1", at=AT, readings=1, mean=65) == found[1]


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

    assert Bound(lower=1100, upper=2000) == limits_on(held, held.characteristics["breaking_force"])
    held = compiled(grade(mean(lower=1400)))
    assert UNSET is limits_on(held, held.characteristics["breaking_force"])


@pytest.mark.parametrize(
    ("points", "limits", "codes"),
    [
        ([], UNSET, ["no-lots"]),
        ([(1, 5, UNSET)], UNSET, ["one-lot", "no-spread-within", "no-limits"]),
        ([(2, 5, 1), (2, 6, 1)], UNSET, ["no-limits"]),
        ([(2, 5, 0), (2, 5, 0)], Bound(lower=1), ["no-spread"]),
        ([(2, 5, 0), (2, 6, 0)], Bound(lower=1), ["no-spread"]),
        ([(2, 5, 1), (2, 6, 1)], Bound(lower=1), []),
    ],
)
def test_what_a_trend_cannot_say_is_told(points: list[tuple[int, float, float]], limits: Bound, codes: list[str]) -> None:
    """A figure that is just not there would be looked for."""
    lots = [
        LotPoint(lot=f"L-{number}", at=AT, readings=readings, mean=mean, standard_deviation=deviation)
        for number, (readings, mean, deviation) in enumerate(points)
    ]

    assert codes == [each.code for each in lacking(trend_of("breaking_force", "N", lots, limits))]
