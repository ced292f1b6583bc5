"""What a specification is refused for: every flaw at once, each where it stands and with what to do about it."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import (
    DIRECTION,
    EFFICIENCY,
    FORCE,
    KNOT_FORCE,
    POOLED_EFFICIENCY,
    RUNNAGE,
    Document,
    declared,
    each,
    fixed,
    grade,
    mean,
    sampled,
    spread,
    variables,
)
from tests.support.judging import compiled, flaws_of

OWN: Document = {"name": "shade_depth", "unit": "1"}
STRANDS: Document = {"name": "strands"}
FORCES = "`N`, `mN`, `cN`, `daN`, `kN`, `gf`, `kgf`, `tf` or `ozf`"
RUNNAGES = "`m/kg`, `km/kg`, `m/g`, `ft/lb` or `yd/lb`"
OUT_OF_RANGE = "is out of range. Choose a unit in which it is 0, or from 1e-9 to 1e12."


def derived(numerator: str, denominator: str, name: str = "knot_efficiency") -> Document:
    """A characteristic that is worked out of two others."""
    own = {} if name == "knot_efficiency" else {"quantity": "ratio"}
    return {"name": name, "unit": "%", "derived": {"kind": "ratio", "numerator": numerator, "denominator": denominator}, **own}


CHARACTERISTICS = [
    (
        OWN,
        Flaw(
            "quantity-missing",
            "`shade_depth` is not in the vocabulary. If it is a name of your own, add its `quantity`.",
            "/characteristics/0/quantity",
        ),
    ),
    (
        {"name": "braking_force", "unit": "N"},
        Flaw(
            "quantity-missing",
            (
                "`braking_force` is not in the vocabulary. "
                "Did you mean `breaking_force` or `knot_breaking_force`? If it is a name of your own, add its `quantity`."
            ),
            "/characteristics/0/quantity",
        ),
    ),
    (
        {**FORCE, "quantity": "mass"},
        Flaw(
            "quantity-differs",
            "`breaking_force` is a force, `force`. Remove `quantity`, or use another name.",
            "/characteristics/0/quantity",
        ),
    ),
    (
        {"name": "runnage"},
        Flaw(
            "missing-field",
            f"`runnage` has no unit for its limits. Add `unit`: one of {RUNNAGES}.",
            "/characteristics/0/unit",
        ),
    ),
    (
        {"name": "runnage", "unit": "m/kgg"},
        Flaw(
            "unknown-unit",
            f"`m/kgg` is not a known unit. Did you mean `m/kg`, `km/kg` or `m/g`? Write one of {RUNNAGES}.",
            "/characteristics/0/unit",
        ),
    ),
    (
        {"name": "runnage", "unit": "tex"},
        Flaw(
            "unit-of-other-quantity",
            f"`tex` is a unit of mass per length and `runnage` is a length per mass. Write one of {RUNNAGES}.",
            "/characteristics/0/unit",
        ),
    ),
    (
        {"name": "breaking_force", "unit": "lb"},
        Flaw(
            "unit-of-other-quantity",
            "`lb` is a unit of mass and `breaking_force` is a force. "
            f"Write `lbf` if that is meant, or send the force in {FORCES}.",
            "/characteristics/0/unit",
        ),
    ),
    (
        {"name": "strands", "unit": "kg"},
        Flaw(
            "unit-of-other-quantity",
            "`kg` is a unit of mass and `strands` is a count. Write `1`.",
            "/characteristics/0/unit",
        ),
    ),
    (
        {**FORCE, "sample": {"plan": "percent", "percent": 1e-10}},
        Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/characteristics/0/sample/percent"),
    ),
    (
        {**FORCE, "sample": {"plan": "square_root", "factor": 1e-10}},
        Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/characteristics/0/sample/factor"),
    ),
]


@pytest.mark.parametrize(("characteristic", "flaw"), CHARACTERISTICS)
def test_a_characteristic_is_told_what_is_wrong_with_it(characteristic: Document, flaw: Flaw) -> None:
    """Whoever writes the grade mends it where the pointer points, without asking anybody; nothing else is blamed."""
    assert [flaw] == flaws_of(grade(mean(lower=1), of=characteristic))


DECLARED_ONES = [
    (
        {**DIRECTION, "unit": "N"},
        Flaw(
            "unit-of-category", "`twist_direction` is only declared and has no unit. Remove `unit`.", "/characteristics/0/unit"
        ),
    ),
    (
        {**DIRECTION, "sample": fixed(2)},
        Flaw("sample-not-here", "`twist_direction` is only declared. Remove `sample`.", "/characteristics/0/sample"),
    ),
]


@pytest.mark.parametrize(("characteristic", "flaw"), DECLARED_ONES)
def test_what_is_only_declared_has_neither_unit_nor_sample(characteristic: Document, flaw: Flaw) -> None:
    """A lay direction in newtons is a slip in the grade, not something to overlook."""
    assert [flaw] == flaws_of(grade(declared("Z"), of=characteristic))


DERIVED_ONES = [
    (
        [derived("knot_strength", "breaking_force"), FORCE],
        Flaw(
            "unknown-characteristic",
            "There is no characteristic `knot_strength` here. Add it to `characteristics`, or correct the name.",
            "/characteristics/0/derived/numerator",
        ),
    ),
    (
        [derived("knot_breaking_force", "breaking_forc"), FORCE, KNOT_FORCE],
        Flaw(
            "unknown-characteristic",
            "There is no characteristic `breaking_forc` here. Did you mean `breaking_force` or `knot_breaking_force`?",
            "/characteristics/0/derived/denominator",
        ),
    ),
    (
        [derived("knot_efficiency", "breaking_force"), FORCE],
        Flaw(
            "derived-of-itself",
            "`knot_efficiency` cannot be calculated from itself. Name a measured characteristic.",
            "/characteristics/0/derived/numerator",
        ),
    ),
    (
        [EFFICIENCY, FORCE, KNOT_FORCE, derived("breaking_force", "knot_efficiency", "twofold")],
        Flaw(
            "derived-of-derived",
            "`knot_efficiency` is calculated itself. Name a measured characteristic.",
            "/characteristics/3/derived/denominator",
        ),
    ),
    (
        [derived("twist_direction", "breaking_force"), FORCE, DIRECTION],
        Flaw(
            "category-not-measured",
            "`twist_direction` is only declared, never measured. Name a measured characteristic.",
            "/characteristics/0/derived/numerator",
        ),
    ),
    (
        [derived("breaking_force", "runnage", "twofold"), FORCE, RUNNAGE],
        Flaw(
            "quotient-not-known",
            "A force divided by a length per mass is not a known quotient. Choose one of those in the guide.",
            "/characteristics/0/derived",
        ),
    ),
    (
        [derived("breaking_force", "linear_density"), FORCE, {"name": "linear_density", "unit": "tex"}],
        Flaw(
            "quotient-of-other-quantity",
            (
                "A force divided by a mass per length is a tenacity, and `knot_efficiency` is a ratio. "
                "Change the two characteristics or the name."
            ),
            "/characteristics/0/derived",
        ),
    ),
    (
        [{**EFFICIENCY, "sample": fixed(2)}, FORCE, KNOT_FORCE],
        Flaw(
            "sample-not-here",
            (
                "`knot_efficiency` is calculated and has no sample of its own. "
                "Give the samples to `knot_breaking_force` and `breaking_force`."
            ),
            "/characteristics/0/sample",
        ),
    ),
]


@pytest.mark.parametrize(("characteristics", "flaw"), DERIVED_ONES)
def test_what_is_worked_out_is_told_what_is_wrong_with_its_sides(characteristics: list[Document], flaw: Flaw) -> None:
    """A quotient that means nothing would give figures that look like something."""
    assert [flaw] == flaws_of(grade(mean(lower=1), of=characteristics))


@pytest.mark.parametrize(
    ("numerator", "denominator", "quotient"),
    [
        (FORCE, {"name": "linear_density", "unit": "tex"}, {"name": "tenacity", "unit": "cN/tex"}),
        ({"name": "specimen_length", "unit": "m"}, {"name": "specimen_mass", "unit": "g"}, RUNNAGE),
        (
            {"name": "specimen_mass", "unit": "g"},
            {"name": "specimen_length", "unit": "m"},
            {"name": "linear_density", "unit": "tex"},
        ),
        (KNOT_FORCE, FORCE, {"name": "knot_efficiency", "unit": "%"}),
        ({"name": "strands"}, {"name": "yarns_per_strand"}, {"name": "share", "quantity": "ratio", "unit": "1"}),
    ],
)
def test_the_quotients_of_the_trade_are_known(numerator: Document, denominator: Document, quotient: Document) -> None:
    """Tenacity, runnage, linear density and plain ratios are what laboratories work out of two measurements."""
    sides = {"kind": "ratio", "numerator": numerator["name"], "denominator": denominator["name"]}

    assert [] == flaws_of(grade(mean(lower=1), of=[{**quotient, "derived": sides}, numerator, denominator]))


DOCUMENTS = [
    (
        {**grade(mean(lower=1)), "document": {"title": "Twine", "date": "2025-02-30"}},
        Flaw("no-such-day", "`2025-02-30` is not a day of the calendar. Write it as 2025-06-01.", "/document/date"),
    ),
    (
        grade(mean(lower=1, binding=False)),
        Flaw(
            "nothing-binding", "No requirement is binding, so every lot would pass. Make at least one binding.", "/requirements"
        ),
    ),
    (
        grade(),
        Flaw(
            "nothing-binding", "No requirement is binding, so every lot would pass. Make at least one binding.", "/requirements"
        ),
    ),
    (
        grade(mean(lower=1), mean(lower=2, id="r0")),
        Flaw("id-twice", "`r0` is already the id of /requirements/0. Give this one another id.", "/requirements/1/id"),
    ),
    (
        grade(mean(lower=1, of="breaking_forc")),
        Flaw(
            "unknown-characteristic",
            "There is no characteristic `breaking_forc` here. Did you mean `breaking_force`?",
            "/requirements/0/of",
        ),
    ),
    (
        grade(mean(lower=1), of=[FORCE, FORCE]),
        Flaw(
            "characteristic-twice",
            "`breaking_force` is already at /characteristics/0. Put both into one.",
            "/characteristics/1/name",
        ),
    ),
]


@pytest.mark.parametrize(("specification", "flaw"), DOCUMENTS)
def test_a_document_is_told_what_does_not_fit_together(specification: Document, flaw: Flaw) -> None:
    """A grade that contradicts itself is refused while its writer still looks at it, not when a lot is judged."""
    assert [flaw] == flaws_of(specification)


def test_a_characteristic_without_a_quantity_is_not_called_absent() -> None:
    """It stands there; telling its writer to add it would send them looking for something else."""
    flaws = flaws_of(grade(mean(lower=5, upper=4), of=OWN))

    assert ["quantity-missing", "limits-upside-down"] == [flaw.code for flaw in flaws]


def test_a_quotient_is_not_blamed_for_a_side_without_a_quantity() -> None:
    """What the side is has to be known first."""
    flaws = flaws_of(grade(mean(lower=5), of=[derived("shade_depth", "breaking_force"), FORCE, OWN]))

    assert ["quantity-missing"] == [flaw.code for flaw in flaws]


def test_a_requirement_on_an_unknown_characteristic_is_checked_all_the_same() -> None:
    """All flaws come at once: after the name is mended, none is left that could have been told before."""
    flaws = flaws_of(grade(mean(lower=5, upper=4, of="breaking_forc")))

    assert [("unknown-characteristic", "/requirements/0/of"), ("limits-upside-down", "/requirements/0/limits")] == [
        (flaw.code, flaw.at) for flaw in flaws
    ]


def test_all_flaws_come_at_once_in_the_order_of_the_document() -> None:
    """Mending a grade takes one round, and the same document gets the same answer."""
    characteristics = [{"name": "runnage", "unit": "N"}, {**FORCE, "sample": {"plan": "percent", "percent": 1e-10}}]
    specification = grade(
        mean(limits={}), each(of="twist", lower=1, rounding={"step": 1e-10, "ties": "even"}), of=characteristics
    )

    assert [
        "/document/date",
        "/characteristics/0/unit",
        "/characteristics/1/sample/percent",
        "/requirements/0/limits",
        "/requirements/1/of",
        "/requirements/1/rounding/step",
    ] == [flaw.at for flaw in flaws_of({**specification, "document": {"title": "Twine", "date": "2025-13-01"}})]


KINDS = [
    (
        mean(lower=1),
        [DIRECTION],
        Flaw(
            "category-not-measured",
            "`twist_direction` is only declared, never measured. Use the kind `declared`.",
            "/requirements/0/of",
        ),
    ),
    (
        each(lower=1),
        [POOLED_EFFICIENCY, FORCE, KNOT_FORCE],
        Flaw(
            "only-mean-here",
            ("`knot_efficiency` is a single quotient of means for the lot, so only a `mean` applies to it. Write `mean`."),
            "/requirements/0/kind",
        ),
    ),
    (
        mean(lower=1, over="packages"),
        [POOLED_EFFICIENCY, FORCE, KNOT_FORCE],
        Flaw(
            "only-readings-here",
            "`knot_efficiency` is a quotient of the means of all readings. Remove `over`.",
            "/requirements/0/over",
        ),
    ),
    (
        mean(lower=1, sample=fixed(5)),
        [POOLED_EFFICIENCY, FORCE, KNOT_FORCE],
        Flaw(
            "sample-not-here",
            ("`knot_efficiency` has no sample of its own. Give the samples to `knot_breaking_force` and `breaking_force`."),
            "/requirements/0/sample",
        ),
    ),
    (
        variables(1, lower=1, rounding={"step": 1, "ties": "even"}),
        [FORCE],
        Flaw(
            "rounding-not-here",
            ("The distance from the limit in standard deviations is never rounded. Remove `rounding`, or use the kind `mean`."),
            "/requirements/0/rounding",
        ),
    ),
    (
        spread("range", 4),
        [sampled(FORCE, 1)],
        Flaw(
            "sample-too-small",
            (
                "A spread takes at least two values, and the sample of `breaking_force` gives one. "
                "Ask for more packages or readings."
            ),
            "/characteristics/0/sample",
        ),
    ),
    (
        spread("range", 4, over="packages", sample=fixed(1, 2)),
        [FORCE],
        Flaw(
            "sample-too-small",
            ("A spread takes at least two values, and the sample of `breaking_force` gives one. Ask for more packages."),
            "/requirements/0/sample",
        ),
    ),
    (
        variables(1, lower=1),
        [EFFICIENCY, FORCE, sampled(KNOT_FORCE, 1)],
        Flaw(
            "sample-too-small",
            (
                "A spread takes at least two values, and the sample of `knot_breaking_force` gives one. "
                "Ask for more packages or readings."
            ),
            "/characteristics/2/sample",
        ),
    ),
    (spread("range", 1e13), [FORCE], Flaw("beyond-range", f"10000000000000.0 {OUT_OF_RANGE}", "/requirements/0/at_most")),
    (variables(1e-10, lower=1), [FORCE], Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/requirements/0/k")),
    (declared("Z", 1e13), [DIRECTION], Flaw("beyond-range", f"10000000000000.0 {OUT_OF_RANGE}", "/requirements/0/one_of/1")),
    (
        mean(lower=1, rounding={"step": 1e-10, "ties": "even"}),
        [FORCE],
        Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/requirements/0/rounding/step"),
    ),
    (
        mean(lower=1, sample={"plan": "percent", "percent": 1e-10}),
        [FORCE],
        Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/requirements/0/sample/percent"),
    ),
]


@pytest.mark.parametrize(("requirement", "characteristics", "flaw"), KINDS)
def test_a_requirement_is_told_what_its_kind_does_not_allow(
    requirement: Document, characteristics: list[Document], flaw: Flaw
) -> None:
    """What cannot be judged is refused in the grade, so that no lot has to find it out."""
    assert [flaw] == flaws_of(grade(requirement, of=characteristics))


def test_a_spread_within_one_package_is_possible() -> None:
    """Two readings of one ball have a range; only where each package's mean is a value are two packages needed."""
    assert [] == flaws_of(grade(spread("range", 4), of=sampled(FORCE, 1, 2)))


def test_what_is_derived_may_stand_before_its_sides() -> None:
    """A grade is written in the order in which its reader thinks."""
    assert "knot_efficiency" in compiled(grade(mean(lower=55), of=[EFFICIENCY, FORCE, KNOT_FORCE])).characteristics


def test_a_count_needs_no_unit() -> None:
    """Three strands are three."""
    assert [] == flaws_of(grade(mean(lower=3), of=STRANDS))


def test_what_comes_from_nothing_that_is_known_is_told_that_alone() -> None:
    """Where both sides are misspelt there is nothing to say of what they are read on."""
    derived = {"kind": "ratio", "numerator": "a", "denominator": "b"}
    characteristic = {"name": "knot_efficiency", "unit": "%", "per": "pack", "derived": derived}

    assert ["unknown-characteristic", "unknown-characteristic"] == [
        flaw.code for flaw in flaws_of(grade(mean(lower=1), of=characteristic)) if flaw.code.startswith("unknown")
    ]


def test_a_grade_may_only_count() -> None:
    """An inspector's form has classes of faults and nothing that is measured."""
    counting = {"id": "look", "kind": "attributes", "class": "major", "sample": {"plan": "fixed", "packages": 8}, "at_most": 0}

    assert [] == flaws_of({"characteristics": [], "requirements": [counting]})


def searched(number: int) -> Document:
    """A requirement on what is looked over, by a plan to be searched for that no other number has."""
    producer, consumer = {"percent": 1 + number / 100, "risk": 5}, {"percent": 10, "risk": 10}
    sample = {"plan": "two_point", "producer": producer, "consumer": consumer}
    return {"id": f"faults-{number}", "kind": "attributes", "class": f"class_{number}", "sample": sample}


def test_more_searches_than_somebody_can_wait_for_are_a_flaw() -> None:
    """It is told at once: nothing is searched for before."""
    text = "A grade may have at most 20 different two-point plans, and this is one more. Use fewer, or other plans."
    requirements = [searched(number) for number in range(21)]

    assert [Flaw("too-many-searches", text, "/requirements/20/sample")] == flaws_of(
        {"characteristics": [], "requirements": requirements}
    )


def test_one_plan_may_stand_in_as_many_requirements_as_there_are() -> None:
    """It is searched for once."""
    alike = [{**searched(0), "id": f"faults-{number}", "class": f"class_{number}"} for number in range(30)]

    assert 30 == len(compiled({"characteristics": [], "requirements": alike}).requirements)
    assert 20 == len(compiled({"characteristics": [], "requirements": [searched(n) for n in range(20)]}).requirements)
