"""What a sample still lacks; the table is worked by hand."""

import pytest

from service.engine.requirements.shortage import Shortage, shortage_of
from service.engine.sampling import SampleSize
from tests.support.grades import FORCE, grade, mean, sampled, series
from tests.support.judging import found

TWO_OF_FIVE = SampleSize(5, 2)
SHORTAGES = [
    ("nothing in", TWO_OF_FIVE, {}, 1, "readings", (5, 10)),
    ("complete", TWO_OF_FIVE, {2: 5}, 1, "readings", (0, 0)),
    ("more than complete", TWO_OF_FIVE, {3: 6}, 1, "readings", (0, 0)),
    ("three complete, one half", TWO_OF_FIVE, {2: 3, 1: 1}, 1, "readings", (2, 3)),
    ("five halves", TWO_OF_FIVE, {1: 5}, 1, "readings", (5, 5)),
    ("eight halves: five of them are completed", TWO_OF_FIVE, {1: 8}, 1, "readings", (5, 5)),
    ("many readings of one package", TWO_OF_FIVE, {10: 1}, 1, "readings", (4, 8)),
    ("the fuller ones are completed first", SampleSize(2, 4), {1: 3, 3: 1}, 1, "readings", (2, 4)),
    ("no sample, nothing in", None, {}, 1, "readings", (1, 1)),
    ("no sample, one in", None, {1: 1}, 1, "readings", (0, 0)),
    ("no sample, a spread, one in", None, {1: 1}, 2, "readings", (1, 1)),
    ("no sample, a spread, two of one package", None, {2: 1}, 2, "readings", (0, 0)),
    ("no sample, a spread of packages, two of one", None, {2: 1}, 2, "packages", (1, 1)),
    ("a lot of one, a spread", SampleSize(1, 1), {1: 1}, 2, "readings", (1, 1)),
]


@pytest.mark.parametrize(("case", "size", "counts", "least", "over", "lacking"), SHORTAGES, ids=[row[0] for row in SHORTAGES])
def test_what_is_missing_is_the_least_that_completes_the_sample(
    case: str,
    size: SampleSize | None,
    counts: dict[int, int],
    least: int,
    over: str,
    lacking: tuple[int, int],
) -> None:
    """The laboratory is asked for no specimen too many."""
    assert Shortage(*lacking) == shortage_of(size, counts, least, "packages" if over == "packages" else "readings")


@pytest.mark.parametrize(
    ("package", "readings", "values", "text"),
    [
        ("ball", None, [], "breaking force on 3 more balls"),
        ("ball", None, [1400, 1400], "breaking force on 1 more ball"),
        ("ball", 2, [], "breaking force, 2 readings on each of 3 more balls"),
        ("box", None, [1400], "breaking force on 2 more packages"),
        (None, None, [1400], "breaking force on 2 more packages"),
    ],
)
def test_what_to_measure_is_told_in_the_grades_word(
    package: str | None, readings: int | None, values: list[float], text: str
) -> None:
    """Balls are drawn from a pallet of balls; a plural that isn't regular is left to the general word."""
    specification = grade(mean(lower=1400), of=sampled(FORCE, 3, readings)) | ({"package": package} if package else {})
    finding = found(specification, series(*values))

    assert f"Still to measure: {text}." == finding["reasons"][0]["text"]


def test_missing_readings_are_told_with_what_is_there() -> None:
    """3 balls have two readings, one has one: two balls to complete or draw anew, three readings."""
    finding = found(
        grade(mean(lower=1400), of=sampled(FORCE, 5, 2)),
        series(1400, 1400, 1400, 1400, 1400, 1400, 1400, packages=["a", "a", "b", "b", "c", "c", "d"]),
    )
    missing = [{"characteristic": "breaking_force", "packages": 2, "readings": 3}]

    assert ("undecided", missing) == (finding["outcome"], finding["missing"])
    assert [
        {
            "code": "readings-missing",
            "text": "Still to measure: 3 more readings of breaking force on 2 packages.",
            "with": {"missing": missing},
            "rule": "/characteristics/0/sample",
            "at": ["/series/0"],
            "at_total": 1,
        }
    ] == finding["reasons"]
    assert {"lower": 1400, "unit": "N"} == finding["limits"]


def test_readings_of_one_package_in_two_series_count_together() -> None:
    """The ball was measured on two stations: it has its two readings."""
    finding = found(
        grade(mean(lower=1400), of=sampled(FORCE, 1, 2)), series(1400, packages=["a"]), series(1.4, unit="kN", packages=["a"])
    )

    assert "pass" == finding["outcome"]


def test_unnamed_readings_are_of_packages_of_their_own() -> None:
    """Two readings without a package are no package with two."""
    finding = found(grade(mean(lower=1400), of=sampled(FORCE, 1, 2)), series(1400, 1400))

    assert [{"characteristic": "breaking_force", "packages": 1, "readings": 1}] == finding["missing"]
