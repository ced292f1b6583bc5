"""Plans of published tables: which of them a grade may name, where it may, and what they come to for lots at the edges."""

from fractions import Fraction
from typing import Any

import pytest
from msgspec import convert

from service.engine.documents import Flaw
from service.engine.sampling import (
    AttributesPlan,
    CodeLetter,
    Fixed,
    LotSize,
    NoPlan,
    SampleSize,
    Stage,
    VariablesPlan,
    counting_flaws,
    plan_place_flaws,
    size_of,
)
from tests.support.grades import EFFICIENCY, FORCE, KNOT_FORCE, Document, each, grade, mean, series, spread, variables
from tests.support.judging import flaws_of, found, judged

ATTRIBUTES = {"plan": "code_letter", "table": "MIL-STD-105E"}
VARIABLES = {"plan": "code_letter", "table": "MIL-STD-414"}


def sample(document: Document, **members: Any) -> CodeLetter:
    """The plan as a grade writes it."""
    return convert({**document, **members}, CodeLetter)


EDGES = [
    ({"letter": "J", "aql": 2.5}, 81, (Stage(80, 5, 6),), False),
    ({"letter": "J", "aql": 2.5}, 80, (Stage(80, 5, 6),), True),
    ({"letter": "J", "aql": 2.5}, 79, (Stage(79, 5, 6),), True),
    ({"letter": "J", "aql": 2.5}, 1, (Stage(1, 5, 6),), True),
    ({"letter": "J", "aql": 2.5, "scheme": "double"}, 100, (Stage(50, 2, 5), Stage(50, 6, 7)), False),
    ({"letter": "J", "aql": 2.5, "scheme": "double"}, 90, (Stage(50, 2, 5), Stage(40, 6, 7)), False),
    ({"letter": "J", "aql": 2.5, "scheme": "double"}, 50, (Stage(50, 5, 6),), True),
    ({"letter": "J", "aql": 0.15, "scheme": "double"}, 1000, (Stage(80, 0, 1),), False),
    ({"letter": "A", "aql": 40, "scheme": "double"}, 8, (Stage(2, 2, 3),), False),
]
"""MIL-STD-105E, Tables II-A and III-A: J at 2.5 is 80, 5/6, or twice 50, 2/5 and 6/7; at 0.15 it is 80, 0/1, which has no
double plan, as letter A has none. A first sample that is the whole lot leaves nothing for a second."""


@pytest.mark.parametrize(("members", "lot_size", "stages", "takes_all"), EDGES)
def test_a_small_lot_is_looked_at_whole(
    members: Document, lot_size: int, stages: tuple[Stage, ...], *, takes_all: bool
) -> None:
    """Nobody is sent for more packages than there are."""
    expected = AttributesPlan(stages, members["letter"], takes_all=takes_all)

    assert expected == sample(ATTRIBUTES, **members).attributes_plan(LotSize(lot_size))


NO_PLANS = [
    (
        ATTRIBUTES,
        {"level": "II", "aql": 2.5},
        LotSize(1),
        "plan-not-in-table",
        (
            "MIL-STD-105E begins with lots of 2 packages, and this lot has 1. "
            "Use a plan for small lots in the grade, such as `every` or `bands`."
        ),
    ),
    (
        ATTRIBUTES,
        {"level": "II", "aql": 2.5},
        LotSize(None),
        "lot-size-unknown",
        "How many packages to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
    ),
    (
        ATTRIBUTES,
        {"letter": "J", "aql": 2.5, "scheme": "double"},
        LotSize(1200, inspection="tightened"),
        "plan-not-in-table",
        (
            "Double plans are available here for normal inspection (MIL-STD-105E, Table III-A), and the lot is under "
            "tightened inspection. Use the `single` scheme in the grade."
        ),
    ),
    (
        VARIABLES,
        {"level": "IV", "aql": 1},
        LotSize(2),
        "plan-not-in-table",
        (
            "MIL-STD-414 begins with lots of 3 packages, and this lot has 2. "
            "Use a plan for small lots in the grade, such as `every` or `bands`."
        ),
    ),
    (
        VARIABLES,
        {"level": "IV", "aql": 1},
        LotSize(None),
        "lot-size-unknown",
        "How many readings to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
    ),
    (
        VARIABLES,
        {"level": "IV", "aql": 1},
        LotSize(40, inspection="reduced"),
        "plan-not-in-table",
        (
            "MIL-STD-414 is available here for normal and tightened inspection, and this lot is under reduced "
            "inspection. Give the lot's `inspection` as `normal` or `tightened`."
        ),
    ),
    (
        VARIABLES,
        {"level": "IV", "aql": 0.04},
        LotSize(40, inspection="tightened"),
        "plan-not-in-table",
        (
            "Tightened inspection uses the next smaller AQL of MIL-STD-414, and 0.04 is the smallest. "
            "Use a larger AQL in the grade, or a plan that is not from a table."
        ),
    ),
    (
        VARIABLES,
        {"level": "IV", "aql": 0.25},
        LotSize(6),
        "lot-smaller-than-plan",
        (
            "The plan takes 7 packages, and the lot has only 6. "
            "Use a plan for small lots in the grade, such as `every` or `bands`."
        ),
    ),
]
"""The last: letter B at AQL 0.25 leads to E, n 7 (MIL-STD-414, Tables A-2 and B-1)."""


@pytest.mark.parametrize(("table", "members", "lot", "code", "text"), NO_PLANS)
def test_a_lot_without_a_plan_is_told_why(table: Document, members: Document, lot: LotSize, code: str, text: str) -> None:
    """What the table has not is not made up."""
    plan = sample(table, **members)
    answer = plan.attributes_plan(lot) if table is ATTRIBUTES else plan.variables_plan(lot)

    assert NoPlan(code, text) == answer


def test_a_sample_by_variables_as_large_as_the_lot_has_its_plan() -> None:
    """7 of 7 are every package, and k holds: MIL-STD-414, letter E at AQL 0.25."""
    assert VariablesPlan(7, Fraction(2), "E") == sample(VARIABLES, level="IV", aql=0.25).variables_plan(LotSize(7))


def test_a_plan_is_a_sample_size_too() -> None:
    """What to draw is known before the first reading; of a double plan the first sample."""
    assert SampleSize(5, 2) == size_of(sample(VARIABLES, letter="D", aql=1, readings_per_package=2), LotSize(None))
    assert SampleSize(50, 1) == size_of(sample(ATTRIBUTES, letter="J", aql=2.5, scheme="double"), LotSize(1200))


def test_a_table_gives_no_numbers_of_the_other_kind() -> None:
    """Compilation refuses such a grade; were it not to, nobody is given a number that looks right."""
    with pytest.raises(ValueError, match="by variables"):
        sample(VARIABLES, letter="D", aql=1).attributes_plan(LotSize(40))
    with pytest.raises(ValueError, match="with its own numbers"):
        sample(ATTRIBUTES, letter="J", aql=1).attributes_plan(LotSize(1200), at_most=2)
    with pytest.raises(ValueError, match="has no k"):
        sample(ATTRIBUTES, letter="J", aql=1).variables_plan(LotSize(1200))


PLANS = [
    (
        {**VARIABLES, "aql": 1},
        Flaw(
            "level-or-letter",
            "The plan has neither level nor letter. Give `level`: one of `I`, `II`, `III`, `IV` or `V`.",
            "/requirements/0/sample",
        ),
    ),
    (
        {**VARIABLES, "aql": 1, "level": "II", "letter": "D"},
        Flaw("level-or-letter", "Both `level` and `letter` are given. Remove one of the two.", "/requirements/0/sample/letter"),
    ),
    (
        {**VARIABLES, "aql": 1, "level": "S-1"},
        Flaw(
            "level-not-in-table",
            "MIL-STD-414 has no level `S-1`. Write one of `I`, `II`, `III`, `IV` or `V`.",
            "/requirements/0/sample/level",
        ),
    ),
    (
        {**VARIABLES, "aql": 1, "letter": "A"},
        Flaw(
            "letter-not-in-table",
            "MIL-STD-414 has no code letter `A`. Write one of "
            "`B`, `C`, `D`, `E`, `F`, `G`, `H`, `I`, `J`, `K`, `L`, `M`, `N`, `O`, `P` or `Q`.",
            "/requirements/0/sample/letter",
        ),
    ),
    (
        {**VARIABLES, "aql": 2, "letter": "D"},
        Flaw(
            "aql-not-in-table",
            "MIL-STD-414 has no AQL 2. Write one of "
            "`0.04`, `0.065`, `0.10`, `0.15`, `0.25`, `0.40`, `0.65`, `1.0`, `1.5`, `2.5`, `4.0`, `6.5`, `10` or `15`.",
            "/requirements/0/sample/aql",
        ),
    ),
    (
        {**VARIABLES, "aql": 1, "letter": "D", "scheme": "double"},
        Flaw(
            "scheme-not-in-table",
            "MIL-STD-414 has no double plans. Write `single`, or remove `scheme`.",
            "/requirements/0/sample/scheme",
        ),
    ),
]


@pytest.mark.parametrize(("plan", "flaw"), PLANS)
def test_what_the_table_has_not_is_told_with_what_it_has(plan: Document, flaw: Flaw) -> None:
    """The writer of a grade mends it without looking for the page."""
    assert [flaw] == flaws_of(grade(variables(None, lower=1, sample=plan)))


def test_all_that_is_wrong_with_a_plan_is_told_at_once() -> None:
    """I and O are no letters of MIL-STD-105E, and 0.04 and 1 are AQLs of both tables, in whatever way they are written."""
    plan = {**ATTRIBUTES, "aql": 0.3, "level": "IV", "letter": "I"}
    flaws = flaws_of(grade(variables(1.5, lower=1), of={**FORCE, "sample": plan}))
    codes = ["level-or-letter", "level-not-in-table", "letter-not-in-table", "aql-not-in-table", "plan-not-here"]

    assert codes == [flaw.code for flaw in flaws]
    assert [] == flaws_of(grade(variables(None, lower=1, sample={**VARIABLES, "aql": 0.040, "letter": "I"})))


SIZE = (
    "and this requirement only needs a number of packages. "
    "Give it a `sample` that is only a size: `fixed`, `percent`, `square_root`, `every` or `bands`."
)


@pytest.mark.parametrize("requirement", [each(lower=1), mean(lower=1), spread("range", 5)])
@pytest.mark.parametrize(("table", "kind"), [(ATTRIBUTES, "attributes"), (VARIABLES, "variables")])
def test_a_plan_with_numbers_stands_where_they_are_used(requirement: Document, table: Document, kind: str) -> None:
    """An AQL that nothing is compared with would be taken for a check that is made."""
    plan = {**table, "letter": "D", "aql": 1}
    own = grade({**requirement, "sample": plan})
    of_characteristic = grade(requirement, of={**FORCE, "sample": plan})

    assert [Flaw("plan-not-here", f"The sample is a plan by {kind}, {SIZE}", "/requirements/0/sample")] == flaws_of(own)
    assert [
        Flaw("plan-not-here", f"The sample of `breaking_force` is a plan by {kind}, {SIZE}", "/requirements/0")
    ] == flaws_of(of_characteristic)


def test_a_requirement_s_own_size_stands_before_the_characteristic_s_plan() -> None:
    """The mean of five is judged beside the plan by variables of the same force."""
    plan = {**VARIABLES, "letter": "D", "aql": 1}
    size = {"plan": "fixed", "packages": 5}

    assert [] == flaws_of(grade(variables(None, lower=1), mean(lower=1, sample=size), of={**FORCE, "sample": plan}))


def test_both_sides_of_a_ratio_are_looked_at() -> None:
    """The plan that can't be used here stands on the knots."""
    knots = {**KNOT_FORCE, "sample": {**VARIABLES, "letter": "D", "aql": 1}}
    flaws = flaws_of(grade(each(lower=1), of=[EFFICIENCY, FORCE, knots]))

    assert [("plan-not-here", "/requirements/0")] == [(flaw.code, flaw.at) for flaw in flaws]
    assert flaws[0].text.startswith("The sample of `knot_breaking_force` is")


def test_a_table_by_attributes_is_no_plan_by_variables() -> None:
    """Its numbers count packages; a k is another table's."""
    text = (
        "The sample is a plan by attributes, and this requirement accepts by variables. "
        "Give it one of MIL-STD-414, or a sample that is only a size and `k`."
    )
    plan = {**ATTRIBUTES, "letter": "D", "aql": 1}

    assert [Flaw("plan-not-here", text, "/requirements/0/sample")] == flaws_of(grade(variables(1.5, lower=1, sample=plan)))


def test_a_table_by_variables_is_no_plan_by_attributes() -> None:
    """Its k counts nothing."""
    text = (
        "The sample is a plan by variables, and this requirement accepts by attributes. "
        "Give it one of MIL-STD-105E, or a sample that is only a size and `at_most`."
    )
    plan = sample(VARIABLES, letter="D", aql=1)

    assert [Flaw("plan-not-here", text, "/s")] == list(plan_place_flaws(plan, "attributes", "The sample", "/s"))
    assert [] == list(plan_place_flaws(Fixed(packages=5), "attributes", "The sample", "/s"))


def test_an_aql_above_10_counts_occurrences() -> None:
    """15 per hundred packages are no 15 %: one package may have more than one. MIL-STD-105E, 4.5 (from memory)."""
    plan = sample(ATTRIBUTES, letter="D", aql=15)
    text = (
        "An AQL of 15 is a number of faults per hundred packages, not a percentage of packages. "
        "Set `counting` to `occurrences`, or write an AQL of 10 or less."
    )

    assert [Flaw("aql-of-occurrences", text, "/s/aql")] == list(counting_flaws(plan, "packages", "/s"))
    assert [] == list(counting_flaws(plan, "occurrences", "/s"))
    assert [] == list(counting_flaws(sample(ATTRIBUTES, letter="D", aql=10), "packages", "/s"))


def test_a_finding_without_a_plan_is_undecided() -> None:
    """However many readings are in: the table's first lot is of 3."""
    plan = {**VARIABLES, "level": "IV", "aql": 1}
    finding = found(grade(variables(None, lower=1, sample=plan)), series(2, 3), size=2)

    assert ("undecided", "plan-not-in-table", "/requirements/0/sample") == (
        finding["outcome"],
        finding["reasons"][0]["code"],
        finding["reasons"][0]["rule"],
    )


@pytest.mark.parametrize(("members", "packages"), [({}, 5), ({"inspection": "normal"}, 5), ({"inspection": "tightened"}, 7)])
def test_the_lot_says_how_severely_it_is_inspected(members: Document, packages: int) -> None:
    """Letter C at AQL 0.65 leads to D, n 5; tightened, by the column of 0.40, to E, n 7. MIL-STD-414, Table B-1."""
    plan = {**VARIABLES, "letter": "C", "aql": 0.65}
    evidence: Document = {"lot": {"id": "L-1", "size": 480, **members}}
    finding = judged(grade(variables(None, lower=1, sample=plan)), evidence)["findings"][0]

    assert [{"characteristic": "breaking_force", "packages": packages, "readings": packages}] == finding["missing"]
