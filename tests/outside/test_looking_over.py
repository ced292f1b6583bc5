"""Lots that are looked over, judged by plans of a standard and of a law.

Sources: MIL-STD-105E (1989), Tables II-A, II-C and III-A: SEEN, in published data sets of the tables. UK SI 1996/2636
(measures of length), Schedule, statistical sampling methods: SEEN. UK SI 2006/659 (packaged goods), Schedule 2, double plan
of batches of 501 to 3200: its numbers are those of letter J at AQL 2.5 in Table III-A; SEEN rule, CALC.
"""

import pytest

from tests.support.counted import attributes, code_of, count, finding_on, look_grade
from tests.support.grades import Document

PASS = ("pass", "no-more-than-accepted")
FAIL = ("fail", "more-than-accepted")
GAP = ("pass", "accepted-in-gap")
SECOND = ("undecided", "second-sample-needed")


def by_letter(letter: str, aql: float, **members: object) -> Document:
    """A grade with a plan of MIL-STD-105E."""
    plan = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": letter, "aql": aql, **members}
    return look_grade(attributes(None, sample=plan))


@pytest.mark.parametrize(("nonconforming", "expected"), [(0, PASS), (2, PASS), (3, GAP), (4, GAP), (5, FAIL)])
def test_reduced_inspection_accepts_in_its_gap(nonconforming: int, expected: tuple[str, str]) -> None:
    """Letter J, AQL 2.5, reduced: n 32, Ac 2, Re 5 (Table II-C, SEEN); 3 and 4 accept and end reduced inspection."""
    finding = finding_on(by_letter("J", 2.5), count(32, nonconforming), inspection="reduced")

    assert expected == code_of(finding)
    assert {"accept": 2, "reject": 5} == finding["limits"]


@pytest.mark.parametrize(("nonconforming", "words"), [(2, "2 or fewer accept"), (5, "5 or more reject")])
def test_beside_a_gap_the_number_that_decides_is_told(nonconforming: int, words: str) -> None:
    """With Ac 2 and Re 5 it would be wrong to say that at most 2 may be (Table II-C, SEEN)."""
    reason = finding_on(by_letter("J", 2.5), count(32, nonconforming), inspection="reduced")["reasons"][0]

    assert reason["text"] == f"{nonconforming} of 32 packages are nonconforming in class `major`; {words} the lot."


def test_in_the_gap_the_next_lot_is_under_normal_inspection() -> None:
    """Whoever releases the lot has to know that the next one is drawn by another table."""
    reason = finding_on(by_letter("J", 2.5), count(32, 3), inspection="reduced")["reasons"][0]

    assert reason["text"] == (
        "3 of 32 packages are nonconforming in class `major`, more than the accept number 2 and fewer than the reject "
        "number 5. The lot is accepted. Inspect the next one under `normal` inspection."
    )


@pytest.mark.parametrize(("nonconforming", "expected"), [(2, PASS), (3, SECOND), (4, SECOND), (5, FAIL)])
def test_a_first_sample_accepts_rejects_or_asks_for_a_second(nonconforming: int, expected: tuple[str, str]) -> None:
    """Letter J, AQL 2.5, double: n 50, Ac 2, Re 5 (Table III-A, SEEN)."""
    finding = finding_on(by_letter("J", 2.5, scheme="double"), count(50, nonconforming))

    assert expected == code_of(finding)


def test_what_to_draw_for_the_second_sample_is_told() -> None:
    """The inspector draws 50 more (Table III-A, SEEN)."""
    finding = finding_on(by_letter("J", 2.5, scheme="double"), count(50, 3))

    assert [{"class": "major", "packages": 50}] == finding["missing"]
    assert finding["reasons"][0]["text"] == (
        "3 of 50 packages are nonconforming in class `major`, which neither accepts nor rejects the lot. "
        "Draw a second sample of 50 packages and send its counts as `stage` 2."
    )


@pytest.mark.parametrize(("second", "expected"), [(0, PASS), (3, PASS), (4, FAIL)])
def test_both_samples_together_decide(second: int, expected: tuple[str, str]) -> None:
    """3 in the first 50; both samples have Ac 6 and Re 7 (Table III-A, SEEN)."""
    finding = finding_on(by_letter("J", 2.5, scheme="double"), count(50, 3), count(50, second, stage=2))

    assert expected == code_of(finding)
    assert ({"accept": 6, "reject": 7}, 3 + second) == (finding["limits"], finding["measured"]["value"])
    assert 100 == finding["measured"]["packages"]


def test_a_batch_of_packaged_goods_is_rejected_on_the_total() -> None:
    """UK SI 2006/659, Schedule 2, batch of 2000: 4 below in the first sample of 50, 3 in the second: 7, rejected. CALC."""
    finding = finding_on(by_letter("J", 2.5, scheme="double"), count(50, 4), count(50, 3, stage=2), size=2000)

    assert FAIL == code_of(finding)


LEGAL = [(80, 1), (125, 2)]
"""Sample size and accept number of the two single plans of UK SI 1996/2636: SEEN."""


@pytest.mark.parametrize(("packages", "accept"), LEGAL)
def test_the_legal_plans_for_measures_of_length_can_be_written(packages: int, accept: int) -> None:
    """A tape or a cord sold by length is verified by these plans."""
    grade = look_grade(attributes(accept, packages))

    assert PASS == code_of(finding_on(grade, count(packages, accept)))
    assert FAIL == code_of(finding_on(grade, count(packages, accept + 1)))


LEGAL_DOUBLE = [("J", 50, (0, 2), (1, 2)), ("K", 80, (0, 3), (3, 4))]
"""Letter at AQL 0.65, sizes, and (Ac, Re) of both double plans of UK SI 1996/2636, which Table III-A has: SEEN in both."""


@pytest.mark.parametrize(("letter", "packages", "first", "both"), LEGAL_DOUBLE)
def test_the_legal_double_plans_are_those_of_the_table(
    letter: str, packages: int, first: tuple[int, int], both: tuple[int, int]
) -> None:
    """The law took its double plans from the same family."""
    grade = by_letter(letter, 0.65, scheme="double")

    assert PASS == code_of(finding_on(grade, count(packages, first[0])))
    assert FAIL == code_of(finding_on(grade, count(packages, first[1])))
    assert PASS == code_of(finding_on(grade, count(packages, 1), count(packages, both[0] - 1, stage=2)))
    assert FAIL == code_of(finding_on(grade, count(packages, 1), count(packages, both[1] - 1, stage=2)))
