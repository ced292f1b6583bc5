"""What inspectors count, judged again by a judge that is slow and plain on purpose; it takes no line of the engine."""

from collections.abc import Sequence
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.counted import attributes, finding_on, look_grade, looked_over
from tests.support.grades import Document
from tests.support.judging import flaws_in


class Stage(NamedTuple):
    """So many packages, and how many in all accept and reject."""

    packages: int
    accept: int
    reject: int


class Plan(NamedTuple):
    """A plan as a grade writes it, and as it is printed."""

    sample: Document
    at_most: int | None
    stages: Sequence[Stage]
    inspection: str = "normal"


def of_table(letter: str, aql: float, scheme: str = "single") -> Document:
    """A plan of MIL-STD-105E."""
    return {"plan": "code_letter", "table": "MIL-STD-105E", "letter": letter, "aql": aql, "scheme": scheme}


PLANS = [
    Plan({"plan": "fixed", "packages": 4}, 1, [Stage(4, 1, 2)]),
    Plan({"plan": "fixed", "packages": 3}, 0, [Stage(3, 0, 1)]),
    # MIL-STD-105E, Table II-A, Table II-C and Table III-A: SEEN.
    Plan(of_table("C", 10), None, [Stage(5, 1, 2)]),
    Plan(of_table("E", 10), None, [Stage(5, 1, 4)], "reduced"),
    Plan(of_table("C", 10, "double"), None, [Stage(3, 0, 2), Stage(3, 1, 2)]),
    Plan(of_table("D", 10, "double"), None, [Stage(5, 0, 3), Stage(5, 3, 4)]),
]
Lists = Sequence[Sequence[int]]
"""Of each class, how often it was found in each package."""


def plainly(plan: Plan, stages: Sequence[Lists], counting: str) -> str:
    """Pass, fail, undecided; or refused, where a second sample was drawn that nobody called for."""
    found = 0
    for number, stage in enumerate(plan.stages):
        lists = stages[number]
        if not all(lists):
            return "undecided"
        drawn = min([stage.packages, *(len(each) for each in lists)])
        for place in range(drawn):
            here = sum(each[place] for each in lists)
            found += here if counting == "occurrences" else int(here > 0)
        decided = None
        if found >= stage.reject:
            decided = "fail"
        elif drawn < stage.packages:
            decided = "undecided"
        elif found <= stage.accept or number == len(plan.stages) - 1:
            decided = "pass"
        if decided:
            return "refused" if decided != "undecided" and number == 0 and any(stages[1]) else decided
    raise AssertionError


lists = st.lists(st.sampled_from([0, 0, 0, 1, 2]), max_size=8)


@settings(max_examples=400)
@given(
    plan=st.sampled_from(PLANS),
    first=st.tuples(lists, lists),
    second=st.tuples(lists, lists),
    classes=st.integers(1, 2),
    counting=st.sampled_from(["packages", "occurrences"]),
)
def test_a_plain_judge_comes_to_the_same(plan: Plan, first: Lists, second: Lists, classes: int, counting: str) -> None:
    """Unions of classes, first packages of longer lists, both stages and the gap, by loops without a trick."""
    first, second = first[:classes], second[:classes] if len(plan.stages) > 1 else [[]] * classes
    names = ["major", "critical"][:classes]
    requirement = attributes(plan.at_most, sample=plan.sample, counting=counting)
    if classes > 1:
        requirement["includes"] = ["critical"]
    others = [{**attributes(0, 1), "id": "other", "class": "critical"}] if classes > 1 else []
    counts = [
        {"class": name, "by_package": list(each), "stage": number}
        for number, part in ((1, first), (2, second))
        for name, each in zip(names, part, strict=True)
        if number == 1 or any(second)
    ]
    expected = plainly(plan, [first, second], counting)
    specification = look_grade(requirement, *others)
    codes = {flaw.code for flaw in flaws_in(specification, looked_over(*counts, inspection=plan.inspection))}

    assert ("refused" == expected) == ("stage-not-called-for" in codes)
    if not codes:
        assert expected == finding_on(specification, *counts, inspection=plan.inspection)["outcome"]
