"""What to pull from a lot before it is tested: worked by hand from the grade's samples."""

import json
from typing import Any

import msgspec
import pytest

from service.engine.documents import LotToDraw
from service.engine.drawing import what_to_draw
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


def looked_over(**members: object) -> Document:
    """A requirement on what inspectors find of the class `major`."""
    return {"id": "look", "kind": "attributes", "class": "major", **members}


def only(requirement: Document) -> Document:
    """A grade of this requirement."""
    return {"characteristics": [FORCE], "requirements": [requirement]}


@pytest.mark.parametrize(
    ("scheme", "stages"),
    [
        ({}, [(None, None, 80, 5, 6, "J")]),
        (
            {"scheme": "double"},
            [(1, None, 50, 2, 5, "J"), (2, "if the first sample does not decide", 50, 6, 7, "J")],
        ),
    ],
)
def test_packages_to_look_over_are_told_with_ac_and_re(scheme: Document, stages: list[tuple[object, ...]]) -> None:
    """A lot of 1200 at level II is letter J; at AQL 2.5 80 packages with 5 and 6, or twice 50 with 2 and 5, 6 and 7.

    Source: MIL-STD-105E, tables I, II-A and III-A (SEEN).
    """
    plan: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5, **scheme}
    answer = drawn(only(looked_over(sample=plan)), size=1200)

    assert stages == [
        (draw.get("stage"), draw.get("when"), draw["packages"], draw["accept"], draw["reject"], draw["letter"])
        for draw in answer["draws"]
    ]
    assert {("major", "/requirements/0/sample")} == {(draw["class"], draw["rule"]) for draw in answer["draws"]}
    assert stages[0][2] == answer["packages"]


@pytest.mark.parametrize(("judge", "accept"), [("second", 2), ("together", 4)])
def test_a_retest_of_counts_is_drawn_if_the_first_fails(judge: str, accept: int) -> None:
    """Twice as many, which nobody pulls before they are called for; Ac and Re of both together are cumulative."""
    retest: Document = {"sample": fixed(40), "judge": judge, **({"at_most": 4} if judge == "together" else {})}
    answer = drawn(only(looked_over(sample=fixed(20), at_most=2, retest=retest)), size=1200)

    assert [
        (1, None, 20, 2, 3, "/requirements/0/sample"),
        (2, "if the first sample fails", 40, accept, accept + 1, "/requirements/0/retest/sample"),
    ] == [
        (draw["stage"], draw.get("when"), draw["packages"], draw["accept"], draw["reject"], draw["rule"])
        for draw in answer["draws"]
    ]
    assert 20 == answer["packages"]


def test_a_retest_by_a_plan_has_the_numbers_of_that() -> None:
    """Letter J at AQL 2.5 is 80 with 5 and 6 (MIL-STD-105E, table II-A, SEEN), whatever the first sample accepts by."""
    plan: Document = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
    retest: Document = {"sample": plan, "judge": "second"}
    answer = drawn(only(looked_over(sample=fixed(20), at_most=2, retest=retest)), size=1200)

    assert [(20, 2, 3, None), (80, 5, 6, "J")] == [
        (draw["packages"], draw["accept"], draw["reject"], draw.get("letter")) for draw in answer["draws"]
    ]


@pytest.mark.parametrize("judge", ["second", "together"])
def test_a_retest_of_readings_is_drawn_if_the_first_fails(judge: str) -> None:
    """Its packages are those to draw besides, whichever of the samples decides."""
    retest: Document = {"sample": fixed(6, 2), "judge": judge}
    answer = drawn(grade(mean(lower=1400, retest=retest), of=sampled(FORCE, 3, 2)))

    assert [
        (1, None, 3, 6, "/characteristics/0/sample"),
        (2, "if the first sample fails", 6, 12, "/requirements/0/retest/sample"),
    ] == [(draw["stage"], draw.get("when"), draw["packages"], draw["readings"], draw["rule"]) for draw in answer["draws"]]


@pytest.mark.parametrize(
    ("members", "judge", "ks"),
    [
        ({"k": 1.5}, "second", [1.5, 1.5]),
        ({"k": 1.5}, "together", [1.5, 1.5]),
        ({"content": 90, "confidence": 95}, "second", [3.4066, 2.3546]),
        ({"content": 90, "confidence": 95}, "together", [3.4066, None]),
    ],
)
def test_the_k_of_a_retest_is_told_where_it_is_known(members: Document, judge: str, ks: list[float | None]) -> None:
    """For 90 % with 95 % confidence, 5 values take 3.4066 and 10 values 2.3546; of 15 together nobody knows yet that they come.

    Source: one-sided tolerance factors by the noncentral t: 3.407 and 2.355 (CALC).
    """
    requirement = {"kind": "variables", "limits": {"lower": 1400}, **members, "retest": {"sample": fixed(10), "judge": judge}}
    answer = drawn(grade(requirement, of=sampled(FORCE, 5)))

    assert ks == [draw.get("k") for draw in answer["draws"]]


def test_what_a_limit_is_worked_out_from_is_not_drawn_again() -> None:
    """Only what is judged is tested twice."""
    limits = {"lower": {"percent": 80, "of_mean": "breaking_force"}}
    requirement = {**mean(limits=limits, retest={"sample": fixed(10), "judge": "second"}), "of": "knot_breaking_force"}
    answer = drawn(grade(requirement, of=[sampled(FORCE, 4), sampled(KNOT_FORCE, 5)]))

    assert [("knot_breaking_force", 1, 5), ("breaking_force", None, 4), ("knot_breaking_force", 2, 10)] == [
        (draw["characteristic"], draw.get("stage"), draw["packages"]) for draw in answer["draws"]
    ]


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
            "How many readings to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
        ),
        (
            fixed(5),
            {"size": 4},
            "lot-smaller-than-plan",
            (
                "The plan takes 5 packages, and the lot has only 4. "
                "Use a plan for small lots in the grade, such as `every` or `bands`."
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


def test_what_a_limit_comes_from_is_drawn_by_the_pack_where_it_is_read_on_packs() -> None:
    """480 balls are 240 bales of two; 10 % are 24 bales, 48 balls, as when the runnage is judged itself."""
    bale = {**RUNNAGE, "per": "pack", "sample": {"plan": "percent", "percent": 10}}
    law = {"law": "reciprocal", "numerator": 32400, "of_mean": "runnage", "in": "daN"}
    specification = {**grade(mean(lower=law), of=[FORCE, bale]), "pack": {"name": "bale", "holds": 2}}
    of_runnage = [draw for draw in drawn(specification, size=480)["draws"] if draw["characteristic"] == "runnage"]

    assert [(24, 48)] == [(draw["packs"], draw["packages"]) for draw in of_runnage]
