"""The plan `two_point`: what it comes to for lots of each size, and what a grade may not ask of it."""

import json
import subprocess
import sys
from fractions import Fraction
from typing import Any

import pytest
from msgspec import convert

from service.engine.sampling import (
    AttributesPlan,
    LotSize,
    NoPlan,
    Sample,
    Stage,
    TwoPoint,
    VariablesPlan,
    counting_flaws,
    plan_place_flaws,
    sample_flaws,
    size_of,
)
from tests.support.counted import attributes, count, finding_on, look_grade
from tests.support.grades import Document, grade, series, variables
from tests.support.judging import flaws_of, found

POINTS: Document = {
    "plan": "two_point",
    "producer": {"percent": 1, "risk": 5},
    "consumer": {"percent": 6.5, "risk": 10},
}
"""By attributes 81 packages and 2: Pa is 0.9520 at 1 % and 0.0963 at 6.5 %, while 80 and 2 accept 6.5 % with 0.1009, and 59
and 1, the fewest with Ac 1 for the consumer, accept 1 % with 0.882 only (scipy.stats.binom). By variables 37 readings and
k 1.8779 (scipy.stats.nct)."""


def sample(**members: Any) -> TwoPoint:
    """The plan as a grade writes it."""
    return convert({**POINTS, **members}, TwoPoint)


def test_a_grade_may_name_it_like_any_plan() -> None:
    """One more word among the plans."""
    assert isinstance(convert(POINTS, Sample), TwoPoint)


@pytest.mark.parametrize(("lot_size", "takes_all"), [(None, False), (5000, False), (81, True)])
def test_by_attributes_it_is_the_smallest_n_with_its_ac(lot_size: int | None, *, takes_all: bool) -> None:
    """The same for every lot that is large enough, since a process is judged."""
    expected = AttributesPlan((Stage(81, 2, 3),), takes_all=takes_all)

    assert expected == sample().attributes_plan(LotSize(lot_size))


def test_by_variables_it_is_the_smallest_n_with_its_k() -> None:
    """Fewer readings than packages by attributes: 37 against 81."""
    assert VariablesPlan(37, Fraction("1.8779")) == sample().variables_plan(LotSize(5000))


def test_by_the_law_of_the_lot_a_small_lot_is_drawn_from_less() -> None:
    """500 packages hold 5 or, half up, 33: 76 packages and 2. Ten hold none or one: nine of them find it with 0.9."""
    plan = sample(law="hypergeometric")

    assert AttributesPlan((Stage(76, 2, 3),)) == plan.attributes_plan(LotSize(500))
    assert AttributesPlan((Stage(9, 0, 1),)) == plan.attributes_plan(LotSize(10))


def test_readings_and_packages_are_drawn_by_the_plan_that_they_are_for() -> None:
    """A characteristic asks for readings; the law of the lot is of attributes alone."""
    assert 37 == sample().packages_of(LotSize(5000))
    assert 81 == sample().packages_of(LotSize(5000), "packages")
    assert 76 == sample(law="hypergeometric").packages_of(LotSize(500))
    assert (37, 2) == size_of(sample(readings_per_package=2), LotSize(5000))


FAR = {"producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 4, "risk": 10}}
NEAR = {"producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 1.01, "risk": 10}}


@pytest.mark.parametrize(
    ("members", "lot", "code", "text"),
    [
        (
            {"law": "hypergeometric"},
            LotSize(None),
            "lot-size-unknown",
            "How many packages to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
        ),
        (
            {},
            LotSize(80),
            "lot-smaller-than-plan",
            (
                "The plan takes 81 packages, and the lot has only 80. "
                "Use a plan for small lots in the grade, such as `every` or `bands`."
            ),
        ),
        (
            {"law": "hypergeometric", **FAR},
            LotSize(10),
            "no-such-plan",
            (
                "No sample of a lot of 10 packages can tell 1 % nonconforming from 4 % with risks of 5 % and 10 %. "
                "Set the two points in the grade further apart, or allow greater risks."
            ),
        ),
        (
            NEAR,
            LotSize(None),
            "no-such-plan",
            (
                "No plan of 100,000 packages or fewer can tell 1 % nonconforming from 1.01 % with risks of 5 % and 10 "
                "%. Set the two points in the grade further apart, or allow greater risks."
            ),
        ),
    ],
)
def test_a_lot_without_a_plan_says_why(members: Document, lot: LotSize, code: str, text: str) -> None:
    """It becomes an undecided finding, not a guess."""
    assert NoPlan(code, text) == sample(**members).attributes_plan(lot)
    assert NoPlan(code, text) == sample(**members).packages_of(lot, "packages")


def test_by_variables_a_lot_without_a_plan_says_why_too() -> None:
    """A lot of 36 has one reading too few."""
    too_small, too_near = sample().variables_plan(LotSize(36)), sample(**NEAR).variables_plan(LotSize(None))

    assert isinstance(too_small, NoPlan)
    assert isinstance(too_near, NoPlan)
    assert ("lot-smaller-than-plan", "no-such-plan") == (too_small.code, too_near.code)
    assert too_small == sample().packages_of(LotSize(36))


@pytest.mark.parametrize("percent", [6.5, 7])
def test_the_quality_to_accept_is_the_better_one(percent: float) -> None:
    """The two points are easily swapped."""
    (flaw,) = sample_flaws(sample(producer={"percent": percent, "risk": 5}), "/sample")

    assert ("points-not-apart", "/sample/producer/percent") == (flaw.code, flaw.at)
    assert flaw.text == (
        f"The producer's {percent:g} % nonconforming is to be accepted, and the consumer's 6.5 % is to be rejected. "
        "Make the producer's the smaller one."
    )
    assert [] == list(plan_place_flaws(sample(producer={"percent": percent, "risk": 5}), "attributes", "It", "/sample"))


def test_numbers_are_in_the_range_of_all_numbers() -> None:
    """A percentage of 1e-12 is a slip of the pen."""
    flaws = list(sample_flaws(sample(producer={"percent": 1e-12, "risk": 5}), "/sample"))

    assert [("beyond-range", "/sample/producer/percent")] == [(flaw.code, flaw.at) for flaw in flaws]


@pytest.mark.parametrize(("risk", "said"), [(0.0009, "0.0009"), (99.5, "99.5")])
def test_a_risk_is_one_that_a_sample_can_be_chosen_by(risk: float, said: str) -> None:
    """One in a million lots is no risk that anybody has seen."""
    (flaw,) = sample_flaws(sample(consumer={"percent": 6.5, "risk": risk}), "/sample")

    assert ("risk-not-chosen-by", "/sample/consumer/risk") == (flaw.code, flaw.at)
    assert f"A risk of {said} % is out of range. Give one from 0.001 to 99 %." == flaw.text
    assert [] == list(plan_place_flaws(sample(consumer={"percent": 6.5, "risk": risk}), "attributes", "It", "/sample"))


def test_points_that_no_plan_tells_apart_are_a_flaw_of_the_grade() -> None:
    """It is known before any lot is drawn; by the law of the lot it is not."""
    for basis in ("attributes", "variables"):
        (flaw,) = plan_place_flaws(sample(**NEAR), basis, "The sample", "/sample")
        assert ("no-such-plan", "/sample") == (flaw.code, flaw.at)
        assert flaw.text.startswith("No plan of 100,000 packages or fewer can tell 1 % nonconforming from 1.01 %")

    assert [] == list(sample_flaws(sample(), "/sample"))
    assert [] == list(plan_place_flaws(sample(), "attributes", "The sample", "/sample"))
    assert [] == list(plan_place_flaws(sample(law="hypergeometric", **FAR), "attributes", "The sample", "/sample"))


def test_it_stands_where_its_numbers_are_used() -> None:
    """On a mean it would only be a size; the law of the lot is of no plan by variables."""
    on_mean = [flaw.code for flaw in plan_place_flaws(sample(), None, "The sample", "/sample")]
    by_lot = [flaw.code for flaw in plan_place_flaws(sample(law="hypergeometric"), "variables", "The sample", "/sample")]

    assert (["plan-not-here"], ["plan-not-here"]) == (on_mean, by_lot)


def test_two_points_are_of_packages() -> None:
    """A package may have several occurrences, so that a percentage of packages says nothing about them."""
    (flaw,) = counting_flaws(sample(), "occurrences", "/sample")

    assert ("points-of-packages", "/sample") == (flaw.code, flaw.at)
    assert [] == list(counting_flaws(sample(), "packages", "/sample"))


@pytest.mark.parametrize(("nonconforming", "outcome"), [(2, "pass"), (3, "fail")])
def test_a_lot_is_accepted_by_its_ac(nonconforming: int, outcome: str) -> None:
    """81 packages looked over, 2 may be nonconforming."""
    specification = look_grade(attributes(None, sample=POINTS))

    assert outcome == finding_on(specification, count(81, nonconforming), size=5000)["outcome"]


def test_a_lot_of_unknown_size_stays_undecided_by_its_own_law() -> None:
    """Ten or ten thousand packages take other samples."""
    specification = look_grade(attributes(None, sample={**POINTS, "law": "hypergeometric"}))
    unknown = finding_on(specification, count(81, 0))

    assert ("undecided", "lot-size-unknown") == (unknown["outcome"], unknown["reasons"][0]["code"])
    assert "pass" == finding_on(specification, count(76, 2), size=500)["outcome"]


@pytest.mark.parametrize(("lower", "outcome"), [(98.1221, "pass"), (98.1222, "fail")])
def test_a_lot_is_accepted_by_its_k(lower: float, outcome: str) -> None:
    """18 readings of 99, one of 100, 18 of 101: mean 100 and s 1, so that 100 − 1.8779 is the lowest limit that accepts."""
    specification = grade(variables(None, lower=lower, sample=POINTS))
    readings = series(*[99] * 18, 100, *[101] * 18)

    assert outcome == found(specification, readings)["outcome"]


def test_a_grade_with_points_that_no_plan_tells_apart_is_refused() -> None:
    """Before any lot is drawn, wherever it stands."""
    flaws = flaws_of(look_grade(attributes(None, sample={**POINTS, **NEAR})))

    assert [("no-such-plan", "/requirements/0/sample")] == [(flaw.code, flaw.at) for flaw in flaws]


def test_a_plan_that_has_its_own_numbers_takes_no_other() -> None:
    """Compilation refuses both before."""
    with pytest.raises(ValueError, match="of its own"):
        sample().attributes_plan(LotSize(500), 2)
    with pytest.raises(ValueError, match="no hypergeometric law"):
        sample(law="hypergeometric").variables_plan(LotSize(500))


def test_the_service_starts_without_the_laws_of_chance() -> None:
    """They load where a plan needs them; no scipy at all."""
    program = (
        "import json, sys, service.app, service.settings\n"
        "service.app.create_app(service.settings.Settings())\n"
        "print(json.dumps([name for name in sys.modules if name.startswith(('scipy', 'service.engine.risks'))]))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert [] == json.loads(done.stdout)
