"""What is read on packs: a bale of two balls is weighed as one, and a lot has half as many bales as balls."""

import json

import msgspec
import pytest

from service.engine.documents import Flaw, LotToDraw
from service.engine.drawing import what_to_draw
from tests.support.grades import FORCE, Document, fixed, grade, mean, series
from tests.support.judging import compiled, flaws_of, found

BALE: Document = {"name": "bale", "holds": 2}
GROSS: Document = {"name": "gross_mass", "unit": "kg"}
PERCENT: Document = {"plan": "percent", "percent": 10}
BALES: Document = {**GROSS, "per": "pack", "sample": PERCENT}


def packed(*requirements: Document, of: Document | list[Document] = BALES, pack: Document | None = BALE) -> Document:
    """A grade whose balls are packed in twos."""
    specification = grade(*requirements, of=of)
    return specification if pack is None else {**specification, "pack": pack}


@pytest.mark.parametrize(
    ("size", "bales"),
    [
        # 10 % of 100 bales; of 61 balls in 31 bales, 3.1 and so 4.
        (200, 10),
        (61, 4),
    ],
)
def test_a_sample_of_what_is_read_on_packs_counts_packs(size: int, bales: int) -> None:
    """Ten per cent of the balls would be twice as many bales as the buyer asks for."""
    specification = packed(mean(lower=18))
    complete = found(specification, series(*[18.5] * bales, of=GROSS), size=size)
    short = found(specification, series(*[18.5] * (bales - 1), of=GROSS), size=size)

    assert ("pass", "undecided") == (complete["outcome"], short["outcome"])
    assert [{"characteristic": "gross_mass", "packages": 1, "readings": 1}] == short["missing"]


def test_a_retest_of_packs_draws_packs() -> None:
    """Ten per cent of 100 bales once more; of the balls it would be 20."""
    specification = packed(mean(lower=18, retest={"sample": PERCENT, "judge": "together"}))
    first = found(specification, series(*[17.0] * 10, of=GROSS), size=200)
    again = series(*[17.5] * 10, of=GROSS), {**series(*[18.5] * 10, of=GROSS), "stage": 2}

    assert 10 == first["reasons"][-1]["with"]["packages"]
    assert "pass" == found(specification, *again, size=200)["outcome"]


def test_what_is_read_on_packages_counts_packages() -> None:
    """The other characteristics of the same grade are untouched."""
    specification = packed(mean(lower=1), of={**FORCE, "per": "package", "sample": PERCENT})

    assert "undecided" == found(specification, series(*[1400.0] * 10), size=200)["outcome"]


def test_a_net_content_of_packs_goes_by_the_number_of_packs() -> None:
    """1200 balls are 600 bales, which take 80 by UK SI 2006/659; 1000 balls are 500, which take 50."""
    net: Document = {"kind": "net_content", "rule": "uk-2006-659", "nominal": 9}
    specification = packed(net, of={"name": "net_mass", "unit": "kg", "per": "pack"})

    assert [80, 50] == [found(specification, size=size)["missing"][0]["packages"] for size in (1200, 1000)]


def test_a_draw_of_packs_says_how_many_packs_and_what_is_in_them() -> None:
    """4 bales of a lot of 7 balls are the whole lot."""
    whole = packed(mean(lower=18), of={**BALES, "sample": {"plan": "every"}})
    for specification, size, packs, packages in ((packed(mean(lower=18)), 200, 10, 20), (whole, 7, 4, 7)):
        answer = json.loads(msgspec.json.encode(what_to_draw(compiled(specification), LotToDraw(size=size))))

        assert (packs, packages) == (answer["draws"][0]["packs"], answer["draws"][0]["packages"])
        assert packages == answer["packages"]


NET: Document = {
    "name": "net_mass",
    "unit": "kg",
    "derived": {"kind": "net_of_tare", "gross": "gross_mass", "tare": {"sampled": "tare_mass"}},
}


def test_what_is_worked_out_of_packs_is_of_packs() -> None:
    """A bale less its wrapping is a bale's content."""
    tare: Document = {"name": "tare_mass", "unit": "kg", "per": "pack"}
    specification = packed(mean(lower=18), of=[NET, BALES, tare])

    assert 2 == compiled(specification).characteristics["net_mass"].holds


FLAWED = [
    (
        packed(mean(lower=18), pack=None),
        Flaw(
            "missing-field",
            ("`gross_mass` is measured on packs, and the grade does not give how many packages a pack holds. Add `pack`."),
            "/pack",
        ),
    ),
    (
        packed(mean(lower=18), of=[NET, BALES, {"name": "tare_mass", "unit": "kg"}]),
        Flaw(
            "sides-per-other",
            (
                "`gross_mass` is per pack and `tare_mass` is per package, and `net_mass` needs both per the same. "
                "Change one of them."
            ),
            "/characteristics/0/derived",
        ),
    ),
    (
        packed(mean(lower=18), of=[{**NET, "per": "pack"}, BALES, {"name": "tare_mass", "unit": "kg", "per": "pack"}]),
        Flaw(
            "per-not-here",
            "`net_mass` is of whatever `gross_mass` and `tare_mass` are measured on. Remove `per`.",
            "/characteristics/0/per",
        ),
    ),
]


@pytest.mark.parametrize(("specification", "flaw"), FLAWED)
def test_packs_and_packages_are_not_mixed_up(specification: Document, flaw: Flaw) -> None:
    """A bale less one ball's core would pass every short bale."""
    assert [flaw] == flaws_of(specification)


def test_a_pack_that_nothing_is_read_on_changes_nothing() -> None:
    """It may be told all the same."""
    specification = packed(mean(lower=1400), of={**FORCE, "sample": fixed(2)})

    assert "pass" == found(specification, series(1400, 1400), size=200)["outcome"]
