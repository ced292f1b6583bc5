"""Rounding before comparing, against the practices that define it."""

import pytest

from tests.support.engine_answers import Document, finding_on

# IS 2:1960 and ISO 2307 (reference rounding.md, R1 to R4); the rest of the worked values hold for any rule of halves.
NOT_HALF_WAY_OR_ALIKE = [
    (4.36, 1, 4),
    (2.355, 1, 2),
    (15.205, 0.1, 15.2),
    (9.625, 1, 10),
    (2.651, 0.1, 2.7),
    (0.3552, 0.01, 0.36),
    (21.4501, 0.1, 21.5),
    (3.4675, 0.001, 3.468),
    (123.5, 1, 124),
    (123.455, 0.01, 123.46),
    (123.55, 0.1, 123.6),
    (2.4498, 0.1, 2.4),
    (27.5, 1, 28),
    (30.35, 1, 30),
    (123.452, 0.005, 123.45),
    (123.454, 0.005, 123.455),
    (123.458, 0.005, 123.46),
    (123.326, 0.05, 123.35),
    (123.376, 0.05, 123.4),
]
HALF_WAY = [
    (21.45, 0.1, 21.4, 21.5),
    (6.65, 0.1, 6.6, 6.7),
    (3.05, 0.1, 3.0, 3.1),
    (3.4665, 0.001, 3.466, 3.467),
    (-2.5, 1, -2, -3),
    (0.5, 1, 0, 1),
    (1.5, 1, 2, 2),
    (2.5, 1, 2, 3),
    (123.325, 0.05, 123.3, 123.35),
    (100.145, 0.01, 100.14, 100.15),
]


def finding(values: list[float], kind: str, limits: dict[str, float], rounding: dict[str, object] | None) -> Document:
    """The finding on a plain number, which may be negative."""
    requirement = {"id": "r", "kind": kind, "of": "figure", "limits": limits} | ({"rounding": rounding} if rounding else {})
    specification = {
        "characteristics": [{"name": "figure", "quantity": "ratio", "unit": "1"}],
        "requirements": [requirement],
    }
    series = [{"characteristic": "figure", "unit": "1", "values": values}]
    return finding_on(specification, {"lot": {"id": "L-1"}, "series": series})


def rounded(value: float, step: float, ties: str) -> float:
    """What is compared of one value."""
    measured = finding([value], "mean", {"upper": 1000}, {"step": step, "ties": ties})["measured"]
    assert value == measured["observed"]
    return float(measured["value"])


@pytest.mark.parametrize(("value", "step", "expected"), NOT_HALF_WAY_OR_ALIKE)
@pytest.mark.parametrize("ties", ["even", "away"])
def test_values_round_to_the_nearest_multiple(value: float, step: float, expected: float, ties: str) -> None:
    """What every practice rounds alike.

    Source: IS 2:1960, rules for rounding off, steps 0.005 and 0.05 too (reference R1, R4); ISO 2307:2010, 6.4, the
    examples 27.5 and 30.35; published worked examples (reference rounding.md). Not every value here is half-way.
    """
    assert expected == rounded(value, step, ties)


@pytest.mark.parametrize(("value", "step", "even", "away"), HALF_WAY)
def test_a_half_goes_where_the_grade_says(value: float, step: float, even: float, away: float) -> None:
    """The two rules differ at the half, so that the grade must name one.

    Source: ISO 80000-1, Annex B, rule A (to the even multiple) and rule B (to the larger one in magnitude), from memory;
    ASTM E29, rounding method, to the even one, from memory; JCGM 100, 4.4.3, which rounds 100.145 to 100.14 (reference R2).
    """
    assert (even, away) == (rounded(value, step, "even"), rounded(value, step, "away"))


@pytest.mark.parametrize(("observed", "outcome"), [(56.4, "fail"), (56.5, "fail"), (56.6, "pass")])
def test_rounding_method_compares_the_rounded_value(observed: float, outcome: str) -> None:
    """At least 57 %: 56.5 goes to the even 56 and does not conform. Source: ASTM E29, table of examples (reference R3, MEM)."""
    assert outcome == finding([observed], "each", {"lower": 57}, {"step": 1, "ties": "even"})["outcome"]


@pytest.mark.parametrize(("observed", "outcome"), [(35940, "fail"), (35950, "pass"), (35960, "pass")])
def test_rounding_method_takes_hundreds(observed: float, outcome: str) -> None:
    """At least 36 000 to the nearest 100: 35 950 is half-way to the even 360 hundreds. Source: ASTM E29, examples (MEM)."""
    assert outcome == finding([observed], "each", {"lower": 36000}, {"step": 100, "ties": "even"})["outcome"]


@pytest.mark.parametrize(("observed", "outcome"), [(56.999999, "fail"), (57, "pass"), (57.000001, "pass")])
def test_absolute_method_compares_the_value_as_observed(observed: float, outcome: str) -> None:
    """Any deviation outside the limit, however small, fails. Source: ASTM E29, absolute method, scope and section 4."""
    assert outcome == finding([observed], "each", {"lower": 57}, None)["outcome"]


def test_a_mean_half_way_is_half_way() -> None:
    """Ten readings about 100.145, whose mean floats put beside the half. Source: JCGM 100:2008, 4.4.3 (reference R2)."""
    readings = [100.1, 100.19, 100.14, 100.15, 100.145, 100.145, 100.0, 100.29, 100.13, 100.16]
    measured = finding(readings, "mean", {"upper": 200}, {"step": 0.01, "ties": "even"})["measured"]

    assert (100.14, 100.145) == (measured["value"], measured["observed"])
