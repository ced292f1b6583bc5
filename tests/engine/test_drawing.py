"""What to pull from a lot before it is tested: worked by hand from the grade's samples."""

import json
from typing import Any

import msgspec
import pytest

from service.engine.drawing import what_to_draw
from service.engine.evidence import LotToDraw
from tests.support.grades import (
    DIRECTION,
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    Document,
    declared,
    each,
    fixed,
    grade,
    lot,
    mean,
    sampled,
    series,
    spread,
    variables,
)
from tests.support.judging import compiled, judged, resolve


def drawn(specification: Document, **told: object) -> Document:
    """The answer for a lot of which this is told; each rule in it resolves."""
    found = what_to_draw(compiled(specification), msgspec.convert(told, LotToDraw))
    answer: Document = json.loads(msgspec.json.encode(found))
    for entry in (*answer["draws"], *answer["undecided"]):
        resolve(specification, entry["rule"])
    return answer


def packages_of(specification: Document, **told: object) -> list[tuple[int, int]]:
    """(packages, readings) of each draw."""
    return [(draw["packages"], draw["readings"]) for draw in drawn(specification, **told)["draws"]]


def test_each_requirement_has_its_draw_and_one_pull_serves_all() -> None:
    """5 balls for runnage and 3 for force are 5 balls from the lot, not 8."""
    specification = grade(
        {**mean(lower=125), "of": "runnage"},
        {**mean(lower=1400), "of": "breaking_force"},
        of=[sampled(RUNNAGE, 5), sampled(FORCE, 3, 2)],
    )
    answer = drawn(specification, id="L-1", size=1200)

    assert {
        "format": 1,
        "engine": "1",
        "specification": compiled(specification).digest,
        "lot": {"id": "L-1", "size": 1200},
        "draws": [
            {
                "requirement": "r0",
                "kind": "mean",
                "characteristic": "runnage",
                "packages": 5,
                "readings_per_package": 1,
                "readings": 5,
                "rule": "/characteristics/0/sample",
            },
            {
                "requirement": "r1",
                "kind": "mean",
                "characteristic": "breaking_force",
                "packages": 3,
                "readings_per_package": 2,
                "readings": 6,
                "rule": "/characteristics/1/sample",
            },
        ],
        "undecided": [],
        "packages": 5,
    } == answer


@pytest.mark.parametrize(
    ("plan", "told", "packages"),
    [
        ({"plan": "percent", "percent": 2.5}, {"size": 81}, 3),
        ({"plan": "square_root", "factor": 0.4}, {"size": 1200}, 14),
        ({"plan": "every"}, {"size": 7}, 7),
        ({"plan": "bands", "bands": [{"up_to": 100, "packages": 3}, {"packages": 8}]}, {"size": 100}, 3),
        ({"plan": "bands", "bands": [{"up_to": 100, "packages": 3}, {"packages": 8}]}, {"size": 101}, 8),
        (
            {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "m"}},
            {"length": {"value": 22, "unit": "km"}},
            4,
        ),
    ],
)
def test_a_plan_by_the_lots_size_is_worked_out(plan: Document, told: Document, packages: int) -> None:
    """2.025 balls are 3; 0.4·√1200 = 13.86 are 14; 22 km are 100 coils of 220 m, and 0.4·√100 = 4 (ISO 2307:2010, 6.4, MEM)."""
    assert [(packages, packages)] == packages_of(grade(mean(lower=1400), of={**FORCE, "sample": plan}), **told)


def test_a_requirements_own_sample_stands_before_that_of_the_characteristic() -> None:
    """As it does when the lot is judged."""
    specification = grade(mean(lower=1400, sample=fixed(7)), of=sampled(FORCE, 2))
    [draw] = drawn(specification)["draws"]

    assert (7, "/requirements/0/sample") == (draw["packages"], draw["rule"])


def test_both_sides_of_a_quotient_are_drawn() -> None:
    """Knots and straight pieces are broken one by one, so both take specimens."""
    specification = grade(mean(lower=55), of=[EFFICIENCY, sampled(FORCE, 4), sampled(KNOT_FORCE, 5)])
    answer = drawn(specification)

    assert [("knot_breaking_force", 5), ("breaking_force", 4)] == [
        (draw["characteristic"], draw["packages"]) for draw in answer["draws"]
    ]
    assert 5 == answer["packages"]


@pytest.mark.parametrize(("requirement", "packages"), [(mean(lower=1400), 1), (each(lower=1120), 1), (spread("range", 300), 2)])
def test_without_a_sample_the_least_is_drawn_that_can_be_judged(requirement: Document, packages: int) -> None:
    """A spread takes two values; the rule is the requirement, since nothing asks for a sample."""
    [draw] = drawn(grade(requirement))["draws"]

    assert (packages, packages, "/requirements/0") == (draw["packages"], draw["readings"], draw["rule"])


def test_k_is_told_with_the_sample() -> None:
    """Whoever draws by variables sees what the lot has to reach."""
    [draw] = drawn(grade(variables(1.53, lower=1400), of=sampled(FORCE, 10)))["draws"]

    assert (10, 1.53) == (draw["packages"], draw["k"])


def test_the_k_and_the_letter_of_a_plan_are_told() -> None:
    """A lot of 40 by level IV, AQL 1.0: letter D, 5 packages, k 1.53 (MIL-STD-414, tables A-2 and B-1, SEEN)."""
    plan: Document = {"plan": "code_letter", "table": "MIL-STD-414", "level": "IV", "aql": 1}
    requirement: Document = {"kind": "variables", "limits": {"lower": 1400}, "sample": plan}
    [draw] = drawn(grade(requirement), size=40)["draws"]

    assert (5, "D", 1.53) == (draw["packages"], draw["letter"], draw["k"])


def test_what_a_limit_is_worked_out_from_is_drawn_too() -> None:
    """A force that has to be four fifths of the mean of knots needs the knots."""
    limits = {"lower": {"percent": 80, "of_mean": "breaking_force"}}
    specification = grade({**mean(limits=limits), "of": "knot_breaking_force"}, of=[sampled(FORCE, 4), sampled(KNOT_FORCE, 5)])
    answer = drawn(specification)

    assert [("knot_breaking_force", 5, "/characteristics/1/sample"), ("breaking_force", 4, "/characteristics/0/sample")] == [
        (draw["characteristic"], draw["packages"], draw["rule"]) for draw in answer["draws"]
    ]


def test_a_limit_worked_out_from_what_is_measured_anyway_takes_no_more() -> None:
    """A weak place beside the mean of the same readings."""
    limits = {"lower": {"percent": 80, "of_mean": "breaking_force"}}

    assert [(4, 4)] == packages_of(grade(each(limits=limits), of=sampled(FORCE, 4)))


def test_declarations_and_dates_take_no_draw() -> None:
    """They are on the label."""
    age: Document = {"kind": "age", "from": "made", "to": "asked", "limits": {"upper": 365}}
    specification = grade(declared("Z"), of=DIRECTION)
    specification["requirements"].append({"id": "age", **age})
    answer = drawn(specification)

    assert ([], [], 0) == (answer["draws"], answer["undecided"], answer["packages"])


@pytest.mark.parametrize(
    ("plan", "told", "code", "text"),
    [
        (
            {"plan": "every"},
            {},
            "lot-size-unknown",
            "How many readings it takes goes by the size of the lot, which is not told. Give `size` in `lot`.",
        ),
        (
            fixed(5),
            {"size": 4},
            "lot-smaller-than-plan",
            (
                "The plan takes 5 packages, and the lot has 4, so it can't be carried out. "
                "Put a plan for small lots into the grade, such as `every` or `bands`."
            ),
        ),
        (
            {"plan": "bands", "bands": [{"up_to": 100, "packages": 3}]},
            {"size": 101},
            "lot-beyond-bands",
            "The bands of the plan end at 100 packages, and the lot has 101. Add a band without `up_to` to the grade.",
        ),
    ],
)
def test_where_a_sample_has_no_size_for_the_lot_it_says_why(plan: Document, told: Document, code: str, text: str) -> None:
    """A guess would be drawn and then not suffice."""
    answer = drawn(grade(mean(lower=1400), of={**FORCE, "sample": plan}), **told)

    assert [
        {"requirement": "r0", "code": code, "text": text, "rule": "/characteristics/0/sample"},
    ] == answer["undecided"]
    assert ([], 0) == (answer["draws"], answer["packages"])


@pytest.mark.parametrize("plan", [fixed(3), fixed(2, 4), {"plan": "percent", "percent": 30}, {"plan": "every"}])
@pytest.mark.parametrize("requirement", [mean(lower=1400), spread("range", 300), each(lower=1120, over="packages")])
def test_what_was_drawn_is_enough_to_judge(requirement: Document, plan: Document) -> None:
    """A lot tested as the answer says is never told that readings are missing."""
    specification = grade(requirement, of={**FORCE, "sample": plan})
    [draw] = drawn(specification, size=10)["draws"]
    packages = [f"p{number}" for number in range(draw["packages"]) for _ in range(draw["readings_per_package"])]
    evidence = lot(series(*[1400.0] * len(packages), packages=packages), size=10)
    finding: dict[str, Any] = judged(specification, evidence)["findings"][0]

    assert draw["readings"] == len(packages)
    assert "pass" == finding["outcome"]
