"""The table of units against the documents that define them, against code lists, over every pair."""

import json
import subprocess
import sys
from collections.abc import Mapping
from fractions import Fraction
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from service.engine.characteristics import conversions_to
from service.engine.documents import Quantity
from service.engine.numbers import TABLE, UNITS, Unit, units_of
from tests.support.engine_answers import finding_on

LISTED: list[dict[str, Any]] = json.loads((Path(__file__).parent / "data" / "units.json").read_text())["units"]

POUND, INCH = Fraction("0.45359237"), Fraction("0.0254")
"""In kilograms and metres. Source: international yard and pound agreement, 1959."""
FOOT, YARD = 12 * INCH, 36 * INCH
GRAVITY = Fraction("9.80665")
"""In m/s². Source: 3rd CGPM, 1901."""
TEX = Fraction("0.000001")
"""In kg/m. Source: ISO 1144, a gram a kilometre; a denier is a gram in 9000 m."""
DENIER = TEX / 9
DEFINED: Mapping[str, Fraction] = {
    "N": Fraction(1),
    "mN": Fraction(1, 1000),
    "cN": Fraction(1, 100),
    "daN": Fraction(10),
    "kN": Fraction(1000),
    "gf": GRAVITY / 1000,
    "kgf": GRAVITY,
    "tf": GRAVITY * 1000,
    "ozf": POUND * GRAVITY / 16,
    "lbf": POUND * GRAVITY,
    "mg": Fraction(1, 10**6),
    "g": Fraction(1, 1000),
    "kg": Fraction(1),
    "t": Fraction(1000),
    "oz": POUND / 16,
    "lb": POUND,
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
    "km": Fraction(1000),
    "in": INCH,
    "ft": FOOT,
    "yd": YARD,
    "m/kg": Fraction(1),
    "km/kg": Fraction(1000),
    "m/g": Fraction(1000),
    "ft/lb": FOOT / POUND,
    "yd/lb": YARD / POUND,
    "tex": TEX,
    "dtex": TEX / 10,
    "ktex": TEX * 1000,
    "den": DENIER,
    "g/m": Fraction(1, 1000),
    "kg/m": Fraction(1),
    "kg/km": Fraction(1, 1000),
    "lb/ft": POUND / FOOT,
    "lb/100ft": POUND / FOOT / 100,
    "kg/220m": Fraction(1, 220),
    "turn/m": Fraction(1),
    "turn/cm": Fraction(100),
    "turn/in": 1 / INCH,
    "turn/ft": 1 / FOOT,
    "N/tex": 1 / TEX,
    "cN/tex": Fraction(1, 100) / TEX,
    "mN/tex": Fraction(1, 1000) / TEX,
    "gf/den": GRAVITY / 1000 / DENIER,
    "%": Fraction(1, 100),
    "1": Fraction(1),
    "s": Fraction(1),
    "min": Fraction(60),
    "h": Fraction(3600),
    "d": Fraction(86400),
}
"""Of each unit, how many SI base units it is, worked from the definitions."""


def factor(symbol: str) -> Fraction:
    """The factor to SI that the service uses."""
    return UNITS[symbol].factor


def test_the_pound_and_the_foot_are_those_of_1959() -> None:
    """A lot measured in pounds and feet is the same lot in any country.

    Source: international yard and pound agreement, 1959: yard 0.9144 m, pound 0.453 592 37 kg, exactly.
    """
    assert Fraction("0.9144") == factor("yd") == 3 * factor("ft") == 36 * factor("in")
    assert Fraction("0.45359237") == factor("lb") == 16 * factor("oz")


def test_forces_stand_on_standard_gravity() -> None:
    """A kilogram-force and a pound-force are not the local weight of anything.

    Source: 3rd CGPM, 1901, declaration on the unit of mass and the definition of weight: 980.665 cm/s².
    """
    assert Fraction("9.80665") == factor("kgf") == 1000 * factor("gf") == factor("tf") / 1000
    assert Fraction("4.4482216152605") == factor("lbf") == 16 * factor("ozf")


def test_tex_is_a_gram_a_kilometre() -> None:
    """Linear density in tex, its multiples, and denier.

    Source: ISO 1144, tex system: 1 tex = 1 g/km; a denier is a gram in 9000 m.
    """
    assert Fraction(1, 10**6) == factor("tex") == 10 * factor("dtex") == factor("ktex") / 1000 == 9 * factor("den")
    assert factor("ktex") == factor("g/m") == factor("kg/km") == factor("kg/m") / 1000


def test_conversions_of_the_trade_are_exact() -> None:
    """Figures that a buyer can check on paper. Source: worked from the definitions above, as exact rationals."""
    assert Fraction(45359237, 30480000) == factor("m/kg") / factor("ft/lb")
    assert Fraction("0.08825985") == factor("gf/den") / factor("N/tex")
    assert Fraction(5000, 127) == factor("turn/in") / factor("turn/m")
    assert Fraction("0.44482216152605") == factor("lbf") / factor("daN")


@pytest.mark.parametrize("listed", LISTED, ids=[each["symbol"] for each in LISTED])
def test_a_unit_is_known_by_its_published_codes(listed: dict[str, Any]) -> None:
    """An ERP sends UN/CEFACT codes and a laboratory UCUM ones; both name the unit that they mean.

    Source: UN/CEFACT Recommendation 20 and UCUM 2.2 (2024), after the files named in data/units.json.
    """
    named = {UNITS[word].symbol for word in (listed["symbol"], listed["ucum"], *listed["rec20"])}

    assert {listed["symbol"]} == named
    assert Fraction(listed["factor"]) == factor(listed["symbol"])


def test_no_two_units_share_a_word() -> None:
    """What a caller writes names one unit, whichever of its names it is."""
    words = [word for unit in TABLE for word in unit.words]

    assert sorted(set(words)) == sorted(words)


@pytest.mark.parametrize("unit", TABLE, ids=lambda unit: unit.symbol)
def test_a_factor_is_the_one_that_follows_from_the_definitions(unit: Unit) -> None:
    """Exactly: a factor that is off by a digit fails good lots on their limit."""
    assert DEFINED[unit.symbol] == unit.factor


@pytest.mark.parametrize("quantity", sorted({unit.quantity for unit in TABLE}))
def test_every_pair_of_units_converts_by_the_definitions(quantity: Quantity) -> None:
    """By way of the unit that a grade is written in, and no other."""
    for unit, other in permutations(units_of(quantity), 2):
        conversion = conversions_to(other)[unit.symbol]

        assert not conversion.turned_round
        assert (unit.symbol, other.symbol, DEFINED[unit.symbol] / DEFINED[other.symbol]) == (
            unit.symbol,
            other.symbol,
            conversion.factor,
        )


def test_pint_is_not_imported_before_a_factor_is_needed() -> None:
    """Commands that judge nothing start without it."""
    program = (
        "import json, sys, service.app, service.settings, service.engine.judging\n"
        "service.app.create_app(service.settings.Settings())\n"
        "print(json.dumps([name for name in sys.modules if name.startswith('pint')]))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert [] == json.loads(done.stdout)


@pytest.mark.parametrize(
    ("value", "unit", "expected", "wanted"),
    [
        (225, "ft/lb", 225 * 30480000 / 45359237, "m/kg"),
        (100, "lbf", 444.82216152605, "N"),
        (8000, "tex", 125, "m/kg"),
        (1, "turn/in", 39.37007874015748, "turn/m"),
    ],
)
def test_a_reading_comes_out_in_the_unit_of_the_grade(value: float, unit: str, expected: float, wanted: str) -> None:
    """Judged end to end. Source: worked from the definitions above; a runnage of 1000000 over 8000 tex is 125 m/kg."""
    name = {"m/kg": "runnage", "N": "breaking_force", "turn/m": "twist"}[wanted]
    specification = {
        "characteristics": [{"name": name, "unit": wanted}],
        "requirements": [{"id": "r", "kind": "mean", "of": name, "limits": {"lower": 0}}],
    }
    series = [{"characteristic": name, "unit": unit, "values": [value]}]
    finding = finding_on(specification, {"lot": {"id": "L-1"}, "series": series})

    assert expected == pytest.approx(finding["measured"]["value"], rel=1e-14)


def test_the_mean_of_runnages_is_not_the_runnage_of_the_mean_density() -> None:
    """10000 tex and 20000/3 tex are 100 and 150 m/kg, whose mean is 125; turned round after averaging it would be 120.

    Source: worked by hand. 8000 tex (125 m/kg) and 12500 tex (80 m/kg) average to 102.5 m/kg, not to 97.56.
    """
    specification = {
        "characteristics": [{"name": "runnage", "unit": "m/kg"}],
        "requirements": [{"id": "r", "kind": "mean", "of": "runnage", "limits": {"lower": 102.5}}],
    }
    series = [{"characteristic": "runnage", "unit": "tex", "values": [8000, 12500]}]
    finding = finding_on(specification, {"lot": {"id": "L-1"}, "series": series})

    assert ("pass", 0) == (finding["outcome"], finding["margin"])
