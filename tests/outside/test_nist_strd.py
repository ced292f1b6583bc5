"""Mean and standard deviation against the certified values of NIST StRD, judged end to end."""

import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec import to_builtins

from tests.support.engine_answers import verdict_on

STRD: dict[str, Any] = json.loads((Path(__file__).parent / "data" / "strd.json").read_text())


def digits_of_pi(number: int) -> list[float]:
    """The first decimal digits of pi, the 3 among them, by Machin's formula in integers with guard digits."""
    one = 10 ** (number + 9)
    pi = 4 * (4 * arctangent_of_reciprocal(5, one) - arctangent_of_reciprocal(239, one)) // 10**10
    # In two parts, since Python spells no integer of more than 4300 digits.
    half = number // 2
    return [float(digit) for digit in f"{pi // 10**half}{pi % 10**half:0{half}}"]


def pidigits() -> list[float]:
    """The set PiDigits as far as mean and s can tell.

    The certified values are those of a sum of 22 674 and squares of 143 922; the digits of pi have 22 679 and 143 977.
    The set is thus not pi to the last digit: 5 and 55 less is what one 8 read as a 3 makes.
    """
    digits = digits_of_pi(5000)
    digits[digits.index(8)] = 3.0
    assert (22674, 143922) == (sum(digits), sum(digit * digit for digit in digits))
    return digits


def arctangent_of_reciprocal(of: int, one: int) -> int:
    """arctan(1/of) in units of 1/one."""
    power = one // of
    total, place = power, 1
    while power:
        power //= -of * of
        place += 2
        total += power // place
    return total


def readings(name: str) -> list[float]:
    """The data set, spelt out."""
    made: dict[str, Callable[[], list[float]]] = {
        "pidigits": pidigits,
        "numacc2": lambda: [1.2, *([1.1, 1.3] * 500)],
        "numacc3": lambda: [1000000.2, *([1000000.1, 1000000.3] * 500)],
    }
    return made[name]() if name in made else [float(value) for value in STRD[name]["data"]]


def statistics(values: list[float]) -> tuple[float, float]:
    """Mean and standard deviation as a verdict reports them."""
    requirements = [
        {"id": "mean", "kind": "mean", "of": "figure", "limits": {"lower": 0}},
        {"id": "s", "kind": "spread", "of": "figure", "statistic": "standard_deviation", "at_most": 1},
    ]
    specification = {
        "characteristics": [{"name": "figure", "quantity": "ratio", "unit": "1"}],
        "requirements": requirements,
    }
    series = [{"characteristic": "figure", "unit": "1", "values": values}]
    findings = to_builtins(verdict_on(specification, {"lot": {"id": "L-1"}, "series": series}).findings)
    mean, deviation = (finding["measured"]["value"] for finding in findings)
    return float(mean), float(deviation)


def to_digits_of(certified: str, value: float) -> Decimal:
    """A double's own numeral, rounded to as many digits as the certified one has."""
    return Decimal(repr(float(value))).quantize(Decimal(certified))


@pytest.mark.parametrize("name", ["michelso", "pidigits", "numacc1", "numacc2", "numacc3", "lew"])
def test_certified_digits_all_come_out(name: str) -> None:
    """A laboratory that checks its software with the usual sets finds every certified digit of mean and s.

    Source: NIST Statistical Reference Datasets, univariate summary statistics (reference S1, S2).
    """
    mean, deviation = statistics(readings(name))

    assert Decimal(STRD[name]["mean"]) == to_digits_of(STRD[name]["mean"], mean)
    assert Decimal(STRD[name]["s"]) == to_digits_of(STRD[name]["s"], deviation)


@pytest.mark.parametrize(
    ("name", "expected"), [("numacc1", (10000002, 1)), ("numacc2", (1.2, 0.1)), ("numacc3", (1000000.2, 0.1))]
)
def test_sets_for_numerical_accuracy_are_exact(name: str, expected: tuple[float, float]) -> None:
    """Sums of squares in floats go wrong here; the certified values are exact. Source: NIST StRD, NumAcc1 to NumAcc3."""
    assert expected == statistics(readings(name))
