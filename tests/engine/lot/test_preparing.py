"""What evidence is refused for, and what a reading is before it is checked: every flaw at once, with both its places."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import (
    DIRECTION,
    EFFICIENCY,
    ELONGATION,
    FORCE,
    KNOT_FORCE,
    POOLED_EFFICIENCY,
    RUNNAGE,
    Document,
    declared,
    grade,
    lot,
    mean,
    series,
)
from tests.support.judging import flaws_in, flaws_of_check, judged

STRENGTH = grade(mean(lower=1400), of=[FORCE, DIRECTION])
STRANDS: Document = {"name": "strands"}
EFFICIENT = grade(mean(lower=55), of=[EFFICIENCY, FORCE, KNOT_FORCE])
POOLED = grade(mean(lower=55), of=[POOLED_EFFICIENCY, FORCE, KNOT_FORCE])
OUT_OF_RANGE = "is out of range: a number is 0, or from 1e-9 to 1e12. Check the unit, or correct the number."

SERIES = [
    (
        STRENGTH,
        series(130, of=RUNNAGE),
        Flaw(
            "unknown-characteristic",
            "The grade has no characteristic `runnage`. It has `breaking_force` and `twist_direction`.",
            "/series/0/characteristic",
        ),
    ),
    (
        STRENGTH,
        series(1400, of={"name": "breaking_forc", "unit": "N"}),
        Flaw(
            "unknown-characteristic",
            "The grade has no characteristic `breaking_forc`. Did you mean `breaking_force`?",
            "/series/0/characteristic",
        ),
    ),
    (
        STRENGTH,
        series(320, unit="lb"),
        Flaw(
            "unit-of-other-quantity",
            (
                "`lb` is a unit of mass and `breaking_force` is a force. Write `lbf` if that is meant, or send the force "
                "in `N`, `mN`, `cN`, `daN`, `kN`, `gf`, `kgf`, `tf` or `ozf`."
            ),
            "/series/0/unit",
            "/characteristics/0/unit",
        ),
    ),
    (
        STRENGTH,
        series(320, unit="lbff"),
        Flaw(
            "unknown-unit",
            (
                "`lbff` is not a known unit. Did you mean `lbf`? Write one of `N`, `mN`, `cN`, `daN`, `kN`, `gf`, `kgf`, "
                "`tf`, `ozf` or `lbf`."
            ),
            "/series/0/unit",
            "/characteristics/0/unit",
        ),
    ),
    (
        grade(mean(lower=3), of=STRANDS),
        series(3, of=STRANDS, unit="%"),
        Flaw(
            "unit-of-other-quantity",
            "`%` is a unit of ratio and `strands` is a count. Write `1`.",
            "/series/0/unit",
            "/characteristics/0",
        ),
    ),
    (
        STRENGTH,
        series(1, of=DIRECTION, unit="N"),
        Flaw(
            "category-not-measured",
            "`twist_direction` is only declared, never measured. Give it in `declared`.",
            "/series/0/characteristic",
            "/characteristics/1",
        ),
    ),
    (
        EFFICIENT,
        series(60, of=EFFICIENCY),
        Flaw(
            "derived-not-measured",
            ("`knot_efficiency` is calculated, not sent. Send the readings of `knot_breaking_force` and `breaking_force`."),
            "/series/0/characteristic",
            "/characteristics/0/derived",
        ),
    ),
    (
        STRENGTH,
        series(1400, 1410, packages=["b1"]),
        Flaw(
            "packages-differ-in-number",
            "The series has 2 values and 1 package id. Give one id for each value, or remove `packages`.",
            "/series/0/packages",
        ),
    ),
    (
        STRENGTH,
        series(1400, 1410, packages=["b1", "b\n2"]),
        Flaw("control-character", "A package id has a control character. Remove the character.", "/series/0/packages/1"),
    ),
    (STRENGTH, series(1400, 1e-10), Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", "/series/0/values/1")),
    (STRENGTH, series(1400, -1e13), Flaw("beyond-range", f"-10000000000000.0 {OUT_OF_RANGE}", "/series/0/values/1")),
    (
        STRENGTH,
        series(0, -5),
        Flaw("negative", "Breaking force is never negative, and -5 is. Correct the number.", "/series/0/values/1"),
    ),
    (
        grade(mean(lower=3), of=STRANDS),
        series(3, 2.5, of=STRANDS, unit="1"),
        Flaw(
            "not-whole",
            "Strands is a count, and 2.5 is not a whole number. Correct it.",
            "/series/0/values/1",
            "/characteristics/0",
        ),
    ),
    (
        grade(mean(lower=120), of=RUNNAGE),
        series(7700, 0, of=RUNNAGE, unit="tex"),
        Flaw(
            "zero-turned-round",
            "0 tex cannot be inverted into m/kg. Correct the reading, or remove it.",
            "/series/0/values/1",
            "/characteristics/0/unit",
        ),
    ),
]


@pytest.mark.parametrize(("specification", "column", "flaw"), SERIES)
def test_a_series_is_told_what_is_wrong_with_it(specification: Document, column: Document, flaw: Flaw) -> None:
    """The ERP's programmer finds the very value, and why the grade does not take it."""
    assert [flaw] == flaws_in(specification, lot(column))


def test_flaws_of_a_long_column_are_found_one_by_one() -> None:
    """A station that sends a day's readings is told of each bad one, not that some are bad."""
    readings = [1400.0] * 100
    readings[17], readings[80] = -1, 1e13

    assert [("negative", "/series/0/values/17"), ("beyond-range", "/series/0/values/80")] == [
        (flaw.code, flaw.at) for flaw in flaws_in(STRENGTH, lot(series(*readings)))
    ]


def test_only_a_ratio_may_be_negative() -> None:
    """A specimen that shrinks has an elongation below 0; no force is."""
    specification = grade(mean(lower=-5), of=ELONGATION)

    assert "pass" == judged(specification, lot(series(-3.5, of=ELONGATION)))["outcome"]


def test_a_declaration_is_told_what_is_wrong_with_it() -> None:
    """A declaration that the grade does not ask for is a slip, and of two the service must not choose."""
    evidence = lot(declared={"twist_direction": "Z", "twist_directions": "S"})
    evidence["declared"].append({"characteristic": "twist_direction", "value": 1e13})

    assert [
        Flaw(
            "unknown-characteristic",
            "The grade has no characteristic `twist_directions`. Did you mean `twist_direction`?",
            "/declared/1/characteristic",
        ),
        Flaw(
            "declared-twice",
            "`twist_direction` is already declared at /declared/0. Remove one of the two.",
            "/declared/2/characteristic",
        ),
        Flaw("beyond-range", f"10000000000000.0 {OUT_OF_RANGE}", "/declared/2/value"),
    ] == flaws_in(grade(declared("Z"), of=DIRECTION), evidence)


def test_a_series_without_values_is_no_reading() -> None:
    """A station may open its columns before the first reading comes; nothing is passed by that."""
    finding = judged(STRENGTH, lot(series(), series(packages=[])))["findings"][0]

    assert ("undecided", [], 0) == (finding["outcome"], finding["reasons"][0]["at"], finding["reasons"][0]["at_total"])


PAIRS = [
    (
        lot(series(1, 2, 3), series(1, 2, of=KNOT_FORCE)),
        [("Readings without a package: 2 of knot breaking force and 3 of breaking force", "/series/0/values/2")],
    ),
    (
        lot(series(1, 2, 3, packages=["a", "b", "b"]), series(1, 2, of=KNOT_FORCE, packages=["b", "c"])),
        [
            ("Package `a`: 0 of knot breaking force and 1 of breaking force", "/series/0/values/0"),
            ("Package `b`: 1 of knot breaking force and 2 of breaking force", "/series/0/values/2"),
            ("Package `c`: 1 of knot breaking force and 0 of breaking force", "/series/1/values/1"),
        ],
    ),
    (
        lot(series(1), series(2, packages=["a"]), series(1, of=KNOT_FORCE, packages=["a"])),
        [("Readings without a package: 0 of knot breaking force and 1 of breaking force", "/series/0/values/0")],
    ),
]


@pytest.mark.parametrize(("evidence", "told"), PAIRS)
def test_a_reading_without_its_partner_is_named(evidence: Document, told: list[tuple[str, str]]) -> None:
    """A knot that was pulled without its straight partner would shift all later pairs without anybody's noticing."""
    rest = "and knot efficiency pairs them one by one. Send the same number of each."

    assert [
        Flaw("reading-without-partner", f"{numbers}, {rest}", at, "/characteristics/0/derived") for numbers, at in told
    ] == flaws_in(EFFICIENT, evidence)


def test_each_zero_that_would_be_divided_by_is_named() -> None:
    """A specimen that broke at nothing makes no quotient, and neither infinity nor silence is an answer."""
    text = "This reading of breaking force is 0, and knot efficiency is calculated by dividing by it. Correct it, or remove it."

    assert [
        Flaw("division-by-zero", text, f"/series/0/values/{place}", "/characteristics/0/derived") for place in (1, 2)
    ] == flaws_in(EFFICIENT, lot(series(900, 0, -0.0), series(500, 510, 520, of=KNOT_FORCE)))


def test_zeros_alone_are_named_too() -> None:
    """A column of nothing but zeros is no better than one among others."""
    flaws = flaws_in(EFFICIENT, lot(series(0, 0), series(500, 510, of=KNOT_FORCE)))

    assert ["/series/0/values/0", "/series/0/values/1"] == [flaw.at for flaw in flaws]


def test_a_mean_of_zero_that_would_be_divided_by_is_named() -> None:
    """The quotient of means divides once, by the mean."""
    text = (
        "The mean of these readings of breaking force is 0, and knot efficiency is calculated by dividing by it. "
        "Correct it, or remove it."
    )

    assert [Flaw("division-by-zero", text, "/series/1/values/0", "/characteristics/0/derived")] == flaws_in(
        POOLED, lot(series(500, of=KNOT_FORCE), series(0, 0))
    )


CHECKS = [
    (STRENGTH, 1, "runnage", "N", ["unknown-characteristic"], ["/characteristic"]),
    (STRENGTH, 1e13, "runnage", "N", ["unknown-characteristic", "beyond-range"], ["/characteristic", "/value"]),
    (STRENGTH, 1, "twist_direction", "N", ["category-not-measured"], ["/characteristic"]),
    (EFFICIENT, 1, "knot_efficiency", "%", ["derived-not-measured"], ["/characteristic"]),
    (STRENGTH, 1, "breaking_force", "kg", ["unit-of-other-quantity"], ["/unit"]),
    (STRENGTH, -1, "breaking_force", "kg", ["unit-of-other-quantity", "negative"], ["/unit", "/value"]),
    (grade(mean(lower=3), of=STRANDS), 2.5, "strands", "C62", ["not-whole"], ["/value"]),
    (grade(mean(lower=3), of=RUNNAGE), 0, "runnage", "D34", ["zero-turned-round"], ["/value"]),
]


@pytest.mark.parametrize(("specification", "value", "of", "unit", "codes", "places"), CHECKS)
def test_a_check_is_refused_for_what_evidence_is_refused_for(
    specification: Document, value: float, of: str, unit: str, codes: list[str], places: list[str]
) -> None:
    """The station hears the same as the ERP, pointed into its own request."""
    flaws = flaws_of_check(specification, value, of, unit)

    assert (codes, places) == ([flaw.code for flaw in flaws], [flaw.at for flaw in flaws])
