"""Probabilities of acceptance against statutes, directives and the tables of sampling plans."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from service.engine.sampling import AttributesPlan, Stage, VariablesPlan
from service.engine.sampling.curves import AttributesCurve, Law, VariablesCurve
from service.engine.sampling.tables import mil_std_105e

FACTS: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "operating_characteristics.json").read_text())
LARGEST_PERCENT = 10


def curve(*stages: list[int], law: Law = "binomial", lot: int | None = None) -> AttributesCurve:
    """The plan of these stages, each with its packages, Ac and Re."""
    return AttributesCurve(AttributesPlan(tuple(Stage(*stage) for stage in stages)), law, lot)


def percent_at(of: AttributesCurve, probability: float) -> float:
    """The percent nonconforming that is accepted with that probability."""
    quality = of.accepted_with_at_least(probability)
    assert quality is not None
    return 100 * quality


@pytest.mark.parametrize("plan", FACTS["statute_single"]["plans"])
def test_the_single_plans_of_the_statute_have_the_points_that_it_prints(plan: dict[str, Any]) -> None:
    """UK SI 1996/2636, Schedule (reference A7; SEEN + CALC): 0.446 % and 5.79 % for 80 and 1, printed 0.44 and 5.8."""
    of = curve([plan["packages"], plan["accept"], plan["accept"] + 1])

    assert float(plan["at_95"]) == pytest.approx(percent_at(of, 0.95), abs=5e-4)
    assert float(plan["at_05"]) == pytest.approx(percent_at(of, 0.05), abs=5e-3)
    assert float(plan["printed_95"]) == pytest.approx(percent_at(of, 0.95), abs=1e-2)
    assert float(plan["printed_05"]) == pytest.approx(percent_at(of, 0.05), abs=5e-2)


@pytest.mark.parametrize("plan", FACTS["statute_double"]["plans"])
def test_the_points_printed_beside_the_double_plans_do_not_hold(plan: dict[str, Any]) -> None:
    """UK SI 1996/2636 prints those of the single plans beside the double ones (SEEN); we follow the computation (CALC)."""
    of = curve(*plan["stages"])

    assert abs(percent_at(of, 0.95) - float(plan["printed_95"])) > 0.02
    assert abs(percent_at(of, 0.05) - float(plan["printed_05"])) > 0.05
    if "at_95" in plan:
        assert float(plan["at_95"]) == pytest.approx(percent_at(of, 0.95), abs=5e-4)
        assert float(plan["at_05"]) == pytest.approx(percent_at(of, 0.05), abs=5e-3)


@pytest.mark.parametrize("plan", FACTS["directive"]["plans"])
def test_the_directive_s_plans_accept_so_many_in_forty_defective(plan: dict[str, Any]) -> None:
    """76/211/EEC Annex II, UK SI 2006/659 (SEEN the plans, CALC the probabilities)."""
    point = curve(*plan["stages"]).at(Fraction(25, 1000))

    assert float(plan["acceptance"]) == pytest.approx(point.acceptance, abs=5.5e-4)


def test_a_finite_lot_is_accepted_more_often_than_a_process() -> None:
    """Lot of 500 with 2 nonconforming, 80 drawn, at most 1 (CALC)."""
    by_lot = curve([80, 1, 2], law="hypergeometric", lot=500).at(Fraction(2, 500))
    by_process = curve([80, 1, 2]).at(Fraction(4, 1000))

    assert float(FACTS["finite_lot"]["hypergeometric"]) == pytest.approx(by_lot.acceptance, abs=5e-5)
    assert float(FACTS["finite_lot"]["binomial"]) == pytest.approx(by_process.acceptance, abs=5e-5)


def at_aqls(accept: int) -> list[float]:
    """The probabilities of acceptance at the AQL of all the letters' own plans of this Ac, under normal inspection."""
    found = []
    for letter in mil_std_105e.code_letters():
        for aql in map(Fraction, mil_std_105e.aqls()):
            plan = mil_std_105e.single(letter, aql, "normal")
            stage = plan.samples[0]
            if plan.letter == letter and stage.accept == accept:
                law: Law = "binomial" if aql <= LARGEST_PERCENT else "poisson"
                found.append(curve([*stage], law=law).at(aql / 100).acceptance)
    return found


@pytest.mark.parametrize(("accept", "ends"), FACTS["at_aql_by_accept"]["ranges"].items())
def test_the_aql_is_accepted_as_often_as_the_table_s_plans_do(accept: str, ends: list[str]) -> None:
    """MIL-STD-105E Table II-A (SEEN), probabilities CALC: with Ac 0 only 7 lots in 8 at the AQL are accepted, not 95 %."""
    found = at_aqls(int(accept))

    assert [float(end) for end in ends] == pytest.approx([min(found), max(found)], abs=5.5e-4)


VARIABLES = [
    (plan["aql"], int(packages), plan["k_by_n"][packages], acceptance)
    for plan in FACTS["variables_at_aql"]["plans"]
    for packages, acceptance in plan["acceptance_by_n"].items()
]


@pytest.mark.parametrize(("aql", "packages", "k", "acceptance"), VARIABLES)
def test_plans_by_variables_accept_the_aql_so_often(aql: str, packages: int, k: str, acceptance: str) -> None:
    """MIL-STD-414 Table B-1 (SEEN), probabilities CALC: P(T′ ≥ k·√n)."""
    of = VariablesCurve(VariablesPlan(packages, Fraction(k)), sigma_is_known=False, lot=None)

    assert float(acceptance) == pytest.approx(of.at(Fraction(aql) / 100).acceptance, abs=5.5e-4)


def test_a_simulated_plan_is_as_the_law_says() -> None:
    """With n 5, k 1.53, AQL 1.0: .8983 exactly, .8979 in 400,000 simulated samples (CALC)."""
    of = VariablesCurve(VariablesPlan(5, Fraction("1.53")), sigma_is_known=False, lot=None)

    assert 0.8983 == pytest.approx(of.at(Fraction(1, 100)).acceptance, abs=5e-5)
