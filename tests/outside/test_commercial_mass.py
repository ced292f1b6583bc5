"""Commercial mass by agreed regains, and by the formulas of regain and moisture content."""

import pytest

from tests.support.engine_answers import finding_on


def commercial_mass(net: float, moisture: str, percent: float, regain: float) -> float:
    """Of one delivery in kg, as the service finds it."""
    derived = {"kind": "commercial_mass", "mass": "net_mass", "moisture": moisture, "regain": regain}
    specification = {
        "characteristics": [
            {"name": "net_mass", "unit": "kg"},
            {"name": moisture, "unit": "%"},
            {"name": "commercial_mass", "unit": "kg", "derived": derived},
        ],
        "requirements": [{"id": "r", "kind": "mean", "of": "commercial_mass", "limits": {"lower": 0}}],
    }
    series = [
        {"characteristic": "net_mass", "unit": "kg", "values": [net]},
        {"characteristic": moisture, "unit": "%", "values": [percent]},
    ]
    value: float = finding_on(specification, {"lot": {"id": "L-1"}, "series": series})["measured"]["value"]
    return value


def test_a_delivery_by_its_moisture_content() -> None:
    """1000.0 kg at a moisture content of 12.5 % are 875.0 kg dry and 997.50 kg at 14 % (reference C6, CALC)."""
    assert 997.5 == commercial_mass(1000, "moisture_content", 12.5, 14)


def test_a_delivery_by_its_regain() -> None:
    """1000.0 kg at a regain of 16 % are 862.069 kg dry and 980.603 kg at 13.75 % (CALC).

    13.75 % is jute's commercial regain of ASTM D1909-13 (SEEN, second hand).
    """
    assert 980.603 == round(commercial_mass(1000, "moisture_regain", 16, 13.75), 3)
    assert 862.069 == round(commercial_mass(1000, "moisture_regain", 16, 0), 3)


@pytest.mark.parametrize(("regain", "content"), [(25, 20), (14 / 0.86, 14), (0, 0), (100, 50)])
def test_regain_and_moisture_content_say_the_same(regain: float, content: float) -> None:
    """M = R/(100 + R)·100: 25 % on dry mass are 20 % of the whole (CALC)."""
    by_regain = commercial_mass(1000, "moisture_regain", regain, 13.75)
    by_content = commercial_mass(1000, "moisture_content", content, 13.75)

    assert round(by_content, 9) == round(by_regain, 9)


def test_lists_of_agreed_regains_disagree_on_jute() -> None:
    """The same 100 kg of dry jute: 113.75 kg by ASTM D1909-13 (SEEN, second hand), 117 kg by EU 1007/2011 Annex IX (MEM)."""
    assert [113.75, 117] == [commercial_mass(100, "moisture_regain", 0, regain) for regain in (13.75, 17)]
