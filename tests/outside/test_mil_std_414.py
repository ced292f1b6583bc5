"""Acceptance by variables against the worked example of MIL-STD-414, and its plans against every cell of its table."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from msgspec import convert

from service.engine.sampling import CodeLetter, LotSize, NoPlan, VariablesPlan
from service.engine.sampling.tables import mil_std_414
from tests.support.engine_answers import Document, finding_on

K = 1.53
"""Normal inspection, code letter D (n = 5), AQL 1.0."""

TABLES: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "mil_std_414.json").read_text())
"""SEEN in a published transcription; each k computed again by the noncentral t distribution."""
LETTERS = "BCDEFGHIJKLMNOPQ"


def finding(readings: list[float], lower: float) -> Document:
    """The finding by variables on a mass in grams."""
    specification = {
        "characteristics": [{"name": "net_mass", "unit": "g", "sample": {"plan": "fixed", "packages": 5}}],
        "requirements": [{"id": "r", "kind": "variables", "of": "net_mass", "limits": {"lower": lower}, "k": K}],
    }
    series = [{"characteristic": "net_mass", "unit": "g", "values": readings}]
    return finding_on(specification, {"lot": {"id": "L-1", "size": 40}, "series": series})


@pytest.mark.parametrize(
    ("lower", "quality", "outcome"), [(180, 1.70389, "pass"), (183, 1.36311, "fail"), (181.53, 1.53009, "pass")]
)
def test_the_worked_example_comes_out(lower: float, quality: float, outcome: str) -> None:
    """Readings 197, 188, 184, 205, 201: mean 195, s 8.80341, so that Q is 15/s, 12/s, 13.47/s.

    Source: MIL-STD-414, section B, Form 1 (reference V1, remembered; V2 and the last by calculation).
    """
    found = finding([197, 188, 184, 205, 201], lower)

    assert outcome == found["outcome"]
    assert quality == pytest.approx(found["measured"]["value"], abs=5e-6)
    assert found["margin"] == pytest.approx(quality - K, abs=5e-6)


@pytest.mark.parametrize(("lower", "outcome"), [(180, "pass"), (180.001, "fail")])
def test_a_lot_without_spread_goes_by_its_mean(lower: float, outcome: str) -> None:
    """Five readings of 180: the quality has no bound, so none is told. Source: the limit of the same rule (reference V3)."""
    found = finding([180] * 5, lower)

    assert outcome == found["outcome"]
    assert "margin" not in found
    assert "measured" not in found


def plan_of(lot: LotSize | None = None, **members: object) -> VariablesPlan | NoPlan:
    """What a grade's `code_letter` on this table comes to for a lot, of unknown size where none is given."""
    sample = convert({"plan": "code_letter", "table": "MIL-STD-414", **members}, CodeLetter)
    return sample.variables_plan(lot or LotSize(None))


def as_printed(cell: str) -> VariablesPlan:
    """A plan of the data file: `G 15 2.64`."""
    letter, packages, k = cell.split()
    return VariablesPlan(int(packages), Fraction(k), letter)


@pytest.mark.parametrize("letter", LETTERS)
def test_every_k_is_the_table_s(letter: str) -> None:
    """The numeral that is printed is the one that is compared, and an arrow moves the sample size too.

    Source: MIL-STD-414, Table B-1, all 14 AQLs. The transcription keeps the letter's own sample size at an arrow; the page's
    arrows are followed.
    """
    found = [plan_of(letter=letter, aql=float(aql)) for aql in TABLES["aql"]]

    assert list(map(as_printed, TABLES["normal"][letter])) == found


@pytest.mark.parametrize("letter", LETTERS)
def test_tightened_inspection_takes_the_next_smaller_aql(letter: str) -> None:
    """After two bad lots of five the same AQL asks for more. Source: MIL-STD-414, Table B-1 (SEEN, 208 cells)."""
    lot = LotSize(None, inspection="tightened")
    found = [plan_of(lot, letter=letter, aql=float(aql)) for aql in TABLES["aql"][1:]]

    assert list(map(as_printed, TABLES["normal"][letter][:-1])) == found


@pytest.mark.parametrize("level", TABLES["levels"])
@pytest.mark.parametrize("number", range(len(TABLES["code_letters"])))
def test_every_code_letter_is_the_table_s(number: int, level: str) -> None:
    """The first and the last lot of each row. Source: MIL-STD-414, Table A-2 (SEEN)."""
    first, last, letters = TABLES["code_letters"][number]
    expected = letters[TABLES["levels"].index(level)]

    assert [expected, expected] == [mil_std_414.letters().of(level, packages) for packages in (first, last or 10**9)]


def test_an_arrow_moves_n_and_k() -> None:
    """Letter B at AQL 1.0 uses letter C, its n and its k. Source: MIL-STD-414, Table B-1 (reference V4, SEEN)."""
    assert VariablesPlan(4, Fraction("1.45"), "C") == plan_of(letter="B", aql=1.0)


def test_the_worked_example_s_plan_is_the_table_s() -> None:
    """40 packages at level IV and AQL 1.0 are letter D. Source: MIL-STD-414, Tables A-2 and B-1 (SEEN)."""
    assert VariablesPlan(5, Fraction(str(K)), "D") == plan_of(LotSize(40), level="IV", aql=1.0)


def test_its_letters_are_its_own() -> None:
    """A letter without its standard's name is meaningless: the others name other sizes, and have no O, or no I and no O.

    Source: MIL-STD-414, Table B-1 (SEEN). At n 5 and AQL 0.40 ANSI/ASQ Z1.9 has a plan of its own, where this standard's
    letter D leads to E, n 7, k 1.88: they are different plans, not other names.
    """
    assert VariablesPlan(25, Fraction("1.53"), "I") == plan_of(letter="I", aql=2.5)
    assert VariablesPlan(100, Fraction("1.67"), "O") == plan_of(letter="O", aql=2.5)
    assert VariablesPlan(7, Fraction("1.88"), "E") == plan_of(letter="D", aql=0.4)
    assert list(LETTERS) == mil_std_414.code_letters()
