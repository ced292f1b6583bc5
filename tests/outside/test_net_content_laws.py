"""Net content as the law texts have it: figures of 76/211/EEC, UK SI 2006/659 and the German FPackV, and worked cases."""

from fractions import Fraction

import pytest

from service.engine.requirements.net_content.figures import ContentPlan, Law, Row, plan_in
from service.engine.requirements.net_content.rules import LAWS
from service.engine.requirements.net_content.rules.nist_hb133 import SAMPLE_CORRECTION
from service.engine.sampling import LotSize
from tests.support.grades import Document, grade, series
from tests.support.judging import found

MASS: Document = {"name": "net_mass", "unit": "g"}
LENGTH: Document = {"name": "length", "unit": "m"}
MASS_LAWS = ["eu-76-211", "uk-2006-659", "de-fpackv"]


def content(rule: str, nominal: float, of: Document = MASS, **members: object) -> Document:
    """A grade with a net content by this rule."""
    return grade({"kind": "net_content", "rule": rule, "nominal": nominal, **members}, of=of)


def plan_of(law: Law, table: str, size: int) -> ContentPlan:
    """The plan of a law's table."""
    plan = plan_in(law.name, law.rows[table], LotSize(size))
    assert isinstance(plan, ContentPlan)
    return plan


def spread_out(mean: float, deviation: float, count: int) -> list[float]:
    """So many contents with exactly this mean, half above and half below, whose standard deviation is nearly this."""
    half = deviation * ((count - 1) / count) ** 0.5
    return [round(mean + (half if number % 2 else -half), 6) for number in range(count)]


@pytest.mark.parametrize("rule", MASS_LAWS)
@pytest.mark.parametrize(
    ("nominal", "tolerable"),
    [
        # 76/211/EEC Annex I, 2.4 (reference N1): SEEN rule, CALC values. 150 g: 6.75 rounds up to 6.8.
        ("40", "3.6"),
        ("75", "4.5"),
        ("150", "6.8"),
        ("250", "9"),
        ("400", "12"),
        ("750", "15"),
        ("5000", "75"),
        # The ends of the bands, where both sides agree: CALC.
        ("5", "0.5"),
        ("50", "4.5"),
        ("100", "4.5"),
        ("200", "9"),
        ("300", "9"),
        ("500", "15"),
        ("1000", "15"),
        ("10000", "150"),
        # Rounding up to 0.1 g, exactly: 9 % of 40.1 g are 3.609 g; 4.5 % of 160 g are 7.2 g and stay so.
        ("40.1", "3.7"),
        ("160", "7.2"),
        ("301", "9.1"),
    ],
)
def test_a_tolerable_error_is_that_of_its_band(rule: str, nominal: str, tolerable: str) -> None:
    """Inspectors look it up; a rounding to the nearest 0.1 g would fail packages that the law lets pass."""
    assert Fraction(tolerable) / 1000 == LAWS[rule].tolerance.of(Fraction(nominal) / 1000)


@pytest.mark.parametrize("rule", MASS_LAWS)
@pytest.mark.parametrize("nominal", ["4.999", "10000.001"])
def test_outside_the_bands_there_is_no_tolerable_error(rule: str, nominal: str) -> None:
    """76/211/EEC covers 5 g to 10 kg (SEEN): a ball of 15 kg is outside it."""
    assert LAWS[rule].tolerance.of(Fraction(nominal) / 1000) is None


@pytest.mark.parametrize("rule", ["eu-76-211", "uk-2006-659"])
@pytest.mark.parametrize(
    ("table", "sizes", "stages", "mean"),
    [
        # 76/211/EEC Annex II and UK SI 2006/659 Schedule 2, paragraphs 3 and 4: SEEN.
        ("double", (100, 500), [(30, 1, 3), (30, 4, 5)], (30, "0.503")),
        ("double", (501, 3200), [(50, 2, 5), (50, 6, 7)], (50, "0.379")),
        ("double", (3201, 10_000), [(80, 3, 7), (80, 8, 9)], (50, "0.379")),
        ("single", (100, 500), [(50, 3, 4)], (30, "0.503")),
        ("single", (501, 3200), [(80, 5, 6)], (50, "0.379")),
        ("single", (3201, 10_000), [(125, 7, 8)], (50, "0.379")),
        ("destructive", (100, 10_000), [(20, 1, 2)], (20, "0.640")),
    ],
)
def test_the_plan_is_that_of_the_batch(
    rule: str, table: str, sizes: tuple[int, int], stages: list[tuple[int, int, int]], mean: tuple[int, str]
) -> None:
    """Both ends of every row: one package more or less is another sample."""
    for size in sizes:
        plan = plan_of(LAWS[rule], table, size)

        assert stages == [(stage.packages, stage.accept, stage.reject) for stage in plan.stages]
        assert (mean[0], Fraction(mean[1])) == (plan.mean.packages, plan.mean.factor)


@pytest.mark.parametrize(
    ("sizes", "packages", "accept", "factor"),
    [
        # FPackV Annex 4, destructive and reduced checks of mass: SEEN.
        ((10, 99), 5, 0, "2.058"),
        ((100, 500), 8, 0, "1.237"),
        ((501, 3200), 13, 1, "0.847"),
        ((3201, 10_000), 20, 1, "0.640"),
        ((10_001, 1_000_000), 30, 2, "0.503"),
    ],
)
def test_the_german_plans_for_mass_are_those_of_the_law(
    sizes: tuple[int, int], packages: int, accept: int, factor: str
) -> None:
    """Its batches have no upper end."""
    for size in sizes:
        plan = plan_of(LAWS["de-fpackv"], "single", size)

        assert [(packages, accept, accept + 1)] == [(each.packages, each.accept, each.reject) for each in plan.stages]
        assert (packages, Fraction(factor), "standard deviation") == plan.mean


@pytest.mark.parametrize(
    ("sizes", "packages", "factor"),
    [
        # FPackV Annex 4, length: SEEN.
        ((26, 50), 3, "1.0"),
        ((51, 150), 5, "0.35"),
        ((151, 500), 8, "0.2"),
        ((501, 3200), 13, "0.15"),
        ((3201, 10_000), 20, "0.1"),
        ((10_001, 1_000_000), 30, "0.085"),
    ],
)
def test_the_german_plans_for_length_go_by_the_range(sizes: tuple[int, int], packages: int, factor: str) -> None:
    """No package of them may be short by more than is tolerable."""
    for size in sizes:
        plan = plan_of(LAWS["de-fpackv-length"], "single", size)

        assert [(packages, 0, 1)] == [(each.packages, each.accept, each.reject) for each in plan.stages]
        assert (packages, Fraction(factor), "range") == plan.mean


@pytest.mark.parametrize(
    ("packages", "computed"),
    [
        # t(0.995; n − 1)/√n: CALC. FPackV prints 2.058 for n 5, which is 0.001 low.
        (5, "2.0590"),
        (8, "1.2373"),
        (13, "0.8472"),
        (20, "0.6397"),
        (30, "0.5032"),
        (50, "0.3790"),
    ],
)
def test_the_factors_of_the_mean_are_what_the_laws_print(packages: int, computed: str) -> None:
    """The printed numeral is compared; it is the computed one, rounded, in all rows but one."""
    printed = {
        row.mean.packages: row.mean.factor
        for rule in MASS_LAWS
        for rows in LAWS[rule].rows.values()
        for row in rows
        if isinstance(row, Row)
    }

    assert abs(printed[packages] - Fraction(computed)) <= Fraction("0.001" if packages == 5 else "0.0005")


@pytest.mark.parametrize(
    ("packages", "factor"),
    [
        # NIST Handbook 133, sample correction factors: t(0.975; n − 1)/√n, CALC to three decimals.
        # MEM: printed are 8.984 for n 2, 1.241 for n 5 and 0.291 for n 48.
        (2, "8.985"),
        (3, "2.484"),
        (4, "1.591"),
        (5, "1.242"),
        (6, "1.049"),
        (7, "0.925"),
        (8, "0.836"),
        (9, "0.769"),
        (10, "0.715"),
        (11, "0.672"),
        (12, "0.635"),
        (24, "0.422"),
        (30, "0.373"),
        (48, "0.290"),
    ],
)
def test_a_sample_correction_factor_is_the_computed_one(packages: int, factor: str) -> None:
    """Whoever repeats the computation gets the same numeral."""
    assert Fraction(factor) == SAMPLE_CORRECTION[packages]


def test_the_sample_correction_factors_fall_as_the_sample_grows() -> None:
    """A slip in a row of figures would stand out."""
    factors = list(SAMPLE_CORRECTION.values())

    assert factors == sorted(factors, reverse=True)
    assert (2, 60) == (min(SAMPLE_CORRECTION), max(SAMPLE_CORRECTION))


def test_a_mean_above_the_floor_is_accepted() -> None:
    """76/211/EEC Annex II 2.3 (reference N2): 999.0 is above 1000 − 0.379 · 3.0 = 998.863. CALC."""
    values = spread_out(999.0, 3.0, 50)
    finding = found(content("eu-76-211", 1000, scheme="double"), series(*values, of=MASS), size=1000)
    average = finding["reasons"][0]

    assert ("pass", "average-met") == (finding["outcome"], average["code"])
    assert pytest.approx(0.137, abs=1e-5) == average["with"]["by"]


def test_a_mean_below_the_floor_of_a_destructive_check_is_refused() -> None:
    """76/211/EEC Annex II 2.3 (reference N3): 998.0 is below 1000 − 0.640 · 3.0 = 998.080. CALC."""
    values = spread_out(998.0, 3.0, 20)
    finding = found(content("eu-76-211", 1000, destructive=True), series(*values, of=MASS), size=1000)
    average = finding["reasons"][0]

    assert ("fail", "average-short") == (finding["outcome"], average["code"])
    assert pytest.approx(0.080, abs=1e-5) == average["with"]["by"]
    assert pytest.approx(-0.080, abs=1e-5) == finding["margin"]


def short_ones(count: int, short: int) -> list[float]:
    """Contents of which so many are short of 1000 g by more than 15 g, and the others make up for it."""
    return [984.0] * short + [1003.0] * (count - short)


def test_a_double_plan_wants_its_second_sample() -> None:
    """UK SI 2006/659 Schedule 2, 3.7 (reference N4): 4 of 50 are more than 2 and fewer than 5. SEEN rule."""
    finding = found(content("uk-2006-659", 1000, scheme="double"), series(*short_ones(50, 4), of=MASS), size=2000)

    assert ("undecided", "second-sample-needed") == (finding["outcome"], finding["reasons"][0]["code"])
    assert [{"characteristic": "net_mass", "packages": 50, "readings": 50}] == finding["missing"]


@pytest.mark.parametrize(("second", "outcome"), [(3, "fail"), (2, "pass")])
def test_both_samples_of_a_double_plan_are_counted_together(second: int, outcome: str) -> None:
    """UK SI 2006/659 Schedule 2, 3.7 (reference N4): 4 and 3 are 7, which rejects; 4 and 2 are 6. SEEN rule, CALC."""
    columns = (
        series(*short_ones(50, 4), of=MASS),
        {**series(*short_ones(50, second), of=MASS), "stage": 2},
    )
    finding = found(content("uk-2006-659", 1000, scheme="double"), *columns, size=2000)

    assert (outcome, 4 + second) == (finding["outcome"], finding["measured"]["outside"])


def test_a_length_is_judged_by_the_range() -> None:
    """FPackV section 28, Annex 4 (reference N5): 199.64 + 0.35 · 1.5 = 200.165 m. CALC."""
    finding = found(content("de-fpackv-length", 200, of=LENGTH), series(199.2, 200.4, 198.9, 200.1, 199.6, of=LENGTH), size=120)

    assert ("pass", 199.64) == (finding["outcome"], finding["measured"]["value"])
    assert ("average-met", 0.525, 0.165) == (
        finding["reasons"][0]["code"],
        finding["reasons"][0]["with"]["allowance"],
        finding["reasons"][0]["with"]["by"],
    )
    assert (196, 0.165) == (finding["limits"]["lower"], finding["margin"])


@pytest.mark.parametrize(
    ("nominal", "yarn", "floor"),
    [
        # FPackV section 28: SEEN. Yarn up to 100 m may be short by 4 %, everything else by 2 %.
        (100, True, 96),
        (100, False, 98),
        (100.5, True, 98.49),
        (50, True, 48),
    ],
)
def test_short_yarn_may_be_short_by_more(nominal: float, yarn: bool, floor: float) -> None:  # noqa: FBT001  a column of the table
    """The only law that names yarn."""
    finding = found(content("de-fpackv-length", nominal, of=LENGTH, yarn=yarn), series(101, of=LENGTH), size=120)

    assert floor == finding["limits"]["lower"]
