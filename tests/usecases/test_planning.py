"""What a sampling plan comes to for a lot, and its risks."""

from math import sqrt
from typing import Any

import pytest
from msgspec import UNSET, convert, json
from scipy import stats

from service.engine.documents import Flaw, FlawedDocumentError
from service.usecases.sampling_plans import PlanRequest, SamplingPlan, plan
from service.usecases.sampling_plans.planning import PlanStage, rounded_figure

LETTER_J = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 2.5}
LEVEL_II = {"plan": "code_letter", "table": "MIL-STD-105E", "level": "II", "aql": 2.5}
BY_414 = {"plan": "code_letter", "table": "MIL-STD-414", "letter": "D", "aql": 1}
POINTS = {"plan": "two_point", "producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 6.5, "risk": 10}}
FIXED = {"plan": "fixed", "packages": 20}
NEAR = {"plan": "two_point", "producer": {"percent": 1, "risk": 5}, "consumer": {"percent": 4, "risk": 10}}
BANDS = {"plan": "bands", "bands": [{"up_to": 100, "packages": 3}]}
COILS = {"plan": "square_root", "factor": 0.4, "counted_in": {"value": 220, "unit": "m"}}


def planned(sample: object, **members: Any) -> SamplingPlan:
    """The answer to a request."""
    return plan(convert({"sample": sample, **members}, PlanRequest))


def flaws(sample: object, **members: Any) -> list[Flaw]:
    """What is wrong with a request."""
    with pytest.raises(FlawedDocumentError) as raised:
        planned(sample, **members)
    return list(raised.value.flaws)


def test_a_single_plan_shows_its_operating_characteristic() -> None:
    """MIL-STD-105E Table II-A, lot of 1000, level II, AQL 2.5: J, 80, 5/6 (reference A1). Source: scipy.stats.binom."""
    found = planned(LEVEL_II, lot={"size": 1000}, qualities=[0, 2.5, 12, 100])

    assert ("MIL-STD-105E", "J", "normal", "binomial") == (found.table, found.letter, found.inspection, found.law)
    assert [PlanStage(packages=80, accept=5, reject=6)] == found.stages
    assert [0, 2.5, 12, 100] == [point.quality for point in found.curve]
    for point in found.curve:
        acceptance = float(stats.binom.cdf(5, 80, point.quality / 100))
        assert acceptance == pytest.approx(point.acceptance, abs=1e-12)
        assert point.quality * acceptance * 920 / 1000 == pytest.approx(point.average_outgoing_quality, abs=1e-10)
        assert 80 == point.average_sample_number


def test_the_two_usual_points_are_told() -> None:
    """The qualities accepted with 95 % and with 10 %: P(X ≤ 5) of 80 (scipy.stats.binom)."""
    found = planned(LETTER_J)
    assert found.producer
    assert found.consumer

    assert (0.95, 0.1) == (found.producer.acceptance, found.consumer.acceptance)
    assert 0.95 == pytest.approx(float(stats.binom.cdf(5, 80, found.producer.quality / 100)), abs=1e-10)
    assert 0.1 == pytest.approx(float(stats.binom.cdf(5, 80, found.consumer.quality / 100)), abs=1e-10)


def test_a_plan_that_accepts_everything_has_no_such_points() -> None:
    """At most 20 of 20 is no test."""
    found = planned(FIXED, at_most=20)

    assert (UNSET, UNSET) == (found.producer, found.consumer)
    assert 100 == found.curve[-1].quality


def test_qualities_of_interest_are_taken_where_none_are_named() -> None:
    """From 0 to where the plan accepts 1 lot in 100, in nice steps: 80, 5/6 accepts 15 % with 0.014 and 16 % with 0.008."""
    assert list(range(17)) == [point.quality for point in planned(LETTER_J).curve]


def test_for_a_lot_qualities_of_interest_are_whole_packages() -> None:
    """Lot of 50, 20 drawn, none may fail: 9 nonconforming are accepted with 0.0057, 8 with 0.0109 (scipy.stats.hypergeom)."""
    found = planned(FIXED, at_most=0, lot={"size": 50}, law="hypergeometric")

    assert [100 * held / 50 for held in range(10)] == [point.quality for point in found.curve]
    assert float(stats.hypergeom.cdf(0, 50, 9, 20)) == pytest.approx(found.curve[9].acceptance, abs=1e-12)


def test_occurrences_are_counted_by_poisson_s_law() -> None:
    """A package may have more than one: 400 per hundred packages is 4 a package."""
    found = planned(FIXED, at_most=60, counting="occurrences", qualities=[300, 400, 10_000])

    assert "poisson" == found.law
    assert [float(stats.poisson.cdf(60, mean)) for mean in (60, 80, 2000)] == pytest.approx(
        [point.acceptance for point in found.curve], abs=1e-12
    )


def test_what_is_hopeless_is_rejected_and_nothing_else() -> None:
    """Beyond four times Re and 2,000 no row is worked out; up to there it is, and is 0 to all digits told."""
    found = planned({"plan": "fixed", "packages": 10_000}, at_most=0, qualities=[0.001, 20.03, 20.05])

    assert [float(stats.binom.cdf(0, 10_000, 1e-5)), 0, 0] == pytest.approx(
        [point.acceptance for point in found.curve], abs=1e-12
    )


def test_a_sample_that_is_the_whole_lot_says_so() -> None:
    """Nothing leaves unseen: the average outgoing quality is 0. Three of ten may fail: 30 % is accepted, 40 % is not."""
    found = planned({"plan": "every"}, at_most=3, lot={"size": 10}, law="hypergeometric", qualities=[30, 40])

    assert found.takes_all
    assert [(1, 0), (0, 0)] == [(point.acceptance, point.average_outgoing_quality) for point in found.curve]


def test_a_plan_by_variables_shows_its_operating_characteristic() -> None:
    """MIL-STD-414 Table B-1, D at 1.0: n 5, k 1.53, of which 1 % is accepted with .8983 (CALC). Source: scipy.stats."""
    found = planned(BY_414, by="variables", qualities=[1, 10])
    known = planned(BY_414, by="variables", sigma="known", qualities=[1, 10])
    deviations = [float(stats.norm.isf(share)) for share in (0.01, 0.1)]

    assert ([PlanStage(packages=5, k=1.53)], "noncentral_t", "normal") == (found.stages, found.law, known.law)
    assert 0.8983 == pytest.approx(found.curve[0].acceptance, abs=5e-5)
    assert [float(stats.nct.sf(1.53 * sqrt(5), 4, each * sqrt(5))) for each in deviations] == pytest.approx(
        [point.acceptance for point in found.curve], abs=1e-11
    )
    assert [float(stats.norm.cdf(sqrt(5) * (each - 1.53))) for each in deviations] == pytest.approx(
        [point.acceptance for point in known.curve], abs=1e-11
    )


def test_a_size_alone_goes_with_a_k_of_the_caller() -> None:
    """As a grade may give one."""
    assert [PlanStage(packages=20, k=1.82)] == planned(FIXED, by="variables", k=1.82).stages


def test_two_points_go_by_the_law_that_they_name() -> None:
    """81 and 2 for a process, 76 and 2 for a lot of 500, 37 and 1.8779 by variables: see the tests of the plan itself."""
    by_lot = planned({**POINTS, "law": "hypergeometric"}, lot={"size": 500})

    assert [PlanStage(packages=81, accept=2, reject=3)] == planned(POINTS).stages
    assert ([PlanStage(packages=76, accept=2, reject=3)], "hypergeometric") == (by_lot.stages, by_lot.law)
    assert [PlanStage(packages=37, k=1.8779)] == planned(POINTS, by="variables").stages


def test_the_same_question_gets_the_same_answer_byte_for_byte() -> None:
    """Figures are told with twelve digits, fewer than they are good to."""
    assert json.encode(planned(LETTER_J)) == json.encode(planned(LETTER_J))
    assert (0.123456789012, 0.0, 81.0) == (rounded_figure(0.12345678901234), rounded_figure(1e-15), rounded_figure(81.0))


@pytest.mark.parametrize(
    ("sample", "members", "code", "at"),
    [
        (LEVEL_II, {}, "lot-size-unknown", "/lot/size"),
        (LEVEL_II, {"lot": {"size": 1}}, "plan-not-in-table", "/lot/size"),
        ({**LETTER_J, "scheme": "double"}, {"lot": {"inspection": "reduced"}}, "plan-not-in-table", "/lot/inspection"),
        (COILS, {"at_most": 0}, "lot-size-unknown", "/lot/length"),
        (BANDS, {"at_most": 0, "lot": {"size": 101}}, "lot-beyond-bands", "/lot/size"),
        (FIXED, {"at_most": 0, "lot": {"size": 19}}, "lot-smaller-than-plan", "/lot/size"),
        (FIXED, {"by": "variables", "k": 1, "lot": {"size": 19}}, "lot-smaller-than-plan", "/lot/size"),
        ({**NEAR, "law": "hypergeometric"}, {"lot": {"size": 10}}, "no-such-plan", "/sample"),
        (FIXED, {"at_most": 0, "law": "hypergeometric"}, "lot-size-unknown", "/lot/size"),
        ({"plan": "every"}, {"at_most": 0, "lot": {"size": 100_001}}, "plan-too-large", "/sample"),
        (FIXED, {}, "missing-field", "/at_most"),
        (FIXED, {"by": "variables"}, "missing-field", "/k"),
        (LETTER_J, {"at_most": 2}, "at-most-not-here", "/at_most"),
        (BY_414, {"by": "variables", "k": 2}, "k-not-here", "/k"),
        (FIXED, {"by": "variables", "k": 1e-12}, "beyond-range", "/k"),
        (FIXED, {"at_most": 0, "k": 2}, "not-of-this-basis", "/k"),
        (FIXED, {"at_most": 0, "sigma": "known"}, "not-of-this-basis", "/sigma"),
        (FIXED, {"by": "variables", "k": 1, "law": "poisson"}, "not-of-this-basis", "/law"),
        (BY_414, {"by": "variables", "at_most": 1}, "not-of-this-basis", "/at_most"),
        (BY_414, {"by": "variables", "counting": "packages"}, "not-of-this-basis", "/counting"),
        (BY_414, {}, "plan-not-here", "/sample"),
        (LETTER_J, {"by": "variables"}, "plan-not-here", "/sample"),
        (LETTER_J, {"counting": "occurrences", "law": "binomial"}, "law-of-packages", "/law"),
        (POINTS, {"counting": "occurrences"}, "points-of-packages", "/sample"),
        ({**LETTER_J, "aql": 15}, {}, "aql-of-occurrences", "/sample/aql"),
        ({"plan": "fixed", "packages": 1}, {"by": "variables", "k": 1}, "sample-too-small", "/sample"),
        ({"plan": "every"}, {"by": "variables", "k": 1, "lot": {"size": 1}}, "sample-too-small", "/sample"),
        ({**FIXED, "readings_per_package": 2}, {"at_most": 0}, "readings-not-here", "/sample/readings_per_package"),
        (LETTER_J, {"qualities": [1, 100.5]}, "quality-above-all", "/qualities/1"),
        (LETTER_J, {"qualities": [1e-10]}, "beyond-range", "/qualities/0"),
        (LETTER_J, {"lot": {"length": {"value": 1, "unit": "kg"}}}, "unit-of-other-quantity", "/lot/length/unit"),
    ],
)
def test_what_is_wrong_is_said_where_it_stands(sample: object, members: dict[str, Any], code: str, at: str) -> None:
    """Never a curve that looks right."""
    assert [(code, at)] == [(flaw.code, flaw.at) for flaw in flaws(sample, **members)]


@pytest.mark.parametrize(
    ("sample", "members", "says"),
    [
        (BY_414, {}, 'MIL-STD-414 is by variables; add `"by": "variables"`.'),
        (BY_414, {"by": "attributes"}, 'MIL-STD-414 is by variables; set `"by": "variables"`.'),
        (LETTER_J, {"by": "variables"}, 'MIL-STD-105E is by attributes; set `"by": "attributes"`.'),
    ],
)
def test_a_table_of_the_other_basis_says_which_to_ask_for(sample: object, members: dict[str, Any], says: str) -> None:
    """The tables are known by their names, and what each accepts by is easily mixed up."""
    assert [says] == [flaw.text for flaw in flaws(sample, **members)]


@pytest.mark.parametrize("k", [40, 1_000_000, 1e12])
def test_a_k_that_no_quality_meets_has_no_points(k: float) -> None:
    """Two readings nearly alike give any quality statistic, so that some lots are accepted, but never 95 in 100."""
    found = planned({"plan": "fixed", "packages": 2}, by="variables", k=k)

    assert UNSET == found.producer
    assert max(point.acceptance for point in found.curve[1:]) < 0.95


def test_one_package_has_risks_where_sigma_is_known() -> None:
    """One reading and k 1: accepted where z(1 − p) is above k, at p = Φ(−1) every second time."""
    found = planned({"plan": "fixed", "packages": 1}, by="variables", k=1, sigma="known", qualities=[15.865525393145708])

    assert 0.5 == pytest.approx(found.curve[0].acceptance, abs=1e-12)
