"""In which order grades suit a lot."""

from fractions import Fraction

import msgspec
import pytest

from service.engine.documents import Evidence, Verdict
from service.engine.grading import in_order, relative_margin
from service.engine.judging import judge
from tests.support.grades import FORCE, Document, declared, each, fixed, grade, lot, mean, series, spread, variables
from tests.support.judging import compiled

GUARDED: Document = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 250, "coverage_factor": 2}}
"""A value is accepted 250 N within the limits."""
BALLS = lot(series(1400, 1500))
"""Mean 1450 N, range 100 N."""


def by(specification: Document, evidence: Document = BALLS, code: str = "TB-130") -> Verdict:
    """The verdict by the grade of this code."""
    return judge(compiled(specification), msgspec.convert(evidence, Evidence), code, 1)


def order(**grades: Document) -> list[str]:
    """The codes, the best one first."""
    return [str(each.grade) for each in in_order(by(document, code=code) for code, document in grades.items())]


@pytest.mark.parametrize(
    ("requirement", "relative"),
    [
        (mean(lower=1160), Fraction(1450 - 1160, 1160)),
        (mean(upper=1600), Fraction(1600 - 1450, 1600)),
        (mean(lower=1000, upper=1500), Fraction(1500 - 1450, 1500)),
        (mean(lower=1600), Fraction(1450 - 1600, 1600)),
        (mean(limits={"nominal": 1450, "minus": 10, "plus": 20, "tolerance": "percent"}), Fraction(145, 1305)),
        (spread("range", 125), Fraction(25, 125)),
        (each(lower=1120), Fraction(280, 1120)),
        (each(lower=1450, allowed_outside={"count": 1}, outer={"lower": 1250}), Fraction(50, 1450)),
        (each(lower=1450, allowed_outside={"count": 2}, outer={"lower": 1250}), Fraction(150, 1250)),
        (mean(lower=0), Fraction(1450)),
        (mean(limits={"above": 1160}), Fraction(290, 1160)),
        (mean(limits={"below": 1600}), Fraction(150, 1600)),
        (mean(lower=1000, decision=GUARDED), Fraction(200, 1250)),
    ],
)
def test_a_margin_is_taken_by_its_own_limit(requirement: Document, relative: Fraction) -> None:
    """Of 1400 and 1500 N: 290 N above 1160 N is a quarter; a limit of 0 counts as 1."""
    [finding] = by(grade(requirement)).findings

    assert relative == relative_margin(finding)


def test_a_quality_statistic_is_taken_by_k() -> None:
    """Mean 1450, s = 50·√2 = 70.7107, L 1308.5786: Q is 2 to seven figures, a third above k = 1.5."""
    [finding] = by(grade(variables(1.5, lower=1308.5786))).findings
    relative = relative_margin(finding)

    assert relative is not None
    assert abs(relative - Fraction(1, 3)) < Fraction(1, 10**6)


def test_an_average_content_is_taken_by_its_nominal() -> None:
    """Balls of 9 kg with 9.1 kg on average: 100 g are a ninetieth of what is declared, whatever one of them may lack."""
    mass: Document = {"name": "net_mass", "unit": "kg"}
    own = {"sample": fixed(2), "tolerable": {"percent": 1.5}, "at_most_beyond": 0}
    content = {"kind": "net_content", "nominal": 9, "rule": "own", "own": own}
    [finding] = by(grade(content, of=mass), lot(series(9.1, 9.1, of=mass))).findings

    assert Fraction(1, 90) == relative_margin(finding)


@pytest.mark.parametrize("requirement", [mean(lower=1400, sample=fixed(3)), each(lower=9, allowed_outside={"count": 2})])
def test_without_a_margin_there_is_no_relative_one(requirement: Document) -> None:
    """Neither for what is undecided, nor where nothing can fail."""
    [finding] = by(grade(requirement)).findings

    assert relative_margin(finding) is None


def test_passes_come_before_what_is_undecided_and_failures_come_last() -> None:
    """The first one is what the lot can be sold as."""
    open_one = grade(mean(lower=1000, sample=fixed(3)))

    assert ["passing", "open", "failing"] == order(
        failing=grade(mean(lower=1451)), open=open_one, passing=grade(mean(lower=1450))
    )


def test_of_passes_the_one_with_most_to_spare_comes_first() -> None:
    """And of failures that which fails by least."""
    assert ["light", "medium", "heavy", "near", "far"] == order(
        far=grade(mean(lower=1900)),
        near=grade(mean(lower=1500)),
        heavy=grade(mean(lower=1450)),
        light=grade(mean(lower=900)),
        medium=grade(mean(lower=1200)),
    )


def test_a_margin_counts_by_its_limit_and_not_by_its_unit() -> None:
    """60 N of 100 N are more than 145 N of 1305 N."""
    assert ["range", "mean"] == order(mean=grade(mean(lower=1305)), range=grade(spread("range", 250)))


def test_the_least_margin_of_a_grade_counts() -> None:
    """A grade is as near to failing as its narrowest requirement."""
    both = grade(mean(lower=900), mean(upper=1500))
    [grading] = in_order([by(both)])

    assert ["wide", "both"] == order(both=both, wide=grade(mean(lower=1300)))
    assert grading.least_margin
    assert ("r1", 50 / 1500) == (grading.least_margin.requirement, grading.least_margin.relative)


def test_what_binds_nothing_moves_no_grade() -> None:
    """It is reported and no more."""
    [grading] = in_order([by(grade(mean(lower=1000), mean(lower=1600, binding=False)))])

    assert grading.least_margin
    assert ("r0", 0.45) == (grading.least_margin.requirement, grading.least_margin.relative)


def test_of_the_undecided_the_one_that_lacks_fewest_readings_comes_first() -> None:
    """It is the one that is decided soonest; two requirements on one characteristic want the same readings."""
    lacking_2 = grade(mean(lower=1000, sample=fixed(4)), each(lower=1000, sample=fixed(4)))

    assert ["two", "three"] == order(three=grade(mean(lower=500, sample=fixed(5))), two=lacking_2)


def test_grades_without_a_margin_come_last_of_their_outcome_in_the_order_of_their_codes() -> None:
    """A declaration is right or wrong, by no amount."""
    strands: Document = {"name": "strands"}
    plain = grade({**declared(3), "of": "strands"}, of=[FORCE, strands])
    evidence = {**BALLS, "declared": [{"characteristic": "strands", "value": 3}]}
    measured = grade(mean(lower=1450), of=[FORCE, strands])
    verdicts = [by(plain, evidence, code) for code in ("C", "A")] + [by(measured, evidence, "B")]
    gradings = in_order(verdicts)

    assert ["B", "A", "C"] == [grading.grade for grading in gradings]
    assert msgspec.UNSET is gradings[1].least_margin


def test_equal_grades_stand_in_the_order_of_their_codes() -> None:
    """Asked twice, whatever the order of the question, it is the same answer."""
    same = grade(mean(lower=1000))

    assert ["TB-1", "TB-2"] == [grading.grade for grading in in_order([by(same, code="TB-2"), by(same, code="TB-1")])]
