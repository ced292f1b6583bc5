"""Trends over HTTP: real lots opened, measured and closed one after the other."""

from collections.abc import AsyncIterator
from decimal import Decimal
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from tests.support.grades import DIRECTION, FORCE, RUNNAGE, declared, each, grade, mean, series
from tests.support.inspected import Mill, mill_on

FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
"""Ten readings of a published example: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory; mean and moving range by hand: 16.9/9).
"""
SPECIFICATION = grade(
    each(lower=40), mean(lower=1, of="runnage"), declared("Z", of="twist_direction"), of=[FORCE, RUNNAGE, DIRECTION]
)
TREND = "trends/breaking_force"


@pytest.fixture
async def mill(database_url: str) -> AsyncIterator[Mill]:
    """A mill whose twine must hold 40 N in each place."""
    async with mill_on(database_url, "T-1", SPECIFICATION) as made:
        yield made


async def measured(mill: Mill, lot: str, *values: float, line: str = "L-1", **members: Any) -> None:
    """A lot with these breaking forces in newtons, closed."""
    await mill.open(lot, line=line)
    await mill.close(lot, series=[{**series(*values), **members}])


async def test_a_trend_agrees_with_a_published_example(mill: Mill) -> None:
    """Ten lots of one reading each, in the order in which they were closed, whatever they are called."""
    for number, value in enumerate(FLOW):
        await measured(mill, f"0412-{9 - number}", value)
    found = await mill.got(TREND)
    control = found["trend"]["control"]

    assert list(FLOW) == [each["mean"] for each in found["trend"]["lots"]]
    assert sorted(each["at"] for each in found["trend"]["lots"]) == [each["at"] for each in found["trend"]["lots"]]
    assert (50.81, 1.8778, 45.8159, 55.8041) == (
        control["centre"],
        round(control["mean_moving_range"], 4),
        round(control["lower"], 4),
        round(control["upper"], 4),
    )
    assert (1, {"lower": 40}, "N") == (found["revision"], found["trend"]["limits"], found["trend"]["unit"])
    assert ["no-spread-within"] == [each["code"] for each in found["lacking"]]


async def test_the_newest_lots_of_a_line_and_a_period_are_taken(mill: Mill) -> None:
    """A chart of last week on one line is not one of all years and lines."""
    for number, line in enumerate(("L-1", "L-2", "L-1", "L-1")):
        await measured(mill, f"A{number}", 50 + number, line=line)

    async def lots(query: str) -> list[str]:
        return [each["lot"] for each in (await mill.got(f"{TREND}{query}"))["trend"]["lots"]]

    third = (await mill.got(TREND))["trend"]["lots"][2]["at"]

    assert ["A0", "A2", "A3"] == await lots("?line=L-1")
    assert ["A2", "A3"] == await lots("?limit=2")
    assert ["A2", "A3"] == await lots(f"?from={third}")
    assert ["A0", "A1"] == await lots(f"?until={third}")
    assert [] == await lots("?line=L-3")


async def test_values_are_in_the_unit_of_the_revision_that_is_asked_for(mill: Mill) -> None:
    """The grade was stated in newtons; its next revision is in kilograms-force: 98.0665 N are 10 kgf."""
    await measured(mill, "A", 98.0665)
    await mill.release(grade(each(lower=4), of={**FORCE, "unit": "kgf"}))
    now, before = await mill.got(TREND), await mill.got(f"{TREND}?revision=1")

    assert [(10, "kgf", {"lower": 4}), (98.0665, "N", {"lower": 40})] == [
        (each["trend"]["mean"], each["trend"]["unit"], each["trend"]["limits"]) for each in (now, before)
    ]


async def test_what_was_struck_or_is_in_doubt_enters_no_trend(mill: Mill) -> None:
    """A slip in the clamp says nothing of the process; and where a lot is left out it is said why."""
    await measured(mill, "A", 50, 9, 52, remarks=["", "struck", "confirmed"])
    await measured(mill, "B", 9, remarks=["slipped"])
    found = await mill.got(TREND)

    assert [("A", 2, 51)] == [(each["lot"], each["readings"], each["mean"]) for each in found["trend"]["lots"]]
    assert [("B", "remark-without-rule")] == [(each["lot"], each["code"]) for each in found["left_out"]]


async def test_what_was_learnt_later_is_in_the_trend_once(mill: Mill) -> None:
    """A lot that waited for its readings has two verdicts, and stands where its first one was recorded."""
    await mill.open("A")
    waiting = await mill.client.post("/v1/lots/A/close", json={})
    await measured(mill, "B", 50)
    for key, value in (("1", 60), ("2", 62)):
        batch = {"batch": key, "series": [series(value)]}
        await mill.client.post("/v1/lots/A/readings", json=batch)
    found = await mill.got(TREND)

    assert "undecided" == waiting.json()["verdict"]["outcome"]
    assert [("A", 2, 61), ("B", 1, 50)] == [(each["lot"], each["readings"], each["mean"]) for each in found["trend"]["lots"]]


async def test_figures_are_worked_out_from_exact_means(mill: Mill) -> None:
    """Means of a million and 1/6 or 7/30 are no doubles; the six readings are 0.1 below to 0.1 above a million and 0.2.

    Squares about 0.2: 0.01 and 0.01, by 5: s² = 0.004; about each lot's own mean twice 0.02/3, by 4: s² = 1/300.
    """
    await measured(mill, "A", 1_000_000.1, 1_000_000.2, 1_000_000.2)
    await measured(mill, "B", 1_000_000.2, 1_000_000.2, 1_000_000.3)
    found = (await mill.got(TREND))["trend"]

    assert float(Decimal("0.004").sqrt()) == found["overall"]["standard_deviation"]
    assert float(1 / Decimal(300).sqrt()) == found["within"]["standard_deviation"]
    assert 1_000_000.2 == found["mean"]
    assert float(Fraction(1, 15)) == found["control"]["mean_moving_range"]
    assert "how much lots differ is counted in" in found["performance"]["assumes"]


async def test_no_lot_is_no_error(mill: Mill) -> None:
    """A page that asks each morning gets an answer on the first one too."""
    found = await mill.got(TREND)

    assert ([], [], ["no-lots"]) == (found["trend"]["lots"], found["left_out"], [each["code"] for each in found["lacking"]])


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("T-1/trends/breaking_forse", "T-1 has no characteristic `breaking_forse`. Did you mean `breaking_force`?"),
        ("T-1/trends/twist_direction", "`twist_direction` is declared, not measured, so it has no trend."),
        ("T-2/trends/breaking_force", "There is no grade `T-2`."),
    ],
)
async def test_what_is_not_there_is_told(mill: Mill, path: str, says: str) -> None:
    """404, by the chart too, in words that help."""
    for resource in (path, f"{path}/chart"):
        answer = await mill.client.get(f"/v1/grades/{resource}")

        assert (404, says) == (answer.status_code, answer.json()["detail"][: len(says)])


async def test_the_chart_shows_the_same_and_runs_nothing(mill: Mill) -> None:
    """It is drawn for eyes, told for ears, and safe on any page."""
    for number, value in enumerate(FLOW):
        await measured(mill, f"A{number}", value)
    answer = await mill.client.get(f"/v1/grades/T-1/{TREND}/chart")
    root = ET.fromstring(answer.text)  # noqa: S314  our own document
    said = root.findtext("{http://www.w3.org/2000/svg}desc") or ""

    assert (200, "image/svg+xml", "nosniff") == (
        answer.status_code,
        answer.headers["content-type"],
        answer.headers["x-content-type-options"],
    )
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "Means of breaking force by lot" == root.findtext("{http://www.w3.org/2000/svg}title")
    assert f"The mean of all readings is {float(sum(map(Fraction, map(str, FLOW))) / 10)} N." in said
    assert "<script" not in answer.text
    assert "<style" not in answer.text


async def test_a_chart_of_no_lot_says_so(mill: Mill) -> None:
    """An empty frame would look like a fault."""
    assert "There is no lot in this period." in (await mill.client.get(f"/v1/grades/T-1/{TREND}/chart")).text
