"""Two twines that a customs laboratory tested, judged end to end, and the formulas that their limits come from."""

import math
from fractions import Fraction
from typing import Any

import pytest
from msgspec import to_builtins

from tests.support.engine_answers import verdict_on


def minimum_force(runnage: str) -> int:
    """Minimum breaking force of polyolefin twine in daN: 32 400 over the runnage in m/kg, taken to whole ones."""
    return math.floor(32400 / Fraction(runnage))


def baler_twine(minimum: int) -> dict[str, Any]:
    """A grade of polyolefin twine: straight, and knotted 0.58 of the whole straight minimum; a single yarn in Z twist."""
    return {
        "characteristics": [
            {"name": "breaking_force", "unit": "daN"},
            {"name": "knot_breaking_force", "unit": "daN"},
            {"name": "twist_direction"},
        ],
        "requirements": [
            {"id": "straight", "kind": "mean", "of": "breaking_force", "limits": {"lower": minimum}},
            {
                "id": "knot",
                "kind": "mean",
                "of": "knot_breaking_force",
                "limits": {"lower": float(Fraction(58 * minimum, 100))},
            },
            {"id": "direction", "kind": "declared", "of": "twist_direction", "one_of": ["Z"]},
        ],
    }


@pytest.mark.parametrize(
    ("runnage", "minima", "found", "outcomes", "margins"),
    [
        ("790.20", (41, 23.78), (45.40, 38.40), ("pass", "pass"), (4.4, 14.62)),
        ("140.15", (231, 133.98), (219.45, 201.10), ("fail", "pass"), (-11.55, 67.12)),
    ],
)
def test_the_two_tested_twines_come_out_as_ruled(
    runnage: str,
    minima: tuple[int, float],
    found: tuple[float, float],
    outcomes: tuple[str, str],
    margins: tuple[float, float],
) -> None:
    """The thin one is baler twine; the thick one is not, by its straight force alone.

    Source: US customs ruling NY A85578 (1996), polypropylene twine, heading 5607.41 (reference C1, C2); that the
    minimum is made whole before the knot's share is taken fits all its figures. Margins by subtraction.
    """
    specification = baler_twine(minimum_force(runnage))
    series = [
        {"characteristic": "breaking_force", "unit": "daN", "values": [found[0]]},
        {"characteristic": "knot_breaking_force", "unit": "daN", "values": [found[1]]},
    ]
    evidence = {
        "lot": {"id": "A85578"},
        "series": series,
        "declared": [{"characteristic": "twist_direction", "value": "Z"}],
    }
    verdict = to_builtins(verdict_on(specification, evidence))
    straight, knot, direction = verdict["findings"]

    assert minima == (straight["limits"]["lower"], knot["limits"]["lower"])
    assert outcomes == (straight["outcome"], knot["outcome"])
    assert margins == (straight["margin"], knot["margin"])
    assert direction["outcome"] == "pass"
    assert verdict["outcome"] == ("fail" if "fail" in outcomes else "pass")


def test_a_twine_of_s_twist_is_no_binder_twine() -> None:
    """Source: explanatory notes to HS 5607.21 and 5607.41, single yarn of Z twist, as quoted in US rulings."""
    specification = baler_twine(41)
    evidence = {"lot": {"id": "L-1"}, "declared": [{"characteristic": "twist_direction", "value": "S"}]}
    findings = to_builtins(verdict_on(specification, evidence).findings)

    assert ["undecided", "undecided", "fail"] == [finding["outcome"] for finding in findings]
