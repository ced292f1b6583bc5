"""What limits, outer limits and allowances are refused for."""

import pytest

from service.engine.documents import Flaw
from tests.support.grades import ELONGATION, FORCE, Document, each, grade, mean
from tests.support.judging import flaws_of

AT = "/requirements/0/limits"
WITHOUT_TOLERANCE_KIND = Flaw(
    "missing-field",
    ("It is not given whether `minus` and `plus` are a percentage. Add `tolerance`: `percent` or `absolute`."),
    f"{AT}/tolerance",
)
WITHOUT_NOMINAL = Flaw("missing-field", "Tolerances need a `nominal`, which is missing. Add it.", f"{AT}/nominal")
WITHOUT_TOLERANCE = Flaw("limits-without-sides", "The nominal has no tolerance. Give `minus`, `plus` or both.", AT)
OUT_OF_RANGE = "is out of range. Choose a unit in which it is 0, or from 1e-9 to 1e12."

LIMITS = [
    ({}, [Flaw("limits-without-sides", "The limits have neither a lower nor an upper side. Give at least one.", AT)]),
    (
        {"lower": 1, "nominal": 2},
        [
            Flaw(
                "limits-in-two-ways",
                ("Limits are either `lower` and `upper`, or a `nominal` with tolerances. Remove `nominal`, or the others."),
                AT,
            )
        ],
    ),
    ({"nominal": 5}, [WITHOUT_TOLERANCE_KIND, WITHOUT_TOLERANCE]),
    ({"nominal": 5, "minus": 1}, [WITHOUT_TOLERANCE_KIND]),
    ({"minus": 1, "tolerance": "percent"}, [WITHOUT_NOMINAL]),
    ({"nominal": 5, "tolerance": "absolute"}, [WITHOUT_TOLERANCE]),
    (
        {"nominal": 5, "plus": -1, "tolerance": "percent"},
        [Flaw("negative-tolerance", "A tolerance has no sign, and -1 has one. Remove the minus sign.", f"{AT}/plus")],
    ),
    (
        {"nominal": 5, "minus": 6, "tolerance": "absolute"},
        [
            Flaw(
                "negative",
                "The lower limit is -1, and breaking force is never negative. Make `minus` smaller.",
                f"{AT}/minus",
            )
        ],
    ),
    (
        {"lower": -1},
        [Flaw("negative", "Breaking force is never negative, and -1 is. Correct the limit.", f"{AT}/lower")],
    ),
    (
        {"lower": 42, "upper": 36},
        [
            Flaw(
                "limits-upside-down",
                "The lower limit, 42 N, is above the upper one, 36 N. Swap them or correct one.",
                AT,
            )
        ],
    ),
    (
        {"lower": 1e-10, "upper": 1e13},
        [
            Flaw("beyond-range", f"1e-10 {OUT_OF_RANGE}", f"{AT}/lower"),
            Flaw("beyond-range", f"10000000000000.0 {OUT_OF_RANGE}", f"{AT}/upper"),
        ],
    ),
]


@pytest.mark.parametrize(("limits", "flaws"), LIMITS)
def test_limits_are_told_what_is_wrong_with_them(limits: Document, flaws: list[Flaw]) -> None:
    """Limits that cannot be met, or say two things, would fail or pass every lot."""
    assert flaws == flaws_of(grade(mean(limits=limits)))


def test_limits_of_a_count_are_told_without_a_unit() -> None:
    """Nobody says "4 1" of four strands."""
    flaws = flaws_of(grade(mean(lower=4, upper=3), of={"name": "strands"}))

    assert ["The lower limit, 4, is above the upper one, 3. Swap them or correct one."] == [flaw.text for flaw in flaws]


@pytest.mark.parametrize(
    "limits",
    [
        {"lower": 1400, "upper": 1400},
        {"nominal": 1400, "minus": 0, "plus": 0, "tolerance": "percent"},
        {"nominal": 0, "plus": 5, "tolerance": "percent"},
        {"nominal": 5, "minus": 5, "tolerance": "absolute"},
        {"nominal": 5, "minus": 100, "tolerance": "percent"},
        {"lower": -0.0},
    ],
)
def test_limits_may_coincide_and_touch_zero(limits: Document) -> None:
    """An exact length is a requirement too, and zero is no negative number."""
    assert [] == flaws_of(grade(mean(limits=limits)))


def test_limits_on_a_ratio_may_be_negative() -> None:
    """A shrinkage of up to 2 % is an elongation of −2 %."""
    assert [] == flaws_of(grade(mean(lower=-2, upper=0), of=ELONGATION))


OUTER = [
    (
        {},
        Flaw(
            "limits-without-sides",
            "The outer limits have neither a lower nor an upper side. Give one, or remove `outer`.",
            "/requirements/0/outer",
        ),
    ),
    (
        {"lower": 1150},
        Flaw(
            "outer-inside",
            "The outer lower limit, 1150, is inside the lower limit, 1120. Move it outside.",
            "/requirements/0/outer/lower",
        ),
    ),
    (
        {"upper": 2000},
        Flaw(
            "outer-on-open-side",
            "`limits` has no upper side, so `outer` cannot have one. Give it in both, or in neither.",
            "/requirements/0/outer/upper",
        ),
    ),
    (
        {"lower": -1},
        Flaw(
            "negative",
            "Breaking force is never negative, and -1 is. Correct the limit.",
            "/requirements/0/outer/lower",
        ),
    ),
]


@pytest.mark.parametrize(("outer", "flaw"), OUTER)
def test_outer_limits_are_told_what_is_wrong_with_them(outer: Document, flaw: Flaw) -> None:
    """An outer limit inside the inner one would make the allowance mean nothing."""
    assert [flaw] == flaws_of(grade(each(lower=1120, allowed_outside={"count": 1}, outer=outer)))


def test_an_outer_limit_may_stand_on_the_limit() -> None:
    """It then allows nothing beyond, which is what its writer says."""
    assert [] == flaws_of(grade(each(lower=1120, upper=1500, outer={"lower": 1120, "upper": 1500})))


def test_an_upper_outer_limit_inside_is_told() -> None:
    """Both sides have an outside."""
    flaws = flaws_of(grade(each(lower=1120, upper=1500, outer={"lower": 1000, "upper": 1400})))

    assert [("outer-inside", "/requirements/0/outer/upper")] == [(flaw.code, flaw.at) for flaw in flaws]


def test_outer_limits_are_not_blamed_for_flawed_limits() -> None:
    """What they lie outside of has to be known first."""
    flaws = flaws_of(grade(each(limits={"nominal": 5, "minus": 1}, outer={"lower": 3})))

    assert [WITHOUT_TOLERANCE_KIND] == flaws


@pytest.mark.parametrize(
    ("allowed", "text"),
    [
        ({}, "Neither `count` nor `percent` is given. Give one of the two."),
        ({"count": 1, "percent": 2}, "Both `count` and `percent` are given. Remove one of the two."),
    ],
)
def test_an_allowance_is_a_count_or_a_percentage(allowed: Document, text: str) -> None:
    """With both, or neither, two readers would count differently."""
    assert [Flaw("count-or-percent", text, "/requirements/0/allowed_outside")] == flaws_of(
        grade(each(lower=1, allowed_outside=allowed), of=FORCE)
    )


def test_a_percentage_allowed_is_a_number_of_the_range() -> None:
    """A slip of the keyboard is no allowance."""
    flaws = flaws_of(grade(each(lower=1, allowed_outside={"percent": 1e-10})))

    assert [("beyond-range", "/requirements/0/allowed_outside/percent")] == [(flaw.code, flaw.at) for flaw in flaws]
