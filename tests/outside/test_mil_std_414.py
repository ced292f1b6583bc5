"""Acceptance by variables against the worked example of MIL-STD-414."""

import pytest

from tests.support.engine_answers import Document, finding_on

K = 1.53
"""Normal inspection, code letter D (n = 5), AQL 1.0."""


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
