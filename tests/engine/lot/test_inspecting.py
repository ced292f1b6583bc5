"""How severely a lot is inspected, class by class: each plan goes by what is told of its own class.

Source of the plans: MIL-STD-105E Tables II-A to II-C, letter J (n 80, reduced 32), AQL 2.5 (reference A1, SEEN): normal 5/6,
tightened 3/4, reduced 2/5. MIL-STD-414 Table B-1, letter D: k 1.53 at AQL 1.0, and tightened as at 0.65, k 1.65 (SEEN).
"""

import msgspec
import pytest

from service.engine.documents import LotToDraw
from service.engine.drawing import what_to_draw
from service.usecases.sampling_plans import PlanRequest
from service.usecases.sampling_plans.requests import request_flaws
from tests.support.counted import attributes, count, look_grade, looked_over
from tests.support.grades import Document, grade, lot, series, variables
from tests.support.judging import compiled, flaws_in, judged

J: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
D: Document = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "D", "aql": 1}
TWO = look_grade(attributes(None, sample=J), {**attributes(None, sample=J), "class": "minor"})
NORMAL, TIGHTENED, REDUCED = {"accept": 5, "reject": 6}, {"accept": 3, "reject": 4}, {"accept": 2, "reject": 5}


def told(inspection: str, **of: str) -> Document:
    """What is told of one class or requirement."""
    return {"inspection": inspection, **of}


def limits(*inspections: Document, inspection: str = "normal") -> list[Document]:
    """The numbers of the plans of `major` and of `minor`."""
    counts = (count(80, 0), count(80, 0, of="minor"))
    evidence = looked_over(*counts, inspection=inspection, inspections=list(inspections))
    return [finding["limits"] for finding in judged(TWO, evidence)["findings"]]


def test_each_class_is_inspected_as_is_told_of_it() -> None:
    """Faults of one class call for severity in that class, and in no other."""
    assert [TIGHTENED, NORMAL] == limits(told("tightened", **{"class": "major"}))
    assert [NORMAL, REDUCED] == limits(told("reduced", **{"class": "minor"}))


def test_what_is_not_told_of_goes_by_the_lots_own_inspection() -> None:
    """A lot under tightened inspection may have one class that is back to normal."""
    assert [TIGHTENED, NORMAL] == limits(told("normal", **{"class": "minor"}), inspection="tightened")


def test_a_requirement_stands_before_its_class() -> None:
    """Two requirements on one class may be switched apart."""
    assert [REDUCED, NORMAL] == limits(told("reduced", requirement="r0"), told("tightened", **{"class": "major"}))


def test_acceptance_by_variables_is_switched_by_its_requirement() -> None:
    """It counts no class. Q = 15/√77.5 = 1.70 (by hand) meets both."""
    evidence = lot(series(197, 188, 184, 205, 201))
    evidence["lot"]["inspections"] = [told("tightened", requirement="r0")]
    specification = grade(variables(None, lower=180, sample=D), variables(None, lower=180, sample=D))

    assert [1.65, 1.53] == [finding["limits"]["k"] for finding in judged(specification, evidence)["findings"]]


def test_what_is_drawn_goes_by_it_too() -> None:
    """The inspector pulls what the verdict will ask for; a retest also."""
    retest = {"sample": J, "judge": "second"}
    specification = compiled(look_grade(attributes(None, sample=J, retest=retest)))
    of_lot = {"inspections": [told("reduced", **{"class": "major"})]}

    assert [(32, 2, 5), (32, 2, 5)] == [
        (draw.packages, draw.accept, draw.reject)
        for draw in what_to_draw(specification, msgspec.convert(of_lot, LotToDraw)).draws
    ]


@pytest.mark.parametrize(
    ("inspections", "code", "at", "text"),
    [
        (
            [told("tightened")],
            "class-or-requirement",
            "/lot/inspections/0",
            "An inspection is of a `class` or of a `requirement`. Give one of the two.",
        ),
        (
            [told("tightened", requirement="r0", **{"class": "major"})],
            "class-or-requirement",
            "/lot/inspections/0",
            "An inspection is of a `class` or of a `requirement`. Give one of the two.",
        ),
        (
            [told("tightened", **{"class": "critical"})],
            "unknown-class",
            "/lot/inspections/0/class",
            "The grade has no class `critical`. It has `major` and `minor`.",
        ),
        (
            [told("tightened", requirement="looks")],
            "unknown-requirement",
            "/lot/inspections/0/requirement",
            "The grade has no requirement `looks`. It has `r0` and `r1`.",
        ),
        (
            [told("tightened", **{"class": "major"}), told("normal", **{"class": "major"})],
            "inspection-twice",
            "/lot/inspections/1/class",
            "The inspection of `major` is already given at /lot/inspections/0. Remove one of the two.",
        ),
    ],
)
def test_what_fits_no_requirement_is_told(inspections: list[Document], code: str, at: str, text: str) -> None:
    """A slip in a name would else leave a class under the wrong plan unseen."""
    evidence = looked_over(count(80, 0), count(80, 0, of="minor"), inspections=inspections)

    assert [(code, at, text)] == [(flaw.code, flaw.at, flaw.text) for flaw in flaws_in(TWO, evidence)]


def test_one_plan_by_itself_has_no_classes() -> None:
    """A plan shown without a grade is inspected in one way."""
    asked = {"by": "attributes", "sample": J, "lot": {"inspections": [told("tightened", requirement="r0")]}}

    assert [("inspections-not-here", "/lot/inspections")] == [
        (flaw.code, flaw.at) for flaw in request_flaws(msgspec.convert(asked, PlanRequest))
    ]
