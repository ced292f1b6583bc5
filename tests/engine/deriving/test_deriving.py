"""What is worked out from what is weighed: the net content of a package, and the length that nobody unwinds to prove."""

from typing import Any

import pytest

from service.engine.documents import Flaw
from service.engine.reviewing import advice_on
from tests.support.grades import RUNNAGE, Document, each, fixed, grade, lot, mean, series, spread
from tests.support.judging import compiled, flaws_in, flaws_of, found, judged

GROSS: Document = {"name": "gross_mass", "unit": "kg"}
TARE: Document = {"name": "tare_mass", "unit": "g"}
NET: Document = {"name": "net_mass", "unit": "kg"}
LENGTH: Document = {"name": "length", "unit": "m"}
DENSITY: Document = {"name": "linear_density", "unit": "ktex"}


def net(**tare: object) -> Document:
    """The net mass, gross less this tare."""
    return {**NET, "derived": {"kind": "net_of_tare", "gross": "gross_mass", "tare": tare}}


def product(unit: str = "m", name: str = "length", **sides: object) -> Document:
    """A product of these sides."""
    return {"name": name, "unit": unit, "derived": {"kind": "product", **sides}}


def value(finding: Document) -> Any:
    """What was compared."""
    return finding["measured"]["value"]


def test_a_fixed_tare_is_taken_off_every_package() -> None:
    """A mill that buys one kind of film weighs it once and writes it into the grade."""
    specification = grade(each(lower=9), of=[net(fixed=0.25), GROSS])

    assert 8.99 == value(found(specification, series(9.3, 9.24, 9.41, of=GROSS)))


def test_a_net_mass_on_the_limit_passes() -> None:
    """9.25 less 0.25 is exactly 9: no rounding of doubles may make it less."""
    finding = found(grade(each(lower=9), of=[net(fixed=0.25), GROSS]), series(9.25, of=GROSS))

    assert ("pass", 0) == (finding["outcome"], finding["margin"])


def test_a_sampled_tare_is_taken_off_by_its_mean() -> None:
    """Cores of 240, 250 and 260 g have a mean of 250 g, which is taken off each ball."""
    specification = grade(mean(lower=9), of=[net(sampled="tare_mass"), GROSS, TARE])
    finding = found(specification, series(9.3, 9.26, of=GROSS), series(240, 250, 260, of=TARE))

    assert 9.03 == value(finding)
    assert ["/series/0", "/series/1"] == finding["reasons"][0]["at"]


def test_a_tare_by_package_is_taken_off_its_own_package() -> None:
    """Cores that differ are weighed with the ball they belong to, in whatever order they come."""
    columns = (
        series(9.3, 9.2, of=GROSS, packages=["b1", "b2"]),
        series(190, 310, of=TARE, packages=["b2", "b1"]),
    )
    finding = found(grade(each(lower=9), of=[net(per_package="tare_mass"), GROSS, TARE]), *columns)

    assert ("fail", 8.99) == (finding["outcome"], value(finding))
    assert ["/series/0/values/0", "/series/1/values/1"] == finding["reasons"][0]["at"]


def test_one_reading_of_a_sampled_tare_is_enough() -> None:
    """The sample of the balls says nothing of how many cores are weighed, and a spread of the balls needs no two cores."""
    specification = grade(
        mean(lower=9, sample=fixed(2)),
        spread("range", 1),
        of=[net(sampled="tare_mass"), {**GROSS, "sample": fixed(2)}, {**TARE, "sample": fixed(1)}],
    )

    assert "pass" == judged(specification, lot(series(9.3, 9.3, of=GROSS), series(250, of=TARE)))["outcome"]


def test_a_sampled_tare_waits_for_its_own_sample() -> None:
    """The grade asks for three cores."""
    specification = grade(mean(lower=9), of=[net(sampled="tare_mass"), GROSS, {**TARE, "sample": fixed(3)}])
    finding = found(specification, series(9.3, of=GROSS), series(250, of=TARE))

    assert [{"characteristic": "tare_mass", "packages": 2, "readings": 2}] == finding["missing"]


def test_without_the_tare_nothing_is_known_of_the_content() -> None:
    """A gross mass taken for a net one would pass every short ball."""
    finding = found(grade(mean(lower=9), of=[net(sampled="tare_mass"), GROSS, TARE]), series(9.3, of=GROSS))

    assert ("undecided", "no-partner") == (finding["outcome"], finding["reasons"][0]["code"])


@pytest.mark.parametrize(
    ("tare", "columns"),
    [
        ({"fixed": 9.3}, []),
        ({"sampled": "tare_mass"}, [series(9000, 9600, of=TARE)]),
        ({"per_package": "tare_mass"}, [series(250, 9300, of=TARE)]),
    ],
)
def test_a_tare_above_the_gross_is_a_flaw_of_that_reading(tare: Document, columns: list[Document]) -> None:
    """A slip of the pen, not a ball that weighs less than nothing."""
    specification = grade(each(lower=9), of=[net(**tare), GROSS, *([TARE] if columns else [])])
    text = "The gross mass is 0.93 kg and the tare 9.3 kg, so the package would be empty. Correct the reading, or the tare."

    assert [Flaw("tare-above-gross", text, "/series/0/values/1", "/characteristics/0/derived/tare")] == flaws_in(
        specification, lot(series(9.31, 0.93, of=GROSS), *columns)
    )


def test_an_empty_package_is_empty_and_no_flaw() -> None:
    """Gross and tare alike leave 0, which a limit then judges."""
    assert 0 == value(found(grade(each(lower=9), of=[net(fixed=9.25), GROSS]), series(9.25, of=GROSS)))


@pytest.mark.parametrize("columns", [(9.3, 9.2, 250), (9.3, 250, 250)])
def test_tares_by_package_are_as_many_as_the_packages(columns: tuple[float, float, float]) -> None:
    """A core without a ball belongs to none of them."""
    gross = [number for number in columns if number < 100]
    tares = [number for number in columns if number > 100]
    specification = grade(each(lower=9), of=[net(per_package="tare_mass"), GROSS, TARE])

    assert ["reading-without-partner"] == [
        flaw.code for flaw in flaws_in(specification, lot(series(*gross, of=GROSS), series(*tares, of=TARE)))
    ]


def test_a_length_is_worked_out_package_by_package() -> None:
    """9 kg of 130 m/kg are 1170 m; 9.1 kg of 128 m/kg are 1164.8 m."""
    specification = grade(each(lower=1165), of=[product(of=["net_mass", "runnage"]), NET, RUNNAGE])
    finding = found(specification, series(9, 9.1, of=NET), series(130, 128, of=RUNNAGE))

    assert ("fail", 1164.8) == (finding["outcome"], value(finding))
    assert ["/series/0/values/1", "/series/1/values/1"] == finding["reasons"][0]["at"]


def test_a_length_is_worked_out_by_the_mean_runnage_of_the_lot() -> None:
    """Three balls are unwound, all are weighed: 9 kg at 129 m/kg on average are 1161 m."""
    specification = grade(each(lower=1161), of=[product(each="net_mass", mean_of="runnage"), NET, RUNNAGE])
    finding = found(specification, series(9.2, 9, of=NET), series(128, 129, 130, of=RUNNAGE))

    assert ("pass", 1161, 0) == (finding["outcome"], value(finding), finding["margin"])
    assert ["/series/0", "/series/1"] == finding["reasons"][0]["at"]


def test_a_runnage_given_as_a_linear_density_is_turned_round_before_it_multiplies() -> None:
    """8 ktex are 125 m/kg, so 8 kg of it are 1000 m, exactly."""
    specification = grade(each(lower=1000), of=[product(of=["net_mass", "runnage"]), NET, RUNNAGE])
    finding = found(specification, series(8, 16, of=NET), series(8, 15, of=RUNNAGE, unit="ktex"))

    assert ("pass", 1000) == (finding["outcome"], value(finding))


def test_a_mean_of_too_many_reciprocals_is_refused() -> None:
    """Their exact sum would keep every other caller waiting; runnage sent as runnage has no bound."""
    specification = grade(mean(lower=1), of=[product(each="net_mass", mean_of="runnage"), NET, RUNNAGE])
    text = (
        "There are 5001 readings of runnage in a unit of the reciprocal quantity, and the exact mean of more than 5000 "
        "such readings takes too long. Send them in `m/kg`, `km/kg`, `m/g`, `ft/lb` or `yd/lb`."
    )
    turned = series(*[8 + number / 10_000 for number in range(5001)], of=RUNNAGE, unit="ktex")

    assert [Flaw("too-many-turned-round", text, "/series/1/values", "/characteristics/0/derived")] == flaws_in(
        specification, lot(series(9, of=NET), turned)
    )
    assert "pass" == found(specification, series(9, of=NET), series(*[130.0] * 5001, of=RUNNAGE))["outcome"]


def test_units_of_the_sides_are_their_own() -> None:
    """1000 ft of 3 g/m: 304.8 m of it are 914.4 g."""
    of = [
        product("g", "net_mass", of=["length", "linear_density"]),
        {"name": "length", "unit": "ft"},
        {"name": "linear_density", "unit": "g/m"},
    ]

    assert 914.4 == value(found(grade(each(lower=1), of=of), series(1000, of=of[1]), series(3, of=of[2])))


def test_a_ratio_changes_no_quantity() -> None:
    """80 % of 1400 N are 1120 N."""
    share: Document = {"name": "share_of_force", "unit": "%", "quantity": "ratio"}
    force: Document = {"name": "breaking_force", "unit": "N"}
    kept: Document = {**product("N", "kept_force", of=["breaking_force", "share_of_force"]), "quantity": "force"}
    specification = grade(each(lower=1120), of=[kept, force, share])

    assert 1120 == value(found(specification, series(1400, of=force), series(80, of=share)))


BY_MEAN = product(each="net_mass", mean_of="runnage")
WEIGHED = [BY_MEAN, net(sampled="tare_mass"), GROSS, TARE, RUNNAGE]


def test_a_length_is_worked_out_of_what_is_weighed_with_its_core() -> None:
    """9.25 kg with a core of 250 g at 130 m/kg are 1170 m; the grade may name them in any order."""
    columns = series(9.25, of=GROSS), series(249, 251, of=TARE), series(129, 131, of=RUNNAGE)
    finding = found(grade(mean(lower=1170), of=WEIGHED), *columns)

    assert ("pass", 1170, 0) == (finding["outcome"], value(finding), finding["margin"])
    assert ["/series/0", "/series/1", "/series/2"] == finding["reasons"][0]["at"]


def test_a_length_with_its_core_is_worked_out_package_by_package_too() -> None:
    """Each ball has its own core and its own runnage."""
    characteristics = [product(of=["net_mass", "runnage"]), net(per_package="tare_mass"), GROSS, TARE, RUNNAGE]
    columns = (
        series(9.25, 8.2, of=GROSS, packages=["b1", "b2"]),
        series(200, 250, of=TARE, packages=["b2", "b1"]),
        series(125, 130, of=RUNNAGE, packages=["b2", "b1"]),
    )
    finding = found(grade(each(lower=1000), of=characteristics), *columns)

    assert ("pass", 1000) == (finding["outcome"], value(finding))


def test_a_commercial_mass_is_that_of_the_net_content() -> None:
    """9.25 kg with a core of 250 g and 10 % of water are 8.1 kg dry; with 14 % of regain 9.234 kg. By the definitions: CALC."""
    water: Document = {"name": "moisture_content", "unit": "%"}
    derived = {"kind": "commercial_mass", "mass": "net_mass", "moisture": "moisture_content", "regain": 14}
    paid: Document = {"name": "paid_mass", "unit": "kg", "quantity": "mass", "derived": derived}
    specification = grade(mean(lower=9.234), of=[paid, net(fixed=0.25), GROSS, water])
    finding = found(specification, series(9.25, of=GROSS), series(10, of=water))

    assert ("pass", 9.234, 0) == (finding["outcome"], value(finding), finding["margin"])


def test_a_length_waits_for_all_that_is_weighed() -> None:
    """Whatever is absent, nothing is known of the length."""
    specification = grade(mean(lower=1170), of=WEIGHED)
    columns = series(9.25, of=GROSS), series(250, of=TARE), series(130, of=RUNNAGE)
    for absent in range(3):
        sent = [column for number, column in enumerate(columns) if number != absent]

        assert "undecided" == found(specification, *sent)["outcome"]


def test_a_sample_of_a_length_is_of_the_balls_alone() -> None:
    """Two balls are weighed, one core and one piece are enough."""
    specification = grade(mean(lower=1170, sample=fixed(2)), of=WEIGHED)
    columns = series(250, of=TARE), series(130, of=RUNNAGE)
    short = found(specification, series(9.25, of=GROSS), *columns)

    assert [{"characteristic": "gross_mass", "packages": 1, "readings": 1}] == short["missing"]
    assert "pass" == found(specification, series(9.25, 9.26, of=GROSS), *columns)["outcome"]


def test_a_tare_above_the_gross_is_told_where_a_length_is_asked_for() -> None:
    """Nothing negative is multiplied."""
    columns = series(9.25, of=GROSS), series(9999, of=TARE), series(130, of=RUNNAGE)

    assert ["tare-above-gross"] == [flaw.code for flaw in flaws_in(grade(mean(lower=1), of=WEIGHED), lot(*columns))]


def test_what_a_length_comes_from_is_no_idle_characteristic() -> None:
    """The review of such a grade has nothing to say of its net mass."""
    advice = advice_on(
        compiled(grade(mean(lower=1, sample=fixed(2)), of=[*WEIGHED[:2], GROSS, {**TARE, "sample": fixed(1)}, RUNNAGE]))
    )

    assert [] == [each for each in advice if each.code == "no-requirement"]


def test_a_product_of_a_product_is_a_flaw() -> None:
    """Only what a package holds is worked out on the way to something else."""
    twice = product("m", "twofold", each="length", mean_of="share") | {"quantity": "length"}
    share: Document = {"name": "share", "unit": "%", "quantity": "ratio"}
    flaws = flaws_of(grade(mean(lower=1), of=[twice, BY_MEAN, share, NET, RUNNAGE]))

    assert [("derived-of-derived", "/characteristics/0/derived/each")] == [(flaw.code, flaw.at) for flaw in flaws]


FLAWED = [
    (
        [net(), GROSS],
        Flaw(
            "one-tare",
            "The tare is missing. Give one of `fixed`, `sampled` and `per_package`.",
            "/characteristics/0/derived/tare",
        ),
    ),
    (
        [net(fixed=0.25, sampled="tare_mass"), GROSS, TARE],
        Flaw(
            "one-tare",
            "The tare is given in 2 ways. Give one of `fixed`, `sampled` and `per_package`.",
            "/characteristics/0/derived/tare",
        ),
    ),
    (
        [net(sampled="tare"), GROSS, TARE],
        Flaw(
            "unknown-characteristic",
            "There is no characteristic `tare` here. Here it is called `tare_mass`.",
            "/characteristics/0/derived/tare/sampled",
        ),
    ),
    (
        [net(per_package="length"), GROSS, LENGTH],
        Flaw(
            "side-of-other-quantity",
            "`length` is a length, and `net_mass` is a mass. Name a mass.",
            "/characteristics/0/derived/tare/per_package",
        ),
    ),
    (
        [product(each="net_mass"), NET],
        Flaw(
            "product-of-two",
            (
                "A product is `of` two characteristics, or of `each` reading of one and the `mean_of` another. "
                "Give one of these pairs."
            ),
            "/characteristics/0/derived",
        ),
    ),
    (
        [product(of=["net_mass", "runnage"], each="net_mass", mean_of="runnage"), NET, RUNNAGE],
        Flaw(
            "product-of-two",
            (
                "A product is `of` two characteristics, or of `each` reading of one and the `mean_of` another. "
                "Give one of these pairs."
            ),
            "/characteristics/0/derived",
        ),
    ),
    (
        [product(of=["net_mass", "linear_density"]), NET, DENSITY],
        Flaw(
            "product-not-known",
            "A mass times a mass per length is not a known product. Choose one of those in the guide.",
            "/characteristics/0/derived",
        ),
    ),
    (
        [product("kg", "gross_mass", of=["net_mass", "runnage"]), NET, RUNNAGE],
        Flaw(
            "product-of-other-quantity",
            (
                "A mass times a length per mass is a length, and `gross_mass` is a mass. "
                "Change the two characteristics or the name."
            ),
            "/characteristics/0/derived",
        ),
    ),
]


@pytest.mark.parametrize(("characteristics", "flaw"), FLAWED)
def test_what_cannot_be_derived_is_told_with_its_place(characteristics: list[Document], flaw: Flaw) -> None:
    """The engineer mends the grade before a lot is judged by it."""
    specification = grade(mean(lower=1), of=characteristics)

    assert [flaw] == flaws_of(specification)


def test_a_tare_beyond_the_range_of_numbers_is_told() -> None:
    """A tare of 1e-10 kg is a slip."""
    assert ["beyond-range"] == [flaw.code for flaw in flaws_of(grade(mean(lower=1), of=[net(fixed=1e-10), GROSS]))]
