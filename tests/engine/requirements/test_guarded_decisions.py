"""Guarded decisions: what uncertainty makes of a value near a limit."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import FORCE, RUNNAGE, Document, each, grade, lot, mean, series, spread
from tests.support.judging import checked, flaws_in, flaws_of, found, judged

AT = "/requirements/0/decision"
TWENTY: Document = {"expanded": 20, "coverage_factor": 2}


def guarded(rule: str = "guarded_acceptance", uncertainty: Document | None = TWENTY, **members: object) -> Document:
    """A decision rule."""
    stated = {} if uncertainty is None else {"uncertainty": uncertainty}
    return {"rule": rule, **stated, **members}


@pytest.mark.parametrize(
    ("rule", "between", "value", "outcome"),
    [
        ("guarded_acceptance", "undecided", 1420, "pass"),
        ("guarded_acceptance", "undecided", 1419.9, "undecided"),
        ("guarded_acceptance", "undecided", 1380, "undecided"),
        ("guarded_acceptance", "undecided", 1379.9, "fail"),
        ("guarded_acceptance", "fail", 1420, "pass"),
        ("guarded_acceptance", "fail", 1419.9, "fail"),
        ("guarded_rejection", "undecided", 1400, "pass"),
        ("guarded_rejection", "undecided", 1399.9, "undecided"),
        ("guarded_rejection", "undecided", 1380, "undecided"),
        ("guarded_rejection", "undecided", 1379.9, "fail"),
        ("guarded_rejection", "fail", 1399.9, "fail"),
        ("simple", None, 1400, "pass"),
        ("simple", None, 1399.9, "fail"),
    ],
)
@pytest.mark.parametrize("kind", [mean, each])
def test_the_outcome_beside_a_lower_limit_of_1400(
    kind: type, rule: str, between: str | None, value: float, outcome: str
) -> None:
    """With an uncertainty of 20 N the acceptance limit is 1420 N and the rejection limit 1380 N, both inclusive."""
    decision = {"rule": rule} if between is None else guarded(rule, between=between)
    specification = grade(kind(lower=1400, decision=decision))

    assert outcome == found(specification, series(value))["outcome"]
    if kind is each:
        assert outcome == checked(specification, value)["outcome"]


def test_the_finding_shows_all_limits_and_how_probable_conformity_is() -> None:
    """1420 N is 2 standard uncertainties above 1400 N: Φ(2) = 0.977250 (standard normal table)."""
    finding = found(grade(mean(lower=1400, decision=guarded())), series(1420))

    assert {"lower": 1400, "unit": "N", "acceptance": {"lower": 1420}, "rejection": {"lower": 1380}} == finding["limits"]
    assert 0.97725 == finding["measured"]["conformity_probability"]
    assert (
        "The mean breaking force, 1420 N, is exactly on the lower acceptance limit of 1420 N, moved in from 1400 N."
    ) == finding["reasons"][0]["text"]


def test_between_the_limits_the_reason_says_what_would_help() -> None:
    """An inspector is told why neither green nor red is shown, and where the value lies."""
    finding = found(grade(mean(lower=1400, decision=guarded())), series(1410))

    assert ["between-guarded-limits", "below-lower"] == [reason["code"] for reason in finding["reasons"]]
    assert (
        "With its uncertainty, the breaking force is neither surely within the limits nor surely outside them. "
        "Measure with less uncertainty, or take more readings."
    ) == finding["reasons"][0]["text"]
    assert AT == finding["reasons"][0]["rule"]


@pytest.mark.parametrize(("value", "outcome"), [(1600, "pass"), (1599, "undecided")])
def test_an_uncertainty_in_percent_is_of_the_value(value: float, outcome: str) -> None:
    """25 % of 1600 is 400, and 1600 less 400 is the limit of 1200."""
    decision = guarded(uncertainty={"percent": 25, "coverage_factor": 2})

    assert outcome == found(grade(mean(lower=1200, decision=decision)), series(value))["outcome"]


@pytest.mark.parametrize(("value", "outcome"), [(960, "pass"), (961, "undecided"), (1600, "undecided"), (1601, "fail")])
def test_a_percentage_draws_an_upper_limit_in(value: float, outcome: str) -> None:
    """960 and a quarter of it is 1200; 1600 less a quarter of it is 1200 too."""
    decision = guarded(uncertainty={"percent": 25, "coverage_factor": 2})

    assert outcome == found(grade(mean(upper=1200, decision=decision)), series(value))["outcome"]


def test_the_series_may_state_the_uncertainty() -> None:
    """Two machines, 10 N and 2 kgf (19.6 N): the greater counts, for 1419.7 N is not surely above 1400."""
    ten = {**series(1419.7), "uncertainty": {"expanded": 10, "coverage_factor": 2}}
    two = {**series(144.77, unit="kgf"), "uncertainty": {"expanded": 2, "coverage_factor": 2}}
    specification = grade(each(lower=1400, decision=guarded(uncertainty=None)))

    assert "pass" == found(specification, ten)["outcome"]
    assert "pass" == found(specification, ten, two)["outcome"]
    assert "undecided" == found(specification, {**ten, "values": [1419.6]}, two)["outcome"]


def test_without_any_uncertainty_nothing_is_decided() -> None:
    """A guard of nothing would be simple acceptance under another name."""
    specification = grade(each(lower=1400, decision=guarded(uncertainty=None)))
    finding = found(specification, series(1500))

    assert ("undecided", ["uncertainty-missing"]) == (finding["outcome"], [reason["code"] for reason in finding["reasons"]])
    assert "undecided" == checked(specification, 1500)["outcome"]
    assert "undecided" == judged(specification, lot())["outcome"]


def test_an_outer_limit_is_guarded_as_well() -> None:
    """One weak place may be, but none that may be below 1000 N: 1010 N with 20 N of uncertainty may be."""
    requirement = each(lower=1400, outer={"lower": 1000}, allowed_outside={"count": 1}, decision=guarded())

    assert "pass" == found(grade(requirement), series(1500, 1020))["outcome"]
    assert "undecided" == found(grade(requirement), series(1500, 1010))["outcome"]


def test_a_limit_that_depends_on_the_lot_is_guarded_too() -> None:
    """80 % of a mean of 1000 is 800; 810 with 20 N of uncertainty is not surely above it."""
    requirement = each(lower={"percent": 80, "of_mean": "breaking_force"}, decision=guarded())

    assert "undecided" == found(grade(requirement), series(1190, 810))["outcome"]


def test_what_a_decision_rule_is_refused_for() -> None:
    """A rule that can't be followed is told before it holds up a lot."""
    cases = [
        (
            guarded(uncertainty={"coverage_factor": 2}),
            Flaw(
                "expanded-or-percent",
                ("Neither `expanded` nor `percent` is given. Give one of the two."),
                f"{AT}/uncertainty",
            ),
        ),
        (
            guarded(uncertainty={"percent": 100, "coverage_factor": 2}),
            Flaw(
                "uncertainty-too-great",
                "An uncertainty of 100 % or more of the value leaves the value unknown. Correct it.",
                f"{AT}/uncertainty/percent",
            ),
        ),
        (
            {"rule": "simple", "between": "fail"},
            Flaw(
                "only-with-guard",
                "Simple acceptance does not use `between`. Remove it, or choose a guarded rule.",
                f"{AT}/between",
            ),
        ),
    ]

    for decision, flaw in cases:
        assert [flaw] == flaws_of(grade(mean(lower=1400, decision=decision)))


def test_a_kind_without_limits_takes_no_guard() -> None:
    """A spread is no value within limits."""
    text = "A guarded decision is for a value with limits, and `spread` judges something else. Remove `decision`."
    specification = grade(spread("range", 9, decision=guarded()), mean(lower=1))

    assert [Flaw("decision-not-here", text, AT)] == flaws_of(specification)


def test_an_absolute_uncertainty_is_not_turned_round() -> None:
    """± 50 tex is not the same on both sides of 7692 tex, and says nothing in m/kg."""
    column = {**series(7692, of=RUNNAGE, unit="tex"), "uncertainty": {"expanded": 50, "coverage_factor": 2}}
    text = "Readings in tex are inverted into m/kg. Give their uncertainty in `percent`."
    flaw = Flaw("uncertainty-turned-round", text, "/series/0/uncertainty/expanded", "/characteristics/0/unit")

    assert [flaw] == flaws_in(grade(mean(lower=1), of=RUNNAGE), lot(column))


def test_a_reading_without_limit_on_it_has_no_guard() -> None:
    """Nothing is drawn in where there is nothing to draw in."""
    assert "undecided" == checked(grade(mean(lower=1400, decision=guarded())), 1500, of=FORCE["name"])["outcome"]
