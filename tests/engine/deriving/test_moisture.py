"""Mass that is paid for and fineness at the regain that is agreed on; values worked by hand."""

from typing import Any

import pytest

from tests.support.grades import FORCE, Document, each, fixed, grade, lot, mean, series, spread
from tests.support.judging import flaws_in, flaws_of, found

NET: Document = {"name": "net_mass", "unit": "kg"}
CONTENT: Document = {"name": "moisture_content", "unit": "%"}
REGAIN: Document = {"name": "moisture_regain", "unit": "%"}
RUNNAGE: Document = {"name": "bare_runnage", "quantity": "length_per_mass", "unit": "m/kg"}
DENSITY: Document = {"name": "bare_density", "quantity": "mass_per_length", "unit": "ktex"}


def commercial(moisture: Document, regain: float, **members: object) -> Document:
    """The commercial mass in kg."""
    derived = {"kind": "commercial_mass", "mass": "net_mass", "moisture": moisture["name"], "regain": regain, **members}
    return {"name": "commercial_mass", "unit": "kg", "derived": derived}


def standard(of: Document, moisture: Document, regain: float, name: str, **members: object) -> Document:
    """Runnage or linear density at the standard regain."""
    derived = {"kind": "at_standard_regain", "of": of["name"], "moisture": moisture["name"], "regain": regain, **members}
    return {"name": name, "unit": of["unit"], "derived": derived}


def value(finding: Document) -> Any:
    """What was compared."""
    return finding["measured"]["value"]


def test_commercial_mass_by_moisture_content() -> None:
    """1000 kg with 12.5 % of water are 875 kg dry, and 997.5 kg at 14 %, which is exactly on the limit."""
    specification = grade(mean(lower=997.5), of=[commercial(CONTENT, 14), NET, CONTENT])
    finding = found(specification, series(1000, of=NET), series(12.5, of=CONTENT))

    assert ("pass", 997.5, 0) == (finding["outcome"], value(finding), finding["margin"])
    assert (
        "net mass * (1 - M/100) * (1 + 14/100), M the moisture content in % of the mass as it is"
        == (finding["measured"]["formula"])
    )
    assert "Regain of 14 %: given by the grade" == finding["measured"]["source"]
    assert ["/series/0", "/series/1"] == finding["reasons"][0]["at"]


def test_commercial_mass_by_regain() -> None:
    """114 kg at a regain of 14 % are 100 kg dry, and 113.75 kg at 13.75 %."""
    specification = grade(mean(lower=1), of=[commercial(REGAIN, 13.75, list="ASTM D1909-13, jute"), NET, REGAIN])
    finding = found(specification, series(114, of=NET), series(14, of=REGAIN))

    assert 113.75 == value(finding)
    assert (
        "net mass * (1 + 13.75/100)/(1 + R/100), R the moisture regain in % of the dry mass" == (finding["measured"]["formula"])
    )
    assert "Regain of 13.75 %: ASTM D1909-13, jute" == finding["measured"]["source"]


def test_dry_twine_gains_and_wet_twine_loses() -> None:
    """100 kg at no water at all are paid as 114 kg, 114 kg at 14 % as 114 kg, 120 kg at 20 % as 114 kg."""
    specification = grade(spread("range", 0), of=[commercial(REGAIN, 14), NET, REGAIN])
    finding = found(specification, series(100, 114, 120, of=NET), series(0, 14, 20, of=REGAIN))

    assert ("pass", 0) == (finding["outcome"], value(finding))


def test_each_mass_goes_with_the_moisture_of_its_own_package() -> None:
    """b1 has 10 % of 100 kg, b2 20 %: 90 and 80 kg dry."""
    specification = grade(each(lower=85), of=[commercial(CONTENT, 0), NET, CONTENT])
    masses = series(100, 100, of=NET, packages=["b1", "b2"])
    finding = found(specification, masses, series(20, 10, of=CONTENT, packages=["b2", "b1"]))

    assert ("fail", -5) == (finding["outcome"], finding["margin"])
    assert ["/series/0/values/1", "/series/1/values/0"] == finding["reasons"][0]["at"]


def test_the_mean_moisture_can_go_for_every_package() -> None:
    """Two of a thousand bales are dried: 10 and 15 % are 12.5 % on average, and 1000 kg are 997.5 kg at 14 %."""
    specification = grade(each(lower=997.5), of=[commercial(CONTENT, 14, moisture_by="mean"), NET, CONTENT])
    finding = found(specification, series(1000, 1010, 1020, of=NET), series(10, 15, of=CONTENT))

    assert ("pass", 0, 3) == (finding["outcome"], finding["margin"], finding["measured"]["readings"])
    assert "M the mean moisture content in % of the mass as it is" in finding["measured"]["formula"]


def test_a_mean_of_regains_goes_for_every_package_too() -> None:
    """12 and 16 % are 14 % on average: 114 kg stay 114 kg."""
    specification = grade(mean(lower=1), of=[commercial(REGAIN, 14, moisture_by="mean"), NET, REGAIN])

    assert 114 == value(found(specification, series(114, of=NET), series(12, 16, of=REGAIN)))


def test_linear_density_goes_with_the_mass() -> None:
    """8 ktex at a regain of 25 % are 6.4 dry, and 7.04 at 10 %."""
    of = [standard(DENSITY, REGAIN, 10, "linear_density"), DENSITY, REGAIN]
    finding = found(grade(mean(lower=1), of=of), series(8, of=DENSITY), series(25, of=REGAIN))

    assert 7.04 == value(finding)
    assert (
        "bare density * (1 + 10/100)/(1 + R/100), R the moisture regain in % of the dry mass"
        == (finding["measured"]["formula"])
    )


def test_runnage_goes_against_the_mass() -> None:
    """125 m/kg at a regain of 10 % are 137.5 m of a dry kilogram, and 110 m/kg at 25 %."""
    of = [standard(RUNNAGE, REGAIN, 25, "runnage"), RUNNAGE, REGAIN]
    finding = found(grade(mean(lower=110), of=of), series(125, of=RUNNAGE), series(10, of=REGAIN))

    assert ("pass", 110, 0) == (finding["outcome"], value(finding), finding["margin"])
    assert (
        "bare runnage * (1 + R/100)/(1 + 25/100), R the moisture regain in % of the dry mass"
        == (finding["measured"]["formula"])
    )


def test_runnage_by_moisture_content() -> None:
    """110 m/kg with 12 % of water are 125 m of a dry kilogram, and 100 m/kg at 25 %."""
    of = [standard(RUNNAGE, CONTENT, 25, "runnage"), RUNNAGE, CONTENT]
    finding = found(grade(mean(lower=1), of=of), series(110, of=RUNNAGE), series(12, of=CONTENT))

    assert 100 == value(finding)
    assert (
        "bare runnage/((1 - M/100) * (1 + 25/100)), M the moisture content in % of the mass as it is"
        == (finding["measured"]["formula"])
    )


def test_runnage_and_linear_density_stay_reciprocal() -> None:
    """The same twine, whether its readings came in m/kg or in tex."""
    of = [standard(RUNNAGE, REGAIN, 25, "runnage"), RUNNAGE, REGAIN]
    finding = found(grade(mean(lower=1), of=of), series(8000, of=RUNNAGE, unit="tex"), series(0.1, of=REGAIN, unit="1"))

    assert 110 == value(finding)


def test_moisture_may_be_a_plain_ratio() -> None:
    """0.125 of the mass is 12.5 %."""
    ratio = {**CONTENT, "unit": "1"}
    specification = grade(mean(lower=1), of=[commercial(ratio, 14), NET, ratio])

    assert 997.5 == value(found(specification, series(1000, of=NET), series(0.125, of=ratio)))


def test_many_packages_are_worked_out_like_few() -> None:
    """A hundred bales of 1000 kg at 12.5 %."""
    specification = grade(each(lower=997.5), of=[commercial(CONTENT, 14), NET, CONTENT])
    finding = found(specification, series(*[1000] * 100, of=NET), series(*[12.5] * 100, of=CONTENT))

    assert ("pass", 0) == (finding["outcome"], finding["margin"])


def test_commercial_mass_may_come_in_another_unit() -> None:
    """1000 kg at 12.5 % are 997 500 g at 14 %."""
    grams = {**commercial(CONTENT, 14), "unit": "g"}

    assert 997_500 == value(
        found(grade(mean(lower=1), of=[grams, NET, CONTENT]), series(1000, of=NET), series(12.5, of=CONTENT))
    )


def test_without_its_moisture_a_mass_is_undecided() -> None:
    """What is not measured is not guessed from a climate."""
    finding = found(grade(mean(lower=1), of=[commercial(CONTENT, 14), NET, CONTENT]), series(1000, of=NET))

    assert ("undecided", "no-partner") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "measured" not in finding


def test_a_sample_of_moistures_is_asked_for() -> None:
    """The grade wants three bales dried, and two are."""
    of = [commercial(CONTENT, 14, moisture_by="mean"), NET, {**CONTENT, "sample": fixed(3)}]
    finding = found(grade(mean(lower=1), of=of), series(1000, of=NET), series(10, 15, of=CONTENT))

    assert [{"characteristic": "moisture_content", "packages": 1, "readings": 1}] == finding["missing"]


def test_a_slipped_mass_takes_its_moisture_with_it() -> None:
    """Only the second bale stands: 1000 kg at 12.5 %."""
    net = {**NET, "remarks": {"leave_out": ["slipped"]}}
    masses = {**series(10, 1000, of=NET), "remarks": ["slipped", ""]}
    finding = found(grade(mean(lower=1), of=[commercial(CONTENT, 14), net, CONTENT]), masses, series(50, 12.5, of=CONTENT))

    assert 997.5 == value(finding)


@pytest.mark.parametrize(
    ("moisture", "reading", "code", "text"),
    [
        (
            CONTENT,
            100,
            "moisture-is-all",
            (
                "A moisture content of 100 % would leave no dry mass. "
                "Correct the reading, or send it as `moisture_regain`, which is in % of the dry mass."
            ),
        ),
        (
            CONTENT,
            -0.5,
            "moisture-below-zero",
            "A moisture content of -0.5 % is below 0. Correct the reading.",
        ),
        (REGAIN, -3, "moisture-below-zero", "A moisture regain of -3 % is below 0. Correct the reading."),
    ],
)
@pytest.mark.parametrize("by", ["reading", "mean"])
def test_a_moisture_that_none_can_have_is_a_flaw(moisture: Document, reading: float, code: str, text: str, by: str) -> None:
    """A number that looks right must not come of one that cannot be."""
    specification = grade(mean(lower=1), of=[commercial(moisture, 14, moisture_by=by), NET, moisture])
    (flaw,) = flaws_in(specification, lot(series(1000, 1000, of=NET), series(12, reading, of=moisture)))

    assert (code, "/series/1/values/1", text) == (flaw.code, flaw.at, flaw.text)


def test_a_regain_above_100_percent_is_one() -> None:
    """Soaked twine may hold more water than fibre: 300 kg at 200 % are 100 kg dry."""
    specification = grade(mean(lower=1), of=[commercial(REGAIN, 14), NET, REGAIN])

    assert 114 == value(found(specification, series(300, of=NET), series(200, of=REGAIN)))


def test_a_mass_without_its_own_moisture_is_a_flaw() -> None:
    """Three bales and two moistures can't be paired."""
    specification = grade(mean(lower=1), of=[commercial(CONTENT, 14), NET, CONTENT])
    (flaw,) = flaws_in(specification, lot(series(1, 2, 3, of=NET), series(10, 12, of=CONTENT)))

    assert ("reading-without-partner", "/series/0/values/2") == (flaw.code, flaw.at)


def test_what_the_water_is_a_share_of_must_be_told() -> None:
    """A grade's own `water` may be on dry or on wet mass."""
    own = {"name": "water", "quantity": "ratio", "unit": "%"}
    (flaw,) = flaws_of(grade(mean(lower=1), of=[commercial(own, 14), NET, own]))

    assert ("moisture-of-what", "/characteristics/0/derived/moisture") == (flaw.code, flaw.at)
    assert "`water` does not say what the water is a share of. Name `moisture_regain` or `moisture_content`." == flaw.text


def test_only_a_mass_has_a_commercial_mass() -> None:
    """A force has no regain."""
    derived = {"kind": "commercial_mass", "mass": "breaking_force", "moisture": "moisture_content", "regain": 14}
    of = [{"name": "commercial_mass", "unit": "kg", "derived": derived}, FORCE, CONTENT]
    (flaw,) = flaws_of(grade(mean(lower=1), of=of))

    assert ("side-of-other-quantity", "/characteristics/0/derived/mass") == (flaw.code, flaw.at)
    assert "`breaking_force` is a force, and this must be a mass. Name one." == flaw.text


def test_runnage_does_not_become_linear_density_by_drying() -> None:
    """Limits never change side silently."""
    (flaw,) = flaws_of(
        grade(mean(lower=1), of=[{**standard(RUNNAGE, REGAIN, 10, "linear_density"), "unit": "tex"}, RUNNAGE, REGAIN])
    )

    assert ("side-of-other-quantity", "/characteristics/0/derived/of") == (flaw.code, flaw.at)


def test_a_regain_beyond_the_range_is_a_flaw() -> None:
    """A regain of 10^15 % is a slip of the pen."""
    (flaw,) = flaws_of(grade(mean(lower=1), of=[commercial(CONTENT, 1e15), NET, CONTENT]))

    assert ("beyond-range", "/characteristics/0/derived/regain") == (flaw.code, flaw.at)
