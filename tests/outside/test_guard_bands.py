"""Guard bands and probabilities of conformity, against published examples."""

import pytest

from tests.support.grades import Document, grade, mean, series
from tests.support.judging import found

ELONGATION: Document = {"name": "elongation_at_break", "unit": "%"}


@pytest.mark.parametrize(
    ("value", "outcome", "is_within"),
    [(9.5, "pass", True), (9.6, "pass", True), (9.8, "undecided", True), (10.2, "undecided", False), (10.5, "fail", False)],
)
def test_the_five_statements_of_a_rule_that_is_not_binary(value: float, outcome: str, *, is_within: bool) -> None:
    """An upper limit of 10.0 and U = 0.4: pass, pass on the line, twice conditional, fail.

    Source: ILAC-G8:09/2019, 4.2, non-binary rule with w = U (reference U2; SEEN rule, CALC). Both conditional statements are
    `undecided` here, and the findings tell on which side of the limit the value lies. Equality passes: a decision, no fact.
    """
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.4, "coverage_factor": 2}}
    finding = found(grade(mean(upper=10, decision=decision), of=ELONGATION), series(value, of=ELONGATION))
    measured = finding["measured"]

    assert outcome == finding["outcome"]
    assert is_within == (measured["conformity_probability"] > 0.5)


def test_the_diode_conforms_with_a_probability_of_0_92() -> None:
    """5.47 with u = 0.05 lies 1.4 standard uncertainties above a limit of 5.40.

    Source: JCGM 106:2012, 7.4 (reference U1): z = 1.40, p = 0.92, Φ(1.40) = 0.91924 by computation; SEEN earlier + CALC. The
    voltages behind it are from memory, and there they are negative with an upper limit.
    """
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.1, "coverage_factor": 2}}
    finding = found(grade(mean(lower=5.40, decision=decision), of=ELONGATION), series(5.47, of=ELONGATION))

    assert 0.91924 == round(finding["measured"]["conformity_probability"], 5)
    assert "undecided" == finding["outcome"]


def test_at_the_acceptance_limit_the_risk_is_2_28_percent() -> None:
    """W = U = 2u gives 0.97725, so that "2.5 %" is really 2.28 %.

    Source: standard normal distribution, Φ(2); CALC.
    """
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.4, "coverage_factor": 2}}
    finding = found(grade(mean(upper=10, decision=decision), of=ELONGATION), series(9.6, of=ELONGATION))

    assert 0.97725 == finding["measured"]["conformity_probability"]


@pytest.mark.parametrize(("factor", "probability"), [(1.645, 0.95), (1.960, 0.975), (2.326, 0.99)])
def test_a_guard_band_for_a_wanted_probability(factor: float, probability: float) -> None:
    """A band of 1.645, 1.960 or 2.326 standard uncertainties gives 95, 97.5 or 99 % at the acceptance limit.

    Source: standard normal quantiles to three decimals; CALC.
    """
    decision = {"rule": "guarded_acceptance", "uncertainty": {"expanded": 0.1 * factor, "coverage_factor": factor}}
    finding = found(grade(mean(upper=10, decision=decision), of=ELONGATION), series(10 - 0.1 * factor, of=ELONGATION))

    assert probability == round(finding["measured"]["conformity_probability"], 4)
