"""Limits that depend on the lot: of a declared number, of another mean or limit, by a law or a schedule."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import (
    DIRECTION,
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    RUNNAGE,
    Document,
    each,
    fixed,
    grade,
    lot,
    mean,
    sampled,
    series,
    spread,
)
from tests.support.judging import checked, flaws_of, judged

LABEL: Document = {"name": "label_length", "quantity": "length", "unit": "m"}
LENGTH: Document = {"name": "length", "unit": "m"}
SHARE_OF_LABEL: Document = {"percent": 98.5, "of_declared": "label_length"}
RECIPROCAL: Document = {
    "law": "reciprocal",
    "numerator": 32400,
    "of_mean": "runnage",
    "in": "daN",
    "rounding": {"step": 1, "toward": "down"},
}


def findings(specification: Document, *columns: Document, declared: dict[str, object] | None = None) -> list[Document]:
    """The findings on a lot."""
    found: list[Document] = judged(specification, lot(*columns, declared=declared))["findings"]
    return found


def finding(specification: Document, *columns: Document, declared: dict[str, object] | None = None) -> Document:
    """The first finding on a lot."""
    return findings(specification, *columns, declared=declared)[0]


def test_a_limit_may_be_a_share_of_what_the_label_declares() -> None:
    """98.5 % of a label of 400 m is 394 m: one grade serves every label, and the finding says where the limit comes from."""
    specification = grade(mean(lower=SHARE_OF_LABEL), of=[LENGTH, LABEL])
    found = finding(specification, series(393, 394, of=LENGTH), declared={"label_length": 400})

    assert ("fail", -0.5, 394) == (found["outcome"], found["margin"], found["limits"]["lower"])
    assert [
        {
            "side": "lower",
            "statistic": "declared",
            "characteristic": "label_length",
            "value": 400,
            "unit": "m",
            "at": ["/declared/0"],
        }
    ] == found["limits"]["worked_out"]
    assert (
        "The mean length, 393.5 m, is 0.5 m below the lower limit of 394 m, calculated from the declared label length, 400 m."
    ) == found["reasons"][0]["text"]


def test_a_limit_may_be_a_share_of_the_mean() -> None:
    """No specimen may be below 80 % of the lot's own mean: of 100, 100 and 70, mean 90, the limit is 72."""
    found = finding(grade(each(lower={"percent": 80, "of_mean": "breaking_force"})), series(100, 100, 70))

    assert ("fail", 72, -2.0) == (found["outcome"], found["limits"]["lower"], found["margin"])


def test_a_limit_may_be_a_share_of_another_limit() -> None:
    """80 % of a strength of 1400 N is 1120 N; the buyer writes the share, not the number."""
    specification = grade(mean(lower=1400, id="strength"), each(lower={"percent": 80, "of_limit": "strength"}))
    found = findings(specification, series(1700, 1120))[1]

    assert ("pass", 0.0, 1120) == (found["outcome"], found["margin"], found["limits"]["lower"])
    assert "strength" == found["limits"]["worked_out"][0]["requirement"]


def test_a_law_is_worked_out_in_its_own_units_and_rounded_before_it_is_used() -> None:
    """32 400 over 140.15 m/kg is 231.18 daN, 231 whole ones, 2310 N; 58 % of that, not of 231.18, is the knot's."""
    specification = grade(
        mean(lower=RECIPROCAL, id="straight"),
        mean(of="knot_breaking_force", lower={"percent": 58, "of_limit": "straight"}),
        of=[FORCE, KNOT_FORCE, RUNNAGE],
    )
    straight, knot = findings(specification, series(2310), series(1339.8, of=KNOT_FORCE), series(140.15, of=RUNNAGE))

    assert ("pass", 2310, 0.0) == (straight["outcome"], straight["limits"]["lower"], straight["margin"])
    assert ("pass", 1339.8, 0.0) == (knot["outcome"], knot["limits"]["lower"], knot["margin"])
    assert ["/series/2"] == straight["limits"]["worked_out"][0]["at"]


def test_a_constant_is_added_before_the_rounding() -> None:
    """32 400 over 500, less 18, is 46.8 daN."""
    law = {"law": "reciprocal", "numerator": 32400, "constant": -18, "of_mean": "runnage", "in": "daN"}
    found = finding(grade(mean(lower=law), of=[FORCE, RUNNAGE]), series(468), series(500, of=RUNNAGE))

    assert ("pass", 468) == (found["outcome"], found["limits"]["lower"])


def test_a_law_may_take_its_argument_in_another_unit() -> None:
    """A law written for m/kg holds for a grade kept in m/g."""
    law = {"law": "reciprocal", "numerator": 32400, "of_mean": "runnage", "taken_in": "m/kg", "in": "daN"}
    kept_in = {"name": "runnage", "unit": "m/g"}
    found = finding(grade(mean(lower=law), of=[FORCE, kept_in]), series(648), series(0.5, of=kept_in))

    assert ("pass", 648) == (found["outcome"], found["limits"]["lower"])


SIZE: Document = {"name": "nominal_diameter", "quantity": "length", "unit": "mm"}
STEPS = [{"up_to": 6, "limit": 4000}, {"up_to": 8, "limit": 5400}]
LINES = [{"at": 6, "limit": 4000}, {"at": 8, "limit": 5400}]


@pytest.mark.parametrize(
    ("schedule", "size", "limit"),
    [(STEPS, 6, 4000), (STEPS, 6.5, 5400), (LINES, 6, 4000), (LINES, 6.5, 4350), (LINES, 8, 5400)],
)
def test_a_schedule_gives_the_limit_by_nominal_size(schedule: list[Document], size: float, limit: float) -> None:
    """By steps the next size decides; by lines 6.5 mm lies a quarter of the way from 4000 to 5400."""
    specification = grade(mean(lower={"schedule": schedule, "of_declared": "nominal_diameter"}), of=[FORCE, SIZE])
    found = finding(specification, series(limit), declared={"nominal_diameter": size})

    assert ("pass", limit, 0.0) == (found["outcome"], found["limits"]["lower"], found["margin"])


@pytest.mark.parametrize(
    ("limit", "columns", "declared", "text"),
    [
        (SHARE_OF_LABEL, [], None, "label length is not entered. Enter it."),
        (SHARE_OF_LABEL, [], {"label_length": "400 m"}, "the label length entered is not a number above 0. Enter it in m."),
        (SHARE_OF_LABEL, [], {"label_length": 0}, "the label length entered is not a number above 0. Enter it in m."),
        (
            {"percent": 80, "of_mean": "label_length"},
            [],
            None,
            "the sample of label length is not complete. Measure the rest.",
        ),
        (
            {"schedule": [{"up_to": 6, "limit": 9}], "of_declared": "label_length"},
            [],
            {"label_length": 7},
            "the grade's schedule has no row for 7 m. Correct the size, or the grade.",
        ),
        (
            {"schedule": [{"at": 6, "limit": 9}], "of_declared": "label_length"},
            [],
            {"label_length": 5},
            "the grade's schedule has no row for 5 m. Correct the size, or the grade.",
        ),
        (
            {"law": "reciprocal", "numerator": 1, "constant": -18, "of_declared": "label_length"},
            [],
            {"label_length": 1},
            "it would be -17 m, which no limit can be. Check what it is calculated from.",
        ),
        (
            {"percent": 80, "of_mean": "label_length"},
            [series(0, of=LABEL)],
            None,
            "the mean label length is not above 0. Check its readings.",
        ),
    ],
)
def test_a_limit_that_cannot_be_known_decides_nothing(
    limit: Document, columns: list[Document], declared: dict[str, object] | None, text: str
) -> None:
    """A number that only looks right would pass a bad lot."""
    found = finding(grade(mean(lower=limit), of=[LENGTH, LABEL]), series(393, of=LENGTH), *columns, declared=declared)

    assert "undecided" == found["outcome"]
    assert [("limit-not-known", f"The lower limit of length is not known: {text}")] == [
        (reason["code"], reason["text"]) for reason in found["reasons"]
    ]


def test_a_limit_waits_for_the_whole_sample_that_it_comes_from() -> None:
    """The mean of two runnages out of five may move, and the limit with it."""
    specification = grade(mean(lower=RECIPROCAL), of=[FORCE, sampled(RUNNAGE, 5)])

    assert "undecided" == finding(specification, series(2310), series(140.15, of=RUNNAGE))["outcome"]


def test_what_is_missing_is_told_beside_the_unknown_limit() -> None:
    """The station asks for readings and for the label in one go."""
    specification = grade(mean(lower=SHARE_OF_LABEL), of=[sampled(LENGTH, 2), LABEL])
    found = finding(specification, series(393, of=LENGTH))

    assert ["limit-not-known", "readings-missing"] == [reason["code"] for reason in found["reasons"]]
    assert [{"characteristic": "length", "packages": 1, "readings": 1}] == found["missing"]


def test_a_reading_is_undecided_where_the_lot_gives_the_limit() -> None:
    """One reading can't tell the mean that its limit comes from."""
    answer = checked(grade(each(lower={"percent": 80, "of_mean": "breaking_force"})), 100)

    assert "undecided" == answer["outcome"]
    assert ["limit-not-known"] == [reason["code"] for reason in answer["findings"][0]["reasons"]]


def test_a_requirement_with_an_unknown_limit_is_not_shown_beside_a_reading() -> None:
    """There is no distance to show from a limit that is not known."""
    specification = grade(each(lower=1), mean(lower={"percent": 80, "of_mean": "breaking_force"}))

    assert [] == checked(specification, 100)["with_others"]


def test_a_ratio_of_readings_can_give_a_limit() -> None:
    """The mean efficiency of 50 and 70 % is 60 %, half of it 30 %."""
    limit = {"percent": 50, "of_mean": "knot_efficiency"}
    specification = grade(mean(of="elongation_at_break", lower=limit), of=[*PAIR, EFFICIENCY, STRETCH])
    found = finding(specification, series(100, 100), series(50, 70, of=KNOT_FORCE), series(30, of=STRETCH))

    assert ("pass", 30) == (found["outcome"], found["limits"]["lower"])


def test_a_quotient_of_means_can_give_a_limit() -> None:
    """120 of 200 N is 60 %, half of it 30 %."""
    pooled = {**EFFICIENCY, "derived": {**EFFICIENCY["derived"], "kind": "ratio_of_means"}}
    limit = {"percent": 50, "of_mean": "knot_efficiency"}
    specification = grade(mean(of="elongation_at_break", lower=limit), of=[*PAIR, pooled, STRETCH])
    found = finding(specification, series(100, 300), series(120, of=KNOT_FORCE), series(30, of=STRETCH))

    assert ("pass", 30) == (found["outcome"], found["limits"]["lower"])


PAIR = [FORCE, KNOT_FORCE]
STRETCH: Document = {"name": "elongation_at_break", "unit": "%"}
AT = "/requirements/0/limits/lower"
ONE_ARGUMENT = "A limit is calculated from one thing. Give one of `of_declared`, `of_mean` or `of_limit`."
FLAWS = [
    ({"percent": 80}, Flaw("one-argument", ONE_ARGUMENT, AT)),
    ({"percent": 80, "of_mean": "breaking_force", "of_limit": "r1"}, Flaw("one-argument", ONE_ARGUMENT, AT)),
    (
        {"of_mean": "breaking_force"},
        Flaw(
            "missing-field",
            "How the limit is calculated is missing. Give `percent`, a `law` or a `schedule`.",
            f"{AT}/percent",
        ),
    ),
    (
        {"law": "reciprocal", "of_mean": "runnage"},
        Flaw("missing-field", "The law needs a `numerator`, which is missing. Add it.", f"{AT}/numerator"),
    ),
    (
        {"percent": 80, "constant": 1, "of_mean": "breaking_force"},
        Flaw("only-with-law", "`constant` belongs to a law. Add `law`, or remove it.", f"{AT}/constant"),
    ),
    (
        {"percent": 80, "in": "daN", "of_mean": "breaking_force"},
        Flaw("only-with-law", "`in` belongs to a law or a schedule. Remove it.", f"{AT}/in"),
    ),
    (
        {"law": "reciprocal", "numerator": 1, "in": "kg", "of_mean": "runnage"},
        Flaw(
            "unknown-unit",
            ("`kg` is not a unit of force. Write one of `N`, `mN`, `cN`, `daN`, `kN`, `gf`, `kgf`, `tf`, `ozf` or `lbf`."),
            f"{AT}/in",
        ),
    ),
    (
        {"law": "reciprocal", "numerator": 1, "schedule": [{"at": 1, "limit": 1}], "of_mean": "runnage"},
        Flaw("law-or-schedule", "A law and a schedule are given. Remove one of the two.", f"{AT}/schedule"),
    ),
    (
        {"schedule": [{"limit": 1}], "of_mean": "runnage"},
        Flaw(
            "up-to-or-at",
            "A row is for all sizes `up_to` a size, or for the size `at` it. Give one of the two.",
            f"{AT}/schedule/0",
        ),
    ),
    (
        {"schedule": [{"at": 1, "limit": 1}, {"up_to": 2, "limit": 2}], "of_mean": "runnage"},
        Flaw(
            "up-to-or-at",
            "The first row is by the other of `up_to` and `at`. Use one of the two in all rows.",
            f"{AT}/schedule/1",
        ),
    ),
    (
        {"schedule": [{"at": 2, "limit": 1}, {"at": 2, "limit": 2}], "of_mean": "runnage"},
        Flaw(
            "rows-not-rising",
            "The size is not above that of the row before. Put the rows in rising order, each size once.",
            f"{AT}/schedule/1",
        ),
    ),
    (
        {"percent": 80, "of_mean": "breaking_forc"},
        Flaw(
            "unknown-characteristic",
            "There is no characteristic `breaking_forc` here. Did you mean `breaking_force` or `knot_breaking_force`?",
            f"{AT}/of_mean",
        ),
    ),
    (
        {"percent": 80, "of_declared": "twist_direction"},
        Flaw(
            "category-not-measured",
            ("`twist_direction` is a category, and no limit can be calculated from it. Name a characteristic with a unit."),
            f"{AT}/of_declared",
        ),
    ),
    (
        {"percent": 80, "of_declared": "knot_efficiency"},
        Flaw(
            "derived-not-declared",
            ("`knot_efficiency` is calculated, not declared. Name another characteristic, or use its mean by `of_mean`."),
            f"{AT}/of_declared",
        ),
    ),
    (
        {"percent": 80, "of_mean": "runnage"},
        Flaw(
            "share-of-other-quantity",
            "A share of a length per mass is not a force. Add a `law` or a `schedule` that gives one.",
            f"{AT}/percent",
        ),
    ),
    (
        {"percent": 80, "of_limit": "r9"},
        Flaw("unknown-requirement", "There is no requirement `r9` here. Correct the id.", f"{AT}/of_limit"),
    ),
    (
        {"percent": 80, "of_limit": "r2"},
        Flaw("no-limit-there", "`r2` has no limits. Name a requirement that has limits.", f"{AT}/of_limit"),
    ),
    (
        {"percent": 80, "of_limit": "r1"},
        Flaw("no-limit-there", "`r1` has no lower limit. Name a requirement that has one.", f"{AT}/of_limit"),
    ),
    (
        {"percent": 80, "of_limit": "r0"},
        Flaw(
            "limit-of-itself",
            ("The lower limit of `r0` is calculated from this one, and this one from it. Give one of the two as a number."),
            f"{AT}/of_limit",
        ),
    ),
]


@pytest.mark.parametrize(("limit", "flaw"), FLAWS)
def test_a_dependent_limit_is_told_what_does_not_fit(limit: Document, flaw: Flaw) -> None:
    """The writer of a grade sees it before a lot is held up by it."""
    characteristics = [FORCE, KNOT_FORCE, RUNNAGE, EFFICIENCY, DIRECTION]
    specification = grade(mean(lower=limit), mean(upper=9), spread("range", 9), of=characteristics)

    assert [flaw] == flaws_of(specification)


def test_limits_stay_open_to_outer_ones_where_they_depend_on_the_lot() -> None:
    """An outer limit is beyond a limit that is worked out later; its side is bounded."""
    requirement = each(lower={"percent": 80, "of_mean": "breaking_force"}, outer={"lower": 50}, allowed_outside={"count": 1})
    found = finding(grade(requirement), series(100, 100, 40, 100))

    assert ["beyond-outer"] == [reason["code"] for reason in found["reasons"]]


def test_a_sample_short_of_readings_and_a_limit_of_the_same_mean_wait_for_each_other() -> None:
    """While the sample is not complete neither the mean nor its share is known."""
    requirement = each(lower={"percent": 80, "of_mean": "breaking_force"})
    specification = grade(requirement, of={**FORCE, "sample": fixed(3)})

    assert "undecided" == finding(specification, series(100, 1))["outcome"]


def test_where_no_limit_may_depend_on_the_lot_that_is_told() -> None:
    """An age and a declaration have numbers for limits."""
    limits = {"upper": {"percent": 80, "of_mean": "breaking_force"}}
    specification = grade({"kind": "declared", "limits": limits}, mean(lower=1))
    text = "This limit must be a number; it cannot depend on the lot. Give the number."

    assert [Flaw("limit-depends-here", text, "/requirements/0/limits/upper")] == flaws_of(specification)
