"""The simple judge itself, on cases worked by hand: what is compared with the engine must be right first."""

from fractions import Fraction
from typing import Any

import pytest

from tests.support.exact import converted, root, root_to_step, to_step
from tests.support.simple_judge import Simple, check_simply, judge_simply, verdict_simply
from tests.support.simple_sampling import Missing, packages_of


def found(values: list[float], requirement: dict[str, Any], unit: str = "N", **more: Any) -> Simple:
    """The finding on breaking forces in newtons; `more` goes into the series."""
    series = {"characteristic": "breaking_force", "unit": unit, "values": values, **more}
    return judge_simply(grade(requirement), {"lot": {"id": "L", "size": 10}, "series": [series] if values else []})["r"]


def grade(*requirements: dict[str, Any]) -> dict[str, Any]:
    """A grade with one characteristic, in newtons."""
    ready = [{"id": "r", "of": "breaking_force", **each} for each in requirements]
    return {"characteristics": [{"name": "breaking_force", "unit": "N"}], "requirements": ready}


def test_mean_of_tenths_is_on_its_limit() -> None:
    """0.1, 0.2 and 0.3 average to 0.2, which floats do not say."""
    expected = Simple("pass", [(0.2, None)], 0.0)

    assert expected == found([0.1, 0.2, 0.3], {"kind": "mean", "limits": {"lower": 0.2, "upper": 0.2}})


def test_one_unit_in_the_last_place_fails() -> None:
    """1400.0000000000002 is the double after 1400; above an upper limit of 1400 it is above it."""
    expected = Simple("fail", [(1400.0000000000002, None)], -2e-13)

    assert expected == found([1400.0000000000002], {"kind": "mean", "limits": {"upper": 1400}})


def test_percent_tolerance_is_worked_out_from_the_nominal() -> None:
    """130 less 5 % is 123.5."""
    limits = {"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"}

    assert Simple("pass", [(123.5, None)], 0.0) == found([123.5], {"kind": "mean", "limits": limits})


def test_the_first_reading_too_many_gives_the_margin() -> None:
    """Of 90, 95, 101 with one allowed below 100, the second worst decides: 95 lies 5 below."""
    requirement = {"kind": "each", "limits": {"lower": 100}, "allowed_outside": {"count": 1}}

    assert Simple("fail", [(95.0, None)], -5.0, 2, 1) == found([90, 95, 101], requirement)
    assert Simple("fail", [(90.0, None)], -5.0, 2, 2) == found(
        [90, 96, 101], {**requirement, "allowed_outside": {"count": 2}, "outer": {"lower": 95}}
    )


def test_where_all_may_be_outside_there_is_no_margin() -> None:
    """Two readings and two allowed: nothing is measured against the limits."""
    requirement = {"kind": "each", "limits": {"lower": 100}, "allowed_outside": {"percent": 100}}

    assert Simple("pass", (), None, 1, 2) == found([90, 120], requirement)


def test_standard_deviation_of_three_neighbours_is_their_distance() -> None:
    """9, 10, 11: squares of deviations 1 + 0 + 1 over 2 make 1."""
    requirement = {"kind": "spread", "statistic": "standard_deviation", "at_most": 1}

    assert Simple("pass", [(1.0, None)], 0.0) == found([9, 10, 11], requirement)
    assert Simple("pass", [(10.0, None)], 2.0) == found(
        [9, 10, 11], {"kind": "spread", "statistic": "coefficient_of_variation", "at_most": 12}
    )
    assert Simple("fail", [(2.0, None)], -1.0) == found([9, 10, 11], {"kind": "spread", "statistic": "range", "at_most": 1})


def test_a_root_that_is_not_rational_is_rounded_once() -> None:
    """1 and 2 deviate by the root of one half, which begins 0.70710678118654752440."""
    requirement = {"kind": "spread", "statistic": "standard_deviation", "at_most": 1}

    assert Simple("pass", [(0.7071067811865476, None)], 0.2928932188134525) == found([1, 2], requirement)


def test_no_spread_passes_by_variables_within_the_limits() -> None:
    """180 five times, at least 180: the quality is without bound, so none is told."""
    requirement = {"kind": "variables", "limits": {"lower": 180}, "k": 1.53}

    assert Simple("pass") == found([180] * 5, requirement)
    assert Simple("fail") == found([179] * 5, requirement)


def test_quality_on_k_passes() -> None:
    """9, 10, 11 with a lower limit of 8: (10 - 8)/1 is 2."""
    assert Simple("pass", [(2.0, None)], 0.0) == found([9, 10, 11], {"kind": "variables", "limits": {"lower": 8}, "k": 2})


def test_packages_count_by_their_means() -> None:
    """Packages of 1, 3 and of 8: means 2 and 8, and their mean 5 where the readings' is 4."""
    requirement = {"kind": "mean", "limits": {"lower": 5}, "over": "packages"}

    assert Simple("pass", [(5.0, None)], 0.0) == found([1, 8, 3], requirement, packages=["a", "b", "a"])


def test_missing_counts_the_cheapest_packages() -> None:
    """Three packages of three: one is complete, one lacks one, one lacks two; the rest is not needed."""
    requirement = {
        "kind": "mean",
        "limits": {"lower": 0},
        "sample": {"plan": "fixed", "packages": 3, "readings_per_package": 3},
    }
    packages = ["a", "a", "a", "b", "c", "c"]
    expected = Simple("undecided", missing=[Missing("breaking_force", 2, 3)])

    assert expected == found([1.0] * 6, requirement, packages=packages)
    assert [Missing("breaking_force", 3, 9)] == found([], requirement).missing


def test_without_a_sample_a_spread_wants_two() -> None:
    """One reading has no spread, and none at all has no mean."""
    requirement = {"kind": "spread", "statistic": "range", "at_most": 1}

    assert Simple("undecided", missing=[Missing("breaking_force", 1, 1)]) == found([5], requirement)
    assert Simple("undecided", missing=[Missing("breaking_force", 2, 2)]) == found([], requirement)


def test_what_no_reading_can_save_fails_at_once() -> None:
    """One reading below 100 of the two that are wanted, and none may be."""
    sample = {"plan": "fixed", "packages": 2}

    assert "fail" == found([99], {"kind": "each", "limits": {"lower": 100}, "sample": sample}).outcome
    assert "undecided" == found([99], {"kind": "mean", "limits": {"lower": 100}, "sample": sample}).outcome


def test_a_short_binding_requirement_leaves_the_lot_undecided() -> None:
    """A failure wins over it; what is not binding moves nothing."""
    short = {"kind": "mean", "limits": {"lower": 0}, "sample": {"plan": "fixed", "packages": 9}}
    good, bad = {"kind": "mean", "limits": {"lower": 0}}, {"kind": "mean", "limits": {"lower": 5}}
    evidence = {"series": [{"characteristic": "breaking_force", "unit": "N", "values": [1]}]}

    def outcome(*requirements: dict[str, Any]) -> str:
        named = [{**each, "id": f"r{place}"} for place, each in enumerate(requirements)]
        return verdict_simply(grade(*named), judge_simply(grade(*named), evidence))

    assert "undecided" == outcome(good, short)
    assert "fail" == outcome(short, bad)
    assert "pass" == outcome(good, {**bad, "binding": False})


def test_one_reading_outside_limits_that_allow_some_is_not_decided() -> None:
    """A station shows neither green nor red; beyond `outer` it shows red."""
    requirement = {"kind": "each", "limits": {"lower": 100}, "allowed_outside": {"count": 1}, "outer": {"lower": 90}}

    def outcome(value: float) -> str:
        return check_simply(grade(requirement), {"characteristic": "breaking_force", "unit": "N", "value": value})

    assert ["pass", "undecided", "undecided", "fail"] == [outcome(value) for value in (100, 99, 90, 89)]


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "expected"),
    [
        ("100", "lbf", "N", "444.82216152605"),
        ("225", "ft/lb", "m/kg", str(Fraction(225) * Fraction("0.3048") / Fraction("0.45359237"))),
        ("8", "tex", "m/kg", "125000"),
        ("125", "m/kg", "ktex", "8"),
        ("1", "turn/ft", "turn/m", str(1 / Fraction("0.3048"))),
    ],
)
def test_readings_are_converted_exactly(value: str, unit: str, wanted: str, expected: str) -> None:
    """By the definitions of pound, foot, standard gravity and tex."""
    assert Fraction(expected) == converted(Fraction(value), unit, wanted)


def test_halves_go_where_they_are_told() -> None:
    """2.5 and -2.5 to the even 2, or away from zero to 3; a root half-way likewise."""
    half = Fraction(5, 2)

    assert [2, 3, -2, -3] == [int(to_step(sign * half, Fraction(1), ties)) for sign in (1, -1) for ties in ("even", "away")]
    assert [2, 3] == [int(root_to_step(half**2, Fraction(1), ties)) for ties in ("even", "away")]
    assert Fraction(3, 2) == root(Fraction(9, 4)).low == root(Fraction(9, 4)).high


@pytest.mark.parametrize(
    ("sample", "lot_size", "expected"),
    [
        ({"plan": "percent", "percent": 2.5}, 81, 3),
        ({"plan": "percent", "percent": 2.5, "at_least": 5}, 4, 4),
        ({"plan": "square_root", "factor": 0.5}, 9, 2),
        ({"plan": "square_root", "factor": 0.5}, 8, 1),
        ({"plan": "every"}, 7, 7),
        ({"plan": "percent", "percent": 50, "at_most": 3}, 40, 3),
        ({"plan": "bands", "bands": [{"up_to": 7, "packages": 2}, {"up_to": 9, "packages": 4}]}, 8, 4),
        ({"plan": "bands", "bands": [{"up_to": 7, "packages": 2}]}, 8, None),
    ],
)
def test_plans_ask_for_so_many_packages(sample: dict[str, Any], lot_size: int, expected: int | None) -> None:
    """2.5 % of 81 is rounded up; 0.5·√9 is 1.5 and goes up, 0.5·√8 is 1.41 and does not; never more than the lot."""
    assert expected == packages_of(sample, {"id": "L-1", "size": lot_size})


def test_a_plan_may_count_the_lot_in_lengths() -> None:
    """40 m in pieces of 5 m are 8, of which half is 4; half of 40.1 m in such pieces is 4.01, so 5; of 3 packages 3."""
    sample = {"plan": "percent", "percent": 50, "counted_in": {"value": 5, "unit": "m"}}
    lots: list[dict[str, Any]] = [{"length": {"value": 40, "unit": "m"}}, {"length": {"value": 40.1, "unit": "m"}}, {}]

    assert [4, 5, None] == [packages_of(sample, lot) for lot in lots]
    assert 3 == packages_of(sample, {"size": 3, **lots[0]})


def test_remarks_are_taken_as_the_grade_says() -> None:
    """Of 1, 12, 14 and 91 one is struck, one slipped: 14 and 91 are left, 52.5 on average."""
    specification = grade({"kind": "mean", "limits": {"lower": 1}})
    specification["characteristics"][0]["remarks"] = {"leave_out": ["slipped"]}
    series = {"characteristic": "breaking_force", "unit": "N", "values": [1, 12, 14, 91]}
    remarks = ["struck", "slipped", "confirmed", ""]
    evidence = {"lot": {"id": "L"}, "series": [{**series, "remarks": remarks}]}

    assert Simple("pass", [(52.5, None)], 51.5) == judge_simply(specification, evidence)["r"]
    evidence["series"] = [{**series, "remarks": ["", "", "", "broke_at_splice"]}]
    assert "undecided" == judge_simply(specification, evidence)["r"].outcome


def test_a_break_outside_the_marks_is_held_to_its_share() -> None:
    """91 of 100 N at 90 % is 1 N above, and the 104 N between the marks 4 N."""
    specification = grade({"kind": "each", "limits": {"lower": 100}})
    specification["characteristics"][0]["remarks"] = {"passes_outside_marks_at": {"percent": 90}}
    series = {"characteristic": "breaking_force", "unit": "N", "values": [91, 104], "remarks": ["broke_outside_marks", ""]}

    assert (
        Simple("pass", [(91.0, None)], 1.0, 0, 0) == judge_simply(specification, {"lot": {"id": "L"}, "series": [series]})["r"]
    )


def test_a_mass_is_taken_to_the_agreed_regain() -> None:
    """1000 kg with 12.5 % of water are 997.5 kg at 14 %."""
    derived = {"kind": "commercial_mass", "mass": "net_mass", "moisture": "moisture_content", "regain": 14}
    specification = {
        "characteristics": [
            {"name": "net_mass", "unit": "kg"},
            {"name": "moisture_content", "unit": "%"},
            {"name": "commercial_mass", "unit": "kg", "derived": derived},
        ],
        "requirements": [{"id": "r", "kind": "mean", "of": "commercial_mass", "limits": {"lower": 997.5}}],
    }
    series = [
        {"characteristic": "net_mass", "unit": "kg", "values": [1000]},
        {"characteristic": "moisture_content", "unit": "%", "values": [12.5]},
    ]

    assert Simple("pass", [(997.5, None)], 0.0) == judge_simply(specification, {"lot": {"id": "L"}, "series": series})["r"]
