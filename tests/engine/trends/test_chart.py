"""The chart: well-formed, points where the data say, told in words too."""

from fractions import Fraction
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from service.engine.trends import Trend, chart, trend_of
from service.engine.trends.capability import Limits
from service.engine.trends.charting import scale_of
from tests.support.trends import point

OPEN = Limits()
SVG = "{http://www.w3.org/2000/svg}"
MEANS = (10.0, 11.0, 10.0, 11.0, 10.0, 11.0, 10.0, 11.0, 10.0, 20.0)


def trend(*means: float, name: str = "L", limits: Limits = OPEN, unit: str = "N") -> Trend:
    """Lots with these means."""
    points = [point(f"{name}-{number}", Fraction(str(mean))) for number, mean in enumerate(means, 1)]
    return trend_of("breaking_force", unit, points, limits)


def drawn(found: Trend) -> ET.Element:
    """The chart, parsed: it is well-formed or this raises."""
    return ET.fromstring(chart(found))  # noqa: S314  our own document


def texts(root: ET.Element) -> list[str]:
    """All that is written in it."""
    return [each.text or "" for each in root.iter(f"{SVG}text")]


def ticks(root: ET.Element) -> list[tuple[float, float]]:
    """(place from above, value) of the ticks at the side."""
    ends = [each for each in root.iter(f"{SVG}text") if each.get("text-anchor") == "end"]
    return [(float(each.attrib["y"]), float(each.text or "")) for each in ends]


def values_of(root: ET.Element, places: list[float]) -> list[float]:
    """What these places from above stand for, read off the ticks as a person would."""
    (low_at, low), *_, (high_at, high) = ticks(root)
    return [low + (low_at - place) / (low_at - high_at) * (high - low) for place in places]


def test_the_points_stand_where_the_data_say() -> None:
    """Read off the ticks, each is its lot's mean; from left to right in their order."""
    root = drawn(trend(*MEANS))
    points = [(float(each.attrib["cx"]), float(each.attrib["cy"])) for each in root.iter(f"{SVG}circle")]

    assert sorted(points) == points
    assert pytest.approx(MEANS[:-1], abs=0.02) == values_of(root, [y for _, y in points])


def test_a_point_beyond_its_limits_has_another_shape() -> None:
    """Whoever sees no colours, or prints in black, sees it as well."""
    root = drawn(trend(*MEANS))
    diamonds = [each for each in root.iter(f"{SVG}path") if each.get("class") == "beyond"]
    _, y = diamonds[0].attrib["d"].split("m")[0].lstrip("M").split()

    assert ["Lot L-10, 2026-01-02T06:00:00Z: mean 20 N of 1 reading"] == [each.findtext(f"{SVG}title") for each in diamonds]
    assert pytest.approx([20], abs=0.02) == values_of(root, [float(y)])


def test_lines_stand_at_their_values_and_say_what_they_are() -> None:
    """Centre, control limits and the grade's own limits, each with its figure and unit; dashes tell them apart."""
    root = drawn(trend(*MEANS, limits=Limits(Fraction(5), Fraction(22))))
    at = {
        each.attrib["class"]: float(each.attrib["d"].split()[1].split("H")[0])
        for each in root.iter(f"{SVG}path")
        if each.get("class") in {"centre", "limit"}
    }

    assert pytest.approx([11.4], abs=0.02) == values_of(root, [at["centre"]])
    assert pytest.approx([5], abs=0.02) == values_of(root, [at["limit"]])
    assert {
        "upper limit of a reading 22 N",
        "upper control limit 16.7191 N",
        "centre 11.4 N",
        "lower control limit 6.08085 N",
        "lower limit of a reading 5 N",
    } <= set(texts(root))


def test_words_beside_the_lines_do_not_cover_each_other() -> None:
    """Limits that nearly agree are still read."""
    root = drawn(trend(10, 10.1, 10, limits=Limits(Fraction("9.99"), Fraction("10.01"))))
    places = sorted(float(each.attrib["y"]) for each in root.iter(f"{SVG}text") if each.get("x") == "728")

    assert 5 == len(places)
    assert all(after - before >= 15 for before, after in pairwise(places))


def test_the_axes_say_what_stands_on_them_with_its_unit() -> None:
    """A figure without a unit is none."""
    assert {"mean of breaking force, N", "lot, in order of time"} <= set(texts(drawn(trend(1, 2))))
    assert "mean of breaking force" in texts(drawn(trend(1, 2, unit="1")))


def test_it_is_told_in_words_too() -> None:
    """Whoever hears the page hears what the chart shows, the signals included."""
    root = drawn(trend(*MEANS))
    said = root.findtext(f"{SVG}desc") or ""

    assert ("img", "title desc", "Means of breaking force by lot") == (
        root.get("role"),
        root.get("aria-labelledby"),
        root.findtext(f"{SVG}title"),
    )
    assert "10 lots with 10 readings. The mean of all readings is 11.4 N." in said
    assert "The mean of lot L-10, 20 N, is above the control limit of 16.719149 N." in said
    assert "Nothing speaks against a process that runs evenly." in (drawn(trend(1, 2, 1)).findtext(f"{SVG}desc") or "")


def test_what_a_lot_is_called_cannot_break_out() -> None:
    """A name is text, whatever signs it holds, and there is no script."""
    found = chart(trend(1, 2, name='<script>"&'))

    assert "<script" not in found
    assert '<script>"&-1' in " ".join(each.text or "" for each in ET.fromstring(found).iter(f"{SVG}title"))  # noqa: S314  ours


def test_many_lots_are_named_sparsely() -> None:
    """Names over each other could not be read."""
    root = drawn(trend(*[float(number % 7) for number in range(100)]))
    named = [each for each in root.iter(f"{SVG}text") if each.get("y") == "360"]

    assert 8 == len(named)


def test_small_figures_are_not_all_zeros() -> None:
    """A linear density in kg/m is small."""
    assert "centre 1.5e-07 N" in texts(drawn(trend(1e-7, 2e-7)))


def test_no_lot_is_told() -> None:
    """An empty frame would look like a fault."""
    assert "There is no lot in this period." in texts(drawn(trend()))


@pytest.mark.parametrize("values", [(5.0,), (0.0,), (1e-9, 2e-9), (1e12, 1e12), (-3.0, 4.0), (0.1, 0.1000001)])
def test_a_scale_holds_its_values(values: tuple[float, ...]) -> None:
    """However small, large or alike they are, all stand between the first tick and the last."""
    scale = scale_of(values, 1)

    assert scale.low < min(values) <= max(values) < scale.high
    assert 2 <= len(scale.ticks) <= 12
