"""The smallest plan for two points."""

from fractions import Fraction
from math import ceil, sqrt

import pytest
from scipy import stats

from service.engine.numbers import nearest_whole
from service.engine.risks.two_point import ByAttributes, ByVariables, RiskPoint, by_attributes, by_variables

PAIRS = [
    ("1", "5", "6.5", "10"),
    ("2.5", "5", "10", "10"),
    ("0.5", "1", "8", "5"),
    ("4", "10", "9", "10"),
    ("5", "5", "60", "10"),
    ("10", "20", "25", "1"),
]
"""Producer's percent and risk, consumer's percent and risk."""


def point(percent: str, risk: str) -> RiskPoint:
    """As a grade writes it, in percent."""
    return RiskPoint(Fraction(percent) / 100, Fraction(risk) / 100)


def acceptance(count: int, packages: int, share: Fraction, lot: int | None) -> float:
    """By scipy's laws."""
    if lot is None:
        return float(stats.binom.cdf(count, packages, float(share)))
    held = nearest_whole((share * lot).numerator, (share * lot).denominator, "away")
    return float(stats.hypergeom.cdf(count, lot, held, packages))


def smallest(producer: RiskPoint, consumer: RiskPoint, lot: int | None) -> tuple[int, int]:
    """Every n and every Ac in turn."""
    return next(
        (packages, count)
        for packages in range(1, 1 + (lot or 1000))
        for count in range(packages)
        if acceptance(count, packages, consumer.share, lot) <= consumer.risk
        and acceptance(count, packages, producer.share, lot) >= 1 - producer.risk
    )


@pytest.mark.parametrize(("good", "risk", "bad", "other"), PAIRS)
@pytest.mark.parametrize("lot", [None, 60, 500])
def test_no_smaller_plan_by_attributes_meets_both_points(good: str, risk: str, bad: str, other: str, lot: int | None) -> None:
    """Found beside by trying every n and every Ac with scipy's binom and hypergeom."""
    producer, consumer = point(good, risk), point(bad, other)

    assert smallest(producer, consumer, lot) == by_attributes(producer, consumer, lot)


def test_a_risk_that_is_met_exactly_is_met() -> None:
    """One package: 1 − 0.05 accepts the producer's 5 %, and 1 − 0.9 the consumer's 90 %; a hair less asks for more."""
    assert ByAttributes(1, 0) == by_attributes(point("5", "5"), point("90", "10"))
    assert ByAttributes(1, 0) != by_attributes(point("5", "4.999999999999"), point("90", "10"))
    assert ByAttributes(1, 0) != by_attributes(point("5", "5"), point("90", "9.999999999999"))


def test_a_risk_of_a_lot_that_is_met_exactly_is_met() -> None:
    """Lot of 4, of which 1 or 3 are nonconforming, one drawn: 3 in 4 are accepted and 1 in 4."""
    assert ByAttributes(1, 0) == by_attributes(point("25", "25"), point("75", "25"), 4)
    assert ByAttributes(1, 0) != by_attributes(point("25", "24.9999999999"), point("75", "25"), 4)


def test_a_lot_looked_at_whole_meets_any_risk() -> None:
    """10 packages, 1 nonconforming or 2: only all ten tell the two apart for certain, nearly."""
    assert ByAttributes(10, 1) == by_attributes(point("10", "0.1"), point("20", "0.1"), 10)


def test_points_that_round_to_the_same_lot_have_no_plan() -> None:
    """1 % and 4 % of 10 packages are none; no sample tells them apart. 5 % are half a package, which goes up to 1."""
    assert by_attributes(point("1", "5"), point("4", "10"), 10) is None
    assert by_attributes(point("1", "5"), point("5", "10"), 10) is not None


def test_points_too_near_each_other_have_no_plan() -> None:
    """It would take more than 100,000 packages, and more than 100,000 readings where a thousandth of a percent is between."""
    assert by_attributes(point("1", "5"), point("1.01", "10")) is None
    assert by_variables(point("1", "5"), point("1.01", "10")) is None


def test_large_plans_are_found_too() -> None:
    """Tens of thousands of packages: both points are met, and with one package less no Ac meets both (scipy.stats.binom)."""
    producer, consumer = point("1", "5"), point("1.2", "10")
    plan = by_attributes(producer, consumer)

    assert plan is not None
    assert acceptance(plan.accept, plan.packages, consumer.share, None) <= 0.1
    assert acceptance(plan.accept, plan.packages, producer.share, None) >= 0.95
    assert acceptance(plan.accept, plan.packages - 1, consumer.share, None) > 0.1
    assert acceptance(plan.accept - 1, plan.packages - 1, producer.share, None) < 0.95


def bounds(packages: int, producer: RiskPoint, consumer: RiskPoint) -> tuple[float, float]:
    """Between what k must lie, by scipy.stats.nct: the consumer's bound and the producer's."""
    root, degrees = sqrt(packages), packages - 1
    good, bad = float(stats.norm.isf(float(producer.share))), float(stats.norm.isf(float(consumer.share)))
    lower = float(stats.nct.ppf(float(1 - consumer.risk), degrees, bad * root)) / root
    return lower, float(stats.nct.ppf(float(producer.risk), degrees, good * root)) / root


@pytest.mark.parametrize(("good", "risk", "bad", "other"), PAIRS)
def test_no_smaller_plan_by_variables_meets_both_points(good: str, risk: str, bad: str, other: str) -> None:
    """Found beside by trying every n with scipy.stats.nct, and taking the smallest k of four decimals for the consumer."""
    producer, consumer = point(good, risk), point(bad, other)
    for packages in range(2, 1000):
        lower, upper = bounds(packages, producer, consumer)
        steps = ceil(lower * 10_000)
        if steps <= upper * 10_000:
            break

    assert ByVariables(packages, Fraction(steps, 10_000)) == by_variables(producer, consumer)


def test_where_no_numeral_lies_between_the_bounds_one_more_reading_is_taken() -> None:
    """Bounds that have just crossed may be nearer than 0.0001 to each other in large samples; k still has four decimals."""
    producer, consumer = point("1", "5"), point("1.2", "10")
    plan = by_variables(producer, consumer)
    assert plan is not None
    lower, upper = bounds(plan.packages, producer, consumer)

    assert lower <= plan.k <= upper
    assert lower > plan.k - Fraction(1, 10_000)
    before, after = bounds(plan.packages - 1, producer, consumer)
    assert ceil(before * 10_000) > after * 10_000
