"""Shares of a lot with a least and a most, lots counted in lengths or masses, and buyers' bands; numbers worked by hand."""

from fractions import Fraction

import pytest

from service.engine.documents import Amount, Flaw
from service.engine.sampling import LotSize, NoPlan, Sample, SampleSize, size_of
from service.engine.sampling.plans import Band, Bands, Percent, SquareRoot
from tests.support.grades import FORCE, Document, each, grade, mean, series, spread
from tests.support.judging import flaws_in, flaws_of, found, judged

COIL = Amount(value=220, unit="m")
BALE = Amount(value=20, unit="lb")
BANDS = Bands(bands=[Band(up_to=100, packages=3), Band(up_to=500, packages=5), Band(packages=8)])

LOTS: list[tuple[Sample, LotSize, int]] = [
    (Percent(percent=10, at_most=20), LotSize(1000), 20),
    (Percent(percent=10, at_most=20), LotSize(150), 15),
    (Percent(percent=10, at_least=5, at_most=20), LotSize(3), 3),
    (SquareRoot(factor=1, at_most=8), LotSize(100), 8),
    (SquareRoot(factor=1, at_least=8, at_most=8), LotSize(4), 4),
    (SquareRoot(factor=0.4, counted_in=COIL), LotSize(None, length=Fraction("3093.75")), 2),
    (SquareRoot(factor=0.4, counted_in=COIL), LotSize(None, length=Fraction("3093.74")), 1),
    (SquareRoot(factor=0.4, counted_in=COIL), LotSize(3, length=Fraction(22000)), 3),
    (SquareRoot(factor=0.4, counted_in=COIL, at_least=2), LotSize(None, length=Fraction(100)), 2),
    (Percent(percent=10, counted_in=COIL), LotSize(None, length=Fraction(2200)), 1),
    (Percent(percent=10, counted_in=COIL), LotSize(None, length=Fraction("2200.1")), 2),
    (Percent(percent=10, counted_in=BALE), LotSize(None, mass=Fraction("90.718474")), 1),
    (Percent(percent=10, counted_in=BALE), LotSize(None, mass=Fraction("90.718475")), 2),
    (BANDS, LotSize(1), 1),
    (BANDS, LotSize(100), 3),
    (BANDS, LotSize(101), 5),
    (BANDS, LotSize(500), 5),
    (BANDS, LotSize(501), 8),
    (Bands(bands=[Band(packages=8)]), LotSize(10**9), 8),
]
"""10 % of 1000 are 100, and 20 at most. 3093.75 m are 14.0625 coils of 220 m: 0.4 · 3.75 is 1.5, so 2; a centimetre less is
1. 2200 m are 10 coils, of which 10 % is 1; a little more rounds up. 10 bales of 20 lb are 200 · 0.45359237 = 90.718474 kg."""


@pytest.mark.parametrize(("plan", "lot", "packages"), LOTS)
def test_a_plan_takes_as_many_as_its_rule_and_its_bounds_give(plan: Sample, lot: LotSize, packages: int) -> None:
    """A mill never pulls more than the buyer's table says, nor more than there are."""
    assert SampleSize(packages, 1) == size_of(plan, lot)


NOWHERE: list[tuple[Sample, LotSize, str, str]] = [
    (
        SquareRoot(factor=0.4, counted_in=COIL),
        LotSize(480, mass=Fraction(1)),
        "lot-size-unknown",
        ("How many readings to take depends on the length of the lot, which is not given. Give `length` in `lot`."),
    ),
    (
        Percent(percent=10, counted_in=BALE),
        LotSize(480, length=Fraction(1)),
        "lot-size-unknown",
        "How many readings to take depends on the mass of the lot, which is not given. Give `mass` in `lot`.",
    ),
    (
        BANDS,
        LotSize(None),
        "lot-size-unknown",
        "How many readings to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
    ),
    (
        Bands(bands=[Band(up_to=500, packages=5)]),
        LotSize(501),
        "lot-beyond-bands",
        "The bands of the plan end at 500 packages, and the lot has 501. Add a band without `up_to` to the grade.",
    ),
]


@pytest.mark.parametrize(("plan", "lot", "code", "text"), NOWHERE)
def test_where_nobody_can_say_how_many_the_reason_says_what_to_do(plan: Sample, lot: LotSize, code: str, text: str) -> None:
    """Two stations never guess two numbers."""
    assert NoPlan(code, text) == size_of(plan, lot)


def test_a_lot_is_counted_in_the_unit_that_it_is_told_in() -> None:
    """A rope of 10 kft is 3048 m: 13.85 coils, 0.4 · 3.72 = 1.49, so one specimen; with 11 kft, 15.24 coils, two."""
    sample = {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "m"}}
    specification = grade(each(lower=1), of={**FORCE, "sample": sample})
    columns = [series(2)]

    assert ["pass", "undecided"] == [
        judged(specification, {"lot": {"id": "L-1", "length": {"value": feet, "unit": "ft"}}, "series": columns})["outcome"]
        for feet in (10_000, 11_000)
    ]


def test_a_lot_beyond_the_bands_is_undecided() -> None:
    """However many readings are in, the grade has not said whether they are enough."""
    sample = {"plan": "bands", "bands": [{"up_to": 100, "packages": 3}]}
    specification = grade(mean(lower=1), of={**FORCE, "sample": sample})
    finding = found(specification, series(*[2] * 50), size=101)

    assert "pass" == found(specification, series(2, 2, 2), size=100)["outcome"]
    assert ("undecided", ["lot-beyond-bands"]) == (finding["outcome"], [reason["code"] for reason in finding["reasons"]])


PLANS: list[tuple[Document, Flaw]] = [
    (
        {"plan": "percent", "percent": 10, "at_least": 5, "at_most": 3},
        Flaw(
            "at-least-above-at-most",
            "The plan takes at least 5 packages and at most 3. Correct one of them.",
            "/sample/at_most",
        ),
    ),
    (
        {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "N"}},
        Flaw(
            "unit-of-other-quantity",
            "`N` is a unit of force and a lot is counted in pieces of so much length or mass. "
            "Write one of `mm`, `cm`, `m`, `km`, `in`, `ft`, `yd`, `mg`, `g`, `kg`, `t`, `oz` or `lb`.",
            "/sample/counted_in/unit",
        ),
    ),
    (
        {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "metres"}},
        Flaw(
            "unknown-unit",
            (
                "`metres` is not a known unit. Write one of `mm`, `cm`, `m`, `km`, `in`, `ft`, `yd`, `mg`, `g`, `kg`, `t`, "
                "`oz` or `lb`."
            ),
            "/sample/counted_in/unit",
        ),
    ),
    (
        {"plan": "percent", "percent": 10, "counted_in": {"value": 1e13, "unit": "m"}},
        Flaw(
            "beyond-range",
            "10000000000000.0 is out of range. Choose a unit in which it is 0, or from 1e-9 to 1e12.",
            "/sample/counted_in/value",
        ),
    ),
    (
        {"plan": "bands", "bands": [{"packages": 3}, {"up_to": 500, "packages": 5}]},
        Flaw(
            "band-without-end",
            "The band has no end, so the ones after it are never reached. Give it `up_to`, or put it last.",
            "/sample/bands/0",
        ),
    ),
    (
        {"plan": "bands", "bands": [{"up_to": 500, "packages": 3}, {"up_to": 500, "packages": 5}, {"packages": 8}]},
        Flaw(
            "bands-not-rising",
            "The band ends at 500 packages, and the one before it at 500. Put the bands in rising order.",
            "/sample/bands/1/up_to",
        ),
    ),
]


@pytest.mark.parametrize(("sample", "flaw"), PLANS)
def test_a_plan_is_told_what_does_not_fit_together(sample: Document, flaw: Flaw) -> None:
    """It is mended in the grade, before a lot waits on it."""
    of_characteristic, own = flaw.below("/characteristics/0"), flaw.below("/requirements/0")

    assert [of_characteristic] == flaws_of(grade(mean(lower=1), of={**FORCE, "sample": sample}))
    assert [own] == flaws_of(grade(mean(lower=1, sample=sample)))


@pytest.mark.parametrize(
    "sample",
    [
        {"plan": "percent", "percent": 10, "at_most": 1},
        {"plan": "bands", "bands": [{"up_to": 100, "packages": 1}, {"packages": 1}]},
    ],
)
def test_a_sample_that_never_gives_a_spread_its_two_is_a_flaw(sample: Document) -> None:
    """It would stay undecided for ever."""
    flaws = flaws_of(grade(spread("range", 5), of={**FORCE, "sample": sample}))

    assert ["sample-too-small"] == [flaw.code for flaw in flaws]
    assert [] == flaws_of(grade(spread("range", 5), of={**FORCE, "sample": {**sample, "readings_per_package": 2}}))


MASSES = "`mg`, `g`, `kg`, `t`, `oz` or `lb`"
LENGTHS = "`mm`, `cm`, `m`, `km`, `in`, `ft` or `yd`"
TOLD = [
    (
        {"length": {"value": 12.5, "unit": "kg"}},
        Flaw(
            "unit-of-other-quantity",
            f"`kg` is a unit of mass and the length of the lot is a length. Write one of {LENGTHS}.",
            "/lot/length/unit",
        ),
    ),
    (
        {"mass": {"value": 12.5, "unit": "kgs"}},
        Flaw(
            "unknown-unit",
            f"`kgs` is not a known unit. Did you mean `kg`? Write one of {MASSES}.",
            "/lot/mass/unit",
        ),
    ),
    (
        {"mass": {"value": 1e13, "unit": "kg"}},
        Flaw(
            "beyond-range",
            ("10000000000000.0 is out of range: a number is 0, or from 1e-9 to 1e12. Check the unit, or correct the number."),
            "/lot/mass/value",
        ),
    ),
]


@pytest.mark.parametrize(("members", "flaw"), TOLD)
def test_what_is_told_of_a_lot_is_looked_at_even_where_no_plan_needs_it(members: Document, flaw: Flaw) -> None:
    """A wrong unit is told at once, not in the one lot of ten that needs it."""
    assert [flaw] == flaws_in(grade(mean(lower=1)), {"lot": {"id": "L-1", **members}})
