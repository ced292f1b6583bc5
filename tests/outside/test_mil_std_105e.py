"""Sampling plans by attributes against every cell of MIL-STD-105E's tables."""

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec import convert

from service.engine.documents import Inspection
from service.engine.sampling import AttributesPlan, CodeLetter, LotSize, NoPlan
from service.engine.sampling.tables import mil_std_105e

TABLES: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "mil_std_105e.json").read_text())
"""SEEN in two published transcriptions of the tables, and computed again; the reduced numbers in one of them."""
LETTERS = "ABCDEFGHJKLMNPQR"
SEVERITIES: list[Inspection] = ["normal", "tightened", "reduced"]
ENDS = [(number, row[0]) for number, row in enumerate(TABLES["code_letters"])]


def plan_of(lot: LotSize | None = None, **members: object) -> AttributesPlan:
    """The plan that a grade's `code_letter` on this table comes to for a lot, of unknown size where none is given."""
    sample = convert({"plan": "code_letter", "table": "MIL-STD-105E", **members}, CodeLetter)
    plan = sample.attributes_plan(lot or LotSize(None))
    assert not isinstance(plan, NoPlan), plan.text
    return plan


def written(plan: AttributesPlan) -> str:
    """The plan as the data file writes it: `J 50 2/5 50 6/7`."""
    return " ".join([str(plan.letter), *(f"{stage.packages} {stage.accept}/{stage.reject}" for stage in plan.stages)])


@pytest.mark.parametrize("letter", LETTERS)
@pytest.mark.parametrize("inspection", SEVERITIES)
def test_every_single_plan_is_the_table_s(inspection: Inspection, letter: str) -> None:
    """A buyer who looks the plan up finds the same sample size, Ac and Re.

    Source: MIL-STD-105E, Tables II-A, II-B and II-C, all 26 AQLs. One published transcription of them keeps the letter's own
    sample size at an arrow, and has Ac 0 in tightened inspection where an arrow leads two rows down to Ac 1; the page's arrows
    are followed.
    """
    lot = LotSize(None, inspection=inspection)

    assert TABLES[inspection][letter] == [written(plan_of(lot, letter=letter, aql=float(aql))) for aql in TABLES["aql"]]


@pytest.mark.parametrize("letter", LETTERS)
def test_every_double_plan_is_the_table_s(letter: str) -> None:
    """Both samples, cumulative numbers, and the single plan where the page says to use it.

    Source: MIL-STD-105E, Table III-A, all 26 AQLs. One published transcription has at AQL 100, letters L to P, a second Re of
    26, which is also its Ac: a plan that at 26 both accepts and rejects. It has to be 27, as at the AQLs beside it.
    """
    plans = [plan_of(letter=letter, aql=float(aql), scheme="double") for aql in TABLES["aql"]]

    assert TABLES["double"][letter] == list(map(written, plans))
    assert all(plan.stages[-1].accept == plan.stages[-1].reject - 1 for plan in plans)


@pytest.mark.parametrize("level", TABLES["levels"])
@pytest.mark.parametrize(("number", "first"), ENDS)
def test_every_code_letter_is_the_table_s(number: int, first: int, level: str) -> None:
    """The first and the last lot of each row. Source: MIL-STD-105E, Table I (SEEN in two transcriptions, which agree)."""
    last = TABLES["code_letters"][number][1] or 10**9
    expected = TABLES["code_letters"][number][2][TABLES["levels"].index(level)]

    assert [expected, expected] == [mil_std_105e.letters().of(level, packages) for packages in (first, last)]


def test_a_lot_s_size_and_a_level_give_its_plan() -> None:
    """1000 balls at level II, AQL 2.5: letter J, 80 balls, 5 accept, 6 reject. MIL-STD-105E Table II-A (reference A1, SEEN)."""
    assert "J 80 5/6" == written(plan_of(LotSize(1000), level="II", aql=2.5))


def test_an_arrow_up_takes_a_smaller_sample() -> None:
    """30 packages at level II and AQL 2.5 have letter D, whose arrow leads up to C. Table II-A (reference A2, SEEN)."""
    assert "C 5 0/1" == written(plan_of(LotSize(30), level="II", aql=2.5))


def test_a_sample_as_large_as_the_lot_is_every_package() -> None:
    """12 packages at level II, AQL 0.65: letter B, an arrow to F, n 20. Table II-A and its footnote (reference A3, SEEN)."""
    plan = plan_of(LotSize(12), level="II", aql=0.65)

    assert "F 12 0/1" == written(plan)
    assert plan.takes_all
    assert "F 20 0/1" == written(plan_of(letter="B", aql=0.65))


def test_tightened_inspection_leads_two_rows_down() -> None:
    """Letter C at AQL 6.5. MIL-STD-105E Table II-B (reference A4, SEEN)."""
    assert "E 13 1/2" == written(plan_of(LotSize(None, inspection="tightened"), letter="C", aql=6.5))


def test_the_13_arrows_that_one_transcription_misreads_lead_to_ac_1() -> None:
    """Below each Ac 0 of the tightened table an arrow leads on, two rows down, to Ac 1; never to Ac 0 and the letter's own n.

    Source: MIL-STD-105E, Table II-B (SEEN in the other transcription). Letter Q at AQL 0.025 leads to S, n 3150, below R.
    """
    lot = LotSize(None, inspection="tightened")
    diagonal = zip(LETTERS[1:14], TABLES["aql"][14:1:-1], strict=True)
    below = [plan_of(lot, letter=LETTERS[LETTERS.index(letter) + 1], aql=float(aql)) for letter, aql in diagonal]
    expected = [f"{letter} {size} 1/2" for letter, size in zip("EFGHJKLMNPQRS", SIZES[4:], strict=True)]

    assert expected == list(map(written, below))


SIZES = [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150]
"""Of the letters A to S under normal and tightened inspection."""


def test_reduced_inspection_has_a_gap() -> None:
    """Letter J at AQL 2.5: 3 of 32 lie between Ac and Re. MIL-STD-105E Table II-C (reference A5, SEEN in one transcription)."""
    stage = plan_of(LotSize(None, inspection="reduced"), letter="J", aql=2.5).stages[0]

    assert (32, 2, 5) == (stage.packages, stage.accept, stage.reject)


def test_a_double_plan_counts_both_samples_together() -> None:
    """Letter J at AQL 2.5: 3 of the first 50 decide nothing. MIL-STD-105E Table III-A (reference A6, SEEN)."""
    assert "J 50 2/5 50 6/7" == written(plan_of(letter="J", aql=2.5, scheme="double"))


def test_its_letters_are_not_those_of_the_standard_by_variables() -> None:
    """A letter without the name of its standard is meaningless: n 5 is C here and D there, 20 is F and H, 50 is H and M.

    Source: MIL-STD-105E, Table II-A, and MIL-STD-414, Table B-1 (SEEN); neither letter I nor O is here.
    """
    assert "B 3|C 5|F 20|H 50" == "|".join(f"{letter} {own_size(letter)}" for letter in "BCFH")
    assert list(LETTERS) == mil_std_105e.code_letters()


def own_size(letter: str) -> int:
    """The sample size of a letter at an AQL at which it has a plan of its own."""
    plans = (plan_of(letter=letter, aql=float(aql)) for aql in TABLES["aql"])
    return next(plan.stages[0].packages for plan in plans if plan.letter == letter)
