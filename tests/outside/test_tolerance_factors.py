"""Tolerance factors and factors for the mean against tables."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

from service.engine.risks.tolerance import NormalSample, mean_factor, tolerance_factor

TABLES: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "tolerance_factors.json").read_text())
CELLS = [
    (int(sample), row["content"], row["confidence"], printed)
    for row in TABLES["one_sided"]
    for sample, printed in row["k_by_n"].items()
]
MEANS = [(int(sample), row["confidence"], printed) for row in TABLES["mean"] for sample, printed in row["factor_by_n"].items()]


@pytest.mark.parametrize(("sample", "content", "confidence", "printed"), CELLS)
def test_every_one_sided_factor_comes_out(sample: int, content: str, confidence: str, printed: str) -> None:
    """To the three decimals of the table (CALC), and to 1e-10 against scipy's noncentral t, and by its own fourth decimal."""
    found = tolerance_factor(sample, Fraction(content), Fraction(confidence))
    deviations = float(stats.norm.ppf(float(content))) * sample**0.5
    exactly = float(stats.nct.ppf(float(confidence), sample - 1, deviations)) / sample**0.5

    assert float(printed) == pytest.approx(float(found), abs=5.5e-4)
    assert exactly == pytest.approx(
        NormalSample(sample, Fraction(content)).approximate_quantile(Fraction(confidence)), abs=1e-10
    )
    assert round(exactly, 4) == float(found)


@pytest.mark.parametrize(
    ("sample", "content", "confidence", "printed"),
    [(10, "0.95", "0.95", "2.911"), (10, "0.99", "0.95", "3.981"), (5, "0.95", "0.95", "4.203"), (43, "0.9", "0.99", "1.8740")],
)
def test_the_factors_that_handbooks_print_come_out(sample: int, content: str, confidence: str, printed: str) -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3 for n 43, whose noncentral t gives 1.8740; the others are printed widely (MEM).

    The same page prints 1.8752 from its approximation: that is 0.0012 off, and we follow the computation.
    """
    found = tolerance_factor(sample, Fraction(content), Fraction(confidence))

    assert float(printed) == pytest.approx(float(found), abs=5.5e-4 if len(printed) == 5 else 5e-5)
    assert Fraction("1.8752") != found


@pytest.mark.parametrize(("sample", "confidence", "printed"), MEANS)
def test_every_factor_for_the_mean_comes_out(sample: int, confidence: str, printed: str) -> None:
    """The statutes print 0.503, 0.379 and 0.640 for 30, 50 and 20 packages: t(0.995; n − 1)/√n (CALC)."""
    found = mean_factor(sample, Fraction(confidence))
    decimals = len(printed) - 2

    assert float(printed) == pytest.approx(float(found), abs=0.55 * 10**-decimals)
    assert round(float(stats.t.ppf(float(confidence), sample - 1)) / sample**0.5, 4) == float(found)


@pytest.mark.parametrize(("sample", "printed"), [(30, "0.503"), (50, "0.379"), (20, "0.640"), (8, "1.237"), (13, "0.847")])
def test_the_factors_of_statutes_are_those_of_student_s_t(sample: int, printed: str) -> None:
    """76/211/EEC Annex II 2.3 (SEEN) for 20, 30, 50; FPackV Annex 4 (SEEN) for the others."""
    assert float(printed) == pytest.approx(float(mean_factor(sample, Fraction("0.995"))), abs=5e-4)


def test_the_factor_that_a_statute_prints_too_low_is_known() -> None:
    """FPackV prints 2.058 for n 5 (SEEN); t(0.995; 4)/√5 is 2.0590 (CALC). Who works by the statute takes its numeral."""
    assert Fraction("2.0590") == mean_factor(5, Fraction("0.995"))
