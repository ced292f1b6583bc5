"""What mills do by custom. Common practice, no source: these show that a grade can say it, not that it is right."""

from tests.support.engine_answers import finding_on


def test_baler_twine_is_spun_with_twelve_turns_a_foot() -> None:
    """A limit of 39.4 turn/m takes a reading of 12 turns a foot, which are 39.37. Common practice, no source."""
    specification = {
        "characteristics": [{"name": "twist", "unit": "turn/m"}],
        "requirements": [
            {"id": "r", "kind": "each", "of": "twist", "limits": {"lower": 39.4}, "rounding": {"step": 0.1, "ties": "even"}}
        ],
    }
    series = [{"characteristic": "twist", "unit": "turn/ft", "values": [12]}]
    finding = finding_on(specification, {"lot": {"id": "L-1"}, "series": series})

    assert ("pass", 39.4, 39.37007874015748) == (
        finding["outcome"],
        finding["measured"]["value"],
        finding["measured"]["observed"],
    )


def test_sisal_breaks_fifty_pounds_above_henequen() -> None:
    """A mean of 290 lbf is 50 lbf above a minimum of 240 lbf for a like twine of henequen. Common practice, no source."""
    specification = {
        "characteristics": [{"name": "breaking_force", "unit": "lbf"}],
        "requirements": [{"id": "r", "kind": "mean", "of": "breaking_force", "limits": {"lower": 240}}],
    }
    series = [{"characteristic": "breaking_force", "unit": "lbf", "values": [275, 290, 305]}]
    finding = finding_on(specification, {"lot": {"id": "L-1"}, "series": series})

    assert ("pass", 50) == (finding["outcome"], finding["margin"])


def test_every_ball_is_weighed() -> None:
    """Of 48 balls 46 are weighed, so that two are missing. Common practice, no source."""
    specification = {
        "characteristics": [{"name": "net_mass", "unit": "kg", "sample": {"plan": "every"}}],
        "requirements": [{"id": "r", "kind": "mean", "of": "net_mass", "limits": {"lower": 9}}],
    }
    series = [{"characteristic": "net_mass", "unit": "kg", "values": [9.1] * 46}]
    finding = finding_on(specification, {"lot": {"id": "L-1", "size": 48}, "series": series})

    assert "undecided" == finding["outcome"]
    assert [{"characteristic": "net_mass", "packages": 2, "readings": 2}] == finding["missing"]


def test_a_regular_percentage_of_the_balls_is_unwound() -> None:
    """2.5 % of 481 balls are 12.025, so 13 are unwound and measured. Common practice, no source."""
    specification = {
        "characteristics": [{"name": "length", "unit": "m", "sample": {"plan": "percent", "percent": 2.5}}],
        "requirements": [{"id": "r", "kind": "each", "of": "length", "limits": {"lower": 1300}}],
    }
    series = [{"characteristic": "length", "unit": "m", "values": [1310] * 12}]
    finding = finding_on(specification, {"lot": {"id": "L-1", "size": 481}, "series": series})

    assert [{"characteristic": "length", "packages": 1, "readings": 1}] == finding["missing"]
