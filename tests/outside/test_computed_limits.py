"""Limits that are worked out from what is measured or declared, against rulings and published rules."""

from typing import Any

import pytest
from msgspec import to_builtins

from tests.support.engine_answers import verdict_on


def twine(law: dict[str, Any]) -> dict[str, Any]:
    """A grade of polyolefin twine whose limits come from the runnage: straight by the law, knotted 58 % of that limit."""
    return {
        "characteristics": [
            {"name": "runnage", "unit": "m/kg"},
            {"name": "breaking_force", "unit": "daN"},
            {"name": "knot_breaking_force", "unit": "daN"},
        ],
        "requirements": [
            {"id": "straight", "kind": "mean", "of": "breaking_force", "limits": {"lower": law}},
            {
                "id": "knot",
                "kind": "mean",
                "of": "knot_breaking_force",
                "limits": {"lower": {"percent": 58, "of_limit": "straight"}},
            },
        ],
    }


def found_on(specification: dict[str, Any], evidence: dict[str, Any]) -> list[dict[str, Any]]:
    """The findings on a lot, as sent."""
    findings: list[dict[str, Any]] = to_builtins(verdict_on(specification, evidence).findings)
    return findings


def findings(specification: dict[str, Any], **values: tuple[str, float]) -> list[dict[str, Any]]:
    """The findings on one reading of each characteristic."""
    columns = [{"characteristic": name, "unit": unit, "values": [value]} for name, (unit, value) in values.items()]
    return found_on(specification, {"lot": {"id": "L-1"}, "series": columns})


@pytest.mark.parametrize(
    ("runnage", "straight", "knot", "limits", "outcomes"),
    [
        (790.20, 45.40, 38.40, (41, 23.78), ("pass", "pass")),
        (140.15, 219.45, 201.10, (231, 133.98), ("fail", "pass")),
    ],
)
def test_the_tariff_makes_the_quotient_whole_before_it_multiplies(
    runnage: float, straight: float, knot: float, limits: tuple[float, float], outcomes: tuple[str, str]
) -> None:
    """32 400/n whole daN, and 0.58 of that: 133.98, where 0.58 × 231.181 would be 134.085.

    Source: US customs ruling NY A85578 (1996), polypropylene (reference C1, C2; SEEN; the rule CALC, it fits all four numbers).
    """
    rounding = {"step": 1, "toward": "down"}
    law = {"law": "reciprocal", "numerator": 32400, "of_mean": "runnage", "in": "daN", "rounding": rounding}
    found = findings(
        twine(law),
        runnage=("m/kg", runnage),
        breaking_force=("daN", straight),
        knot_breaking_force=("daN", knot),
    )

    assert limits == tuple(each["limits"]["lower"] for each in found)
    assert outcomes == tuple(each["outcome"] for each in found)


def test_the_sisal_formula_gives_46_8_where_the_ruling_prints_16_8() -> None:
    """32 400/500 − 18 = 46.80 daN; the ruling prints 16.80, a misprint: the computation is followed.

    Source: US customs ruling HQ 082775 (1988), whose fraction bar is lost in print (reference C3; SEEN + CALC).
    """
    law = {"law": "reciprocal", "numerator": 32400, "constant": -18, "of_mean": "runnage", "in": "daN"}
    found = findings(
        twine(law),
        runnage=("m/kg", 500),
        breaking_force=("daN", 46.8),
        knot_breaking_force=("daN", 30),
    )

    assert ("pass", 46.8, 0.0) == (found[0]["outcome"], found[0]["limits"]["lower"], found[0]["margin"])


@pytest.mark.parametrize(
    ("found_length", "found_knot", "outcomes"),
    [(8870, 123.5, ("pass", "pass")), (8865, 123.5, ("pass", "pass")), (8864, 123.4, ("fail", "fail"))],
)
def test_a_label_claim_is_held_by_a_share_of_the_label(
    found_length: float, found_knot: float, outcomes: tuple[str, str]
) -> None:
    """Length at least 98.5 % of 9000 ft is 8865 ft; knot strength at least 95 % of 130 lbf is 123.5 lbf.

    Source: ANSI/ASAE S315 as revised, by trade press (reference N6; SEEN rule, CALC).
    """
    specification = {
        "characteristics": [
            {"name": "length", "unit": "ft"},
            {"name": "label_length", "quantity": "length", "unit": "ft"},
            {"name": "knot_breaking_force", "unit": "lbf"},
            {"name": "label_knot_strength", "quantity": "force", "unit": "lbf"},
        ],
        "requirements": [
            {
                "id": "length",
                "kind": "mean",
                "of": "length",
                "limits": {"lower": {"percent": 98.5, "of_declared": "label_length"}},
            },
            {
                "id": "knot",
                "kind": "mean",
                "of": "knot_breaking_force",
                "limits": {"lower": {"percent": 95, "of_declared": "label_knot_strength"}},
            },
        ],
    }
    evidence = {
        "lot": {"id": "L-1"},
        "series": [
            {"characteristic": "length", "unit": "ft", "values": [found_length]},
            {"characteristic": "knot_breaking_force", "unit": "lbf", "values": [found_knot]},
        ],
        "declared": [
            {"characteristic": "label_length", "value": 9000},
            {"characteristic": "label_knot_strength", "value": 130},
        ],
    }
    found = found_on(specification, evidence)

    assert (8865, 123.5) == tuple(each["limits"]["lower"] for each in found)
    assert outcomes == tuple(each["outcome"] for each in found)
