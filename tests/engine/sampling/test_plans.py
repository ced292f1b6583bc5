"""How many packages a plan asks for, by the size of the lot; numbers worked by hand."""

import pytest

from service.engine.sampling import Fixed, LotSize, NoPlan, Sample, SampleSize, size_of
from service.engine.sampling.plans import Every, Percent, SquareRoot
from tests.support.grades import EFFICIENCY, FORCE, KNOT_FORCE, Document, each, fixed, grade, mean, sampled, series
from tests.support.judging import found

PLANS = [
    (Fixed(packages=5), 3, 5),
    (Percent(percent=10), 81, 9),
    (Percent(percent=10), 80, 8),
    (Percent(percent=2.5), 81, 3),
    (Percent(percent=0.7), 1000, 7),
    (Percent(percent=1), 10, 1),
    (Percent(percent=1, at_least=5), 10, 5),
    (Percent(percent=1, at_least=5), 3, 3),
    (Percent(percent=100), 3, 3),
    (SquareRoot(factor=1), 2, 1),
    (SquareRoot(factor=1), 3, 2),
    (SquareRoot(factor=1), 6, 2),
    (SquareRoot(factor=1), 7, 3),
    (SquareRoot(factor=0.5), 9, 2),
    (SquareRoot(factor=0.5), 1, 1),
    (SquareRoot(factor=0.4), 1, 1),
    (SquareRoot(factor=0.4), 100, 4),
    (SquareRoot(factor=0.4), 480, 9),
    (SquareRoot(factor=3), 4, 4),
    (SquareRoot(factor=0.4, at_least=5), 100, 5),
    (SquareRoot(factor=0.4, at_least=5), 3, 3),
    (Every(), 480, 480),
]
"""Percent rounds up: 8.1 → 9, 2.025 → 3; 0.7 % of 1000 is 7 exactly. Roots to the nearest whole, half up: √2 = 1.41 → 1,
√3 = 1.73 → 2, √6 = 2.45 → 2, √7 = 2.65 → 3, 0.5·√9 = 1.5 → 2, 0.4·√100 = 4, 0.4·√480 = 8.76 → 9. At most the lot."""


@pytest.mark.parametrize(("plan", "lot_size", "packages"), PLANS)
def test_a_plan_asks_for_as_many_packages_as_its_rule_gives(plan: Sample, lot_size: int, packages: int) -> None:
    """Two stations that draw from one lot draw the same number."""
    assert SampleSize(packages, 1) == size_of(plan, LotSize(lot_size))


@pytest.mark.parametrize("plan", [Percent(percent=10), SquareRoot(factor=1), Every()])
def test_a_plan_that_goes_by_the_size_needs_to_know_it(plan: Sample) -> None:
    """A share of nobody knows how many is no number."""
    found = size_of(plan, LotSize(None))

    assert isinstance(found, NoPlan)
    assert "lot-size-unknown" == found.code


def test_a_fixed_plan_needs_no_size() -> None:
    """Five are five."""
    assert SampleSize(5, 2) == size_of(Fixed(packages=5, readings_per_package=2), LotSize(None))


BY_SIZE = [
    ({"plan": "percent", "percent": 10}, 30, 3),
    ({"plan": "percent", "percent": 10, "at_least": 5}, 4, 4),
    ({"plan": "square_root", "factor": 1}, 12, 3),
    ({"plan": "every"}, 6, 6),
]


@pytest.mark.parametrize(("sample", "size", "wanted"), BY_SIZE)
def test_a_sample_by_the_size_of_the_lot_is_complete_with_so_many(sample: Document, size: int, wanted: int) -> None:
    """10 % of 30 are 3, of 4 with at least 5 all 4; √12 = 3.46 → 3; every one of 6."""
    specification = grade(each(lower=1), of={**FORCE, "sample": sample})

    assert "pass" == found(specification, series(*[2] * wanted), size=size)["outcome"]
    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == (
        found(specification, series(*[2] * (wanted - 1)), size=size)["missing"]
    )


def test_a_lot_of_unknown_size_is_undecided_where_the_sample_goes_by_it() -> None:
    """However many readings are in, nobody knows whether they are enough."""
    finding = found(grade(mean(lower=1), of={**FORCE, "sample": {"plan": "every"}}), series(*[2] * 50))

    assert "undecided" == finding["outcome"]
    assert "missing" not in finding
    assert [
        {
            "code": "lot-size-unknown",
            "text": "How many readings to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
            "with": {},
            "rule": "/characteristics/0/sample",
            "at": ["/series/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]


def test_the_side_whose_size_is_not_known_is_pointed_to() -> None:
    """The straight specimens are a fixed five; the knots go by the lot."""
    every = {**KNOT_FORCE, "sample": {"plan": "every"}}
    specification = grade(each(lower=1), of=[EFFICIENCY, sampled(FORCE, 1), every])
    finding = found(specification, series(1000), series(600, of=KNOT_FORCE))

    assert ("lot-size-unknown", "/characteristics/2/sample") == (
        finding["reasons"][0]["code"],
        finding["reasons"][0]["rule"],
    )


def test_a_requirement_s_own_sample_holds_for_both_sides_of_a_ratio() -> None:
    """Two pairs are asked for where the clause says two."""
    specification = grade(each(lower=1, sample=fixed(2)), of=[EFFICIENCY, sampled(FORCE, 9), KNOT_FORCE])
    pairs = (series(1000, 1000), series(600, 600, of=KNOT_FORCE))

    assert "pass" == found(specification, *pairs)["outcome"]
