"""Net content: when it passes, when it fails, and what it says while nobody can know."""

from typing import Any

import msgspec
import pytest

from service.engine.documents import Flaw, Undrawn
from service.engine.sampling import LotSize
from tests.support.grades import RUNNAGE, Document, fixed, grade, lot, series
from tests.support.judging import compiled, flaws_in, flaws_of, found, judged

MASS: Document = {"name": "net_mass", "unit": "g"}
LENGTH: Document = {"name": "length", "unit": "m"}
LABEL: Document = {"name": "label_mass", "unit": "kg", "quantity": "mass"}


def content(
    rule: str = "uk-2006-659", nominal: float | None = 1000, of: Document | list[Document] = MASS, **members: object
) -> Document:
    """A grade with a net content."""
    stated = {} if nominal is None else {"nominal": nominal}
    return grade({"kind": "net_content", "rule": rule, **stated, **members}, of=of)


def own(
    sample: Document, *, at_most: int | None = 0, of: Document = MASS, nominal: float = 1000, **figures: object
) -> Document:
    """A grade with figures of its own: 2 % tolerable, where no other is said."""
    said = {} if at_most is None else {"at_most_beyond": at_most}
    return content("own", nominal, of, own={"sample": sample, "tolerable": {"percent": 2}, **said, **figures})


def codes(finding: Document) -> list[str]:
    """Why."""
    return [reason["code"] for reason in finding["reasons"]]


def balls(count: int, short: int = 0, by: float = 16, other: float = 1003) -> list[float]:
    """So many contents, the first of them short of 1000 g by this."""
    return [1000 - by] * short + [other] * (count - short)


def judged_by(rule: Document, *values: float, size: int | None = 1000) -> Document:
    """The finding on these contents."""
    return found(rule, series(*values, of=MASS), size=size)


def test_a_good_lot_passes_and_says_why_by_each_check() -> None:
    """The printed report lists all three."""
    finding = judged_by(content(), *balls(80))

    assert ("pass", ["average-met", "shorts-accepted", "none-short-by-twice"]) == (finding["outcome"], codes(finding))
    assert (
        "The average of the first 50 of 80 packages, 1003 g, is 3 g over the label of 1000 g; it may not be under."
    ) == finding["reasons"][0]["text"]
    assert "None of 80 packages is more than 15 g under the label; at most 5 may be." == finding["reasons"][1]["text"]
    assert (
        "None of 80 packages is more than 30 g under the label, which is 2 times the usual tolerance; none may be."
        == finding["reasons"][2]["text"]
    )
    assert {"lower": 985, "nominal": 1000, "outer": {"lower": 970}, "unit": "g"} == finding["limits"]
    assert 3 == finding["margin"]


def test_equality_of_the_mean_accepts() -> None:
    """The table says "at least"; 25 of 999 g and 25 of 1001 g, less 0, are exactly 1000 g."""
    plain = own(fixed(50))
    finding = judged_by(plain, *[999, 1001] * 25)

    assert ("pass", 0, ["average-met", "shorts-accepted"]) == (finding["outcome"], finding["margin"], codes(finding))
    assert (
        "The average of 50 packages, 1000 g, is exactly on the label of 1000 g; it may not be under."
        == finding["reasons"][0]["text"]
    )


@pytest.mark.parametrize(("mean", "outcome"), [(996.8, "pass"), (996.799999, "fail")])
def test_the_mean_beside_a_standard_deviation_is_compared_exactly(mean: float, outcome: str) -> None:
    """996 and 1004 four and four times, with one at the mean: s is 4, and 0.8 · 4 = 3.2 makes up for 3.2 exactly."""
    values = [mean - 4] * 4 + [mean + 4] * 4 + [mean]
    finding = judged_by(own(fixed(9), mean_factor=0.8), *[round(value, 6) for value in values])

    assert outcome == finding["outcome"]
    assert (finding["margin"] == 0) == (outcome == "pass")


def test_a_standard_deviation_that_is_a_root_is_compared_by_squares() -> None:
    """999 and 1001: s is √2. With a factor of 1.4142135 the mean makes 1000 at 998 less a hair; a longer factor makes it."""
    short = judged_by(own(fixed(2), mean_factor=1.4142135), 997, 999)
    enough = judged_by(own(fixed(2), mean_factor=1.4142136), 997, 999)

    assert ("fail", "pass") == (short["outcome"], enough["outcome"])
    assert -1e-6 < short["margin"] < 0 < enough["margin"] < 1e-6
    under = "The average, 998 g, is 2 g under the label of 1000 g."
    assert f"{under} Up to 1.9999999 g under is allowed for 2 packages as uneven as these." == short["reasons"][0]["text"]
    assert f"{under} Up to 2.0000001 g under is allowed for 2 packages as uneven as these." == enough["reasons"][0]["text"]


def test_an_average_is_told_by_the_label_and_by_what_its_packages_allow() -> None:
    """Mean 4.97 lb and s 0.05 lb: with a factor of 0.6 the average may be 0.03 lb under, which it is."""
    pounds = {**MASS, "unit": "lb"}
    specification = {**own(fixed(3), of=pounds, nominal=5, mean_factor=0.6), "package": "ball"}
    finding = found(specification, series(4.92, 4.97, 5.02, of=pounds), size=1000)

    text = (
        "The average, 4.97 lb, is 0.03 lb under the label of 5 lb. "
        "Up to 0.03 lb under is allowed for 3 balls as uneven as these."
    )
    assert text == finding["reasons"][0]["text"]
    assert "None of 3 balls is more than 0.1 lb under the label; none may be." == finding["reasons"][1]["text"]


def test_a_content_at_the_tolerable_shortage_is_not_short() -> None:
    """Short by more than, not by as much as."""
    assert "pass" == judged_by(content(), *balls(50), *[985.0] * 30)["outcome"]
    assert ["average-met", "too-many-short", "none-short-by-twice"] == codes(
        judged_by(content(), *balls(80, short=6, by=15.001, other=1010))
    )


@pytest.mark.parametrize(("short", "outcome"), [(5, "pass"), (6, "fail")])
def test_as_many_may_be_short_as_the_plan_says(short: int, outcome: str) -> None:
    """5 of 80 pass, 6 do not."""
    finding = judged_by(content(), *balls(80, short))

    assert (outcome, short, 5) == (finding["outcome"], finding["measured"]["outside"], finding["measured"]["allowed"])


def test_the_short_packages_are_pointed_at() -> None:
    """Somebody has to pull them out."""
    finding = judged_by(content(), *balls(80, 6))

    assert [f"/series/0/values/{place}" for place in range(6)] == finding["reasons"][1]["at"]
    assert "6 of 80 packages are more than 15 g under the label; at most 5 may be." == finding["reasons"][1]["text"]
    assert -1 == finding["margin"]


@pytest.mark.parametrize(("by", "outcome"), [(30, "pass"), (30.001, "fail")])
def test_none_may_be_short_by_twice_what_is_tolerable(by: float, outcome: str) -> None:
    """Such a package may not carry the mark, however good the others are."""
    finding = judged_by(content(), *balls(80, 1, by))

    assert (outcome, outcome == "fail") == (finding["outcome"], "short-by-twice" in codes(finding))


def test_only_the_first_packages_are_averaged_and_counted() -> None:
    """More were weighed than the plan takes; the better ones may not be chosen afterwards."""
    finding = judged_by(content(), *balls(80), *[984.0] * 40)

    assert ("pass", 0, 120) == (finding["outcome"], finding["measured"]["outside"], finding["measured"]["packages"])
    assert "first 50 of 120" in finding["reasons"][0]["text"]


def test_a_package_beyond_the_plan_is_still_not_short_by_twice() -> None:
    """What is known of any package of the lot counts."""
    finding = judged_by(content(), *balls(80), 960)

    assert ("fail", ["/series/0/values/80"]) == (finding["outcome"], finding["reasons"][2]["at"])


def test_readings_of_one_package_are_one_content() -> None:
    """Weighed twice, averaged once."""
    specification = own(fixed(2))
    column = series(979, 1001, 1010, of=MASS, packages=["b1", "b1", "b2"])

    assert ("pass", 2) == (
        found(specification, column, size=9)["outcome"],
        found(specification, column)["measured"]["packages"],
    )


def test_a_sample_that_is_not_complete_is_undecided() -> None:
    """79 of 80."""
    finding = judged_by(content(), *balls(79))

    assert ("undecided", ["readings-missing"]) == (finding["outcome"], codes(finding))
    assert [{"characteristic": "net_mass", "packages": 1, "readings": 1}] == finding["missing"]


def test_a_lot_that_no_further_package_can_save_fails_at_once() -> None:
    """Six are short already, of a plan that takes 80."""
    finding = judged_by(content(), *balls(60, 6))

    assert ("fail", True) == (finding["outcome"], "too-many-short" in codes(finding))


def test_a_named_package_may_be_weighed_again_while_the_sample_is_short() -> None:
    """Its mean may change, so nothing is lost yet."""
    column = series(*balls(60, 6), of=MASS, packages=[f"b{number}" for number in range(60)])

    assert "undecided" == found(content(), column, size=1000)["outcome"]


def test_without_any_content_the_whole_sample_is_missing() -> None:
    """It is said how many to pull."""
    finding = found(content(), size=1000)

    assert [{"characteristic": "net_mass", "packages": 80, "readings": 80}] == finding["missing"]


@pytest.mark.parametrize(
    ("rule", "members", "size", "code", "text"),
    [
        (
            "uk-2006-659",
            {},
            None,
            "lot-size-unknown",
            "How many packages to take depends on the size of the lot, which is not given. Give `size` in `lot`.",
        ),
        (
            "eu-76-211",
            {},
            10_001,
            "plan-not-in-table",
            (
                "`eu-76-211` has plans for lots of 1 to 10000 packages, and this lot has 10001. "
                "Judge it in parts, each a lot of its own."
            ),
        ),
        (
            "eu-76-211",
            {"destructive": True},
            99,
            "plan-not-in-table",
            ("`eu-76-211` has plans for lots of 100 to 10000 packages, and this lot has 99. Judge it by another rule."),
        ),
        (
            "de-fpackv",
            {},
            9,
            "plan-not-in-table",
            ("`de-fpackv` has plans for lots of at least 10 packages, and this lot has 9. Judge it by another rule."),
        ),
    ],
)
def test_a_lot_that_the_rule_has_no_plan_for_is_undecided(
    rule: str, members: Document, size: int | None, code: str, text: str
) -> None:
    """Never a plan that looks right."""
    finding = judged_by(content(rule, **members), *balls(125), size=size)

    assert ("undecided", code, text) == (finding["outcome"], finding["reasons"][0]["code"], finding["reasons"][0]["text"])


@pytest.mark.parametrize(("short", "outcome"), [(3, "pass"), (4, "fail")])
def test_of_a_small_lot_every_package_counts_and_one_in_twenty_may_be_short(short: int, outcome: str) -> None:
    """UK SI 2006/659: 5 % of 60 are 3 (SEEN rule); the plain mean is compared."""
    finding = judged_by(content(), *balls(60, short), size=60)

    assert outcome == finding["outcome"]
    assert "The average of 60 packages" in finding["reasons"][0]["text"]


def test_the_plain_mean_of_a_small_lot_may_not_be_below() -> None:
    """All packages are known, so nothing is granted to chance."""
    finding = judged_by(content(), *[999.9] * 30, *[1000] * 30, size=60)

    assert ("fail", "average-short") == (finding["outcome"], finding["reasons"][0]["code"])
    assert "is 0.05 g under the label of 1000 g; it may not be under." in finding["reasons"][0]["text"]


@pytest.mark.parametrize(("short", "outcome"), [(0, "pass"), (1, "undecided")])
def test_the_directive_does_not_say_how_many_of_a_small_lot_may_be_short(short: int, outcome: str) -> None:
    """None is fine; how many are too many is not told, so nobody can say."""
    finding = judged_by(content("eu-76-211"), *balls(60, short), size=60)

    assert outcome == finding["outcome"]
    assert (outcome == "undecided") == ("plan-not-in-table" in codes(finding))


def test_a_small_lot_that_is_short_on_average_fails_whatever_the_directive_leaves_open() -> None:
    """The mean decides by itself."""
    assert "fail" == judged_by(content("eu-76-211"), *balls(60, 1, other=999), size=60)["outcome"]


def staged(first: list[float], second: list[float]) -> list[Document]:
    """Two series, of the first and of the second sample."""
    return [series(*first, of=MASS), {**series(*second, of=MASS), "stage": 2}]


DOUBLE = content(scheme="double")


@pytest.mark.parametrize(("short", "outcome"), [(2, "pass"), (3, "undecided"), (4, "undecided"), (5, "fail")])
def test_a_double_plan_decides_at_once_where_it_can(short: int, outcome: str) -> None:
    """2 of 50 accept, 5 reject, between them a second sample is wanted."""
    finding = judged_by(DOUBLE, *balls(50, short))

    assert outcome == finding["outcome"]


def test_a_second_sample_is_asked_for_in_words() -> None:
    """The inspector reads what to do."""
    finding = judged_by(DOUBLE, *balls(50, 3))

    assert (
        "3 of 50 packages are more than 15 g under the label, which neither accepts nor rejects the lot. "
        "Draw a second sample of 50 packages and send it as `stage` 2."
    ) == finding["reasons"][0]["text"]
    assert ["second-sample-needed"] == codes(finding)


def test_a_second_sample_has_to_be_complete() -> None:
    """30 of 50 of it are in."""
    finding = found(DOUBLE, *staged(balls(50, 3), balls(30)), size=1000)

    assert ("undecided", 20) == (finding["outcome"], finding["missing"][0]["packages"])


def test_the_mean_is_that_of_the_first_sample() -> None:
    """The mean check has its own number of packages."""
    finding = found(DOUBLE, *staged(balls(50, 3), balls(50, other=1100)), size=1000)

    assert ("pass", 1001.86) == (finding["outcome"], finding["measured"]["value"])


def test_a_package_of_the_second_sample_is_not_short_by_twice_either() -> None:
    """It carries the same mark."""
    finding = found(DOUBLE, *staged(balls(50, 3), balls(50, 1, by=31)), size=1000)

    assert ("fail", ["/series/1/values/0"]) == (finding["outcome"], finding["reasons"][2]["at"])


def test_a_second_sample_before_the_first_is_complete_decides_nothing() -> None:
    """Stages out of order: what is missing of the first is asked for."""
    finding = found(DOUBLE, *staged(balls(49), balls(50)), size=1000)

    assert ("undecided", 1) == (finding["outcome"], finding["missing"][0]["packages"])


def test_a_short_mean_fails_before_a_second_sample_is_drawn() -> None:
    """No second sample mends it."""
    finding = judged_by(DOUBLE, *balls(50, 3, other=999))

    assert ("fail", True) == (finding["outcome"], "average-short" in codes(finding))


def test_a_second_sample_after_a_first_that_accepts_is_a_flaw() -> None:
    """Who draws until it fits chooses the better of two."""
    text = "The first sample has decided on `net_mass`, so no second sample is needed. Remove it."

    assert [Flaw("stage-not-called-for", text, "/series/1/stage", "/requirements/0")] == flaws_in(
        DOUBLE, lot(*staged(balls(50, 2), balls(50)), size=1000)
    )


def test_a_nominal_content_may_be_declared() -> None:
    """One grade, labels of 1 kg and 2 kg: the declared number is in its own unit."""
    specification = content(nominal=None, of_declared="label_mass", of=[MASS, LABEL])
    evidence = lot(series(*balls(80), of=MASS), size=1000, declared={"label_mass": 1})
    finding = judged(specification, evidence)["findings"][0]

    assert ("pass", 1000) == (finding["outcome"], finding["limits"]["nominal"])


@pytest.mark.parametrize(
    ("declared", "code", "text"),
    [
        ({}, "limit-not-known", "Label mass is not entered, so the nominal content is not known. Enter it."),
        (
            {"label_mass": "one"},
            "limit-not-known",
            "The label mass entered is not a number above 0, so the nominal content is not known. Enter it in kg.",
        ),
        (
            {"label_mass": 0},
            "limit-not-known",
            "The label mass entered is not a number above 0, so the nominal content is not known. Enter it in kg.",
        ),
        (
            {"label_mass": 15},
            "nominal-beyond-rule",
            "The rule has no figure for a label of 15000 g. Judge it by another rule.",
        ),
    ],
)
def test_without_a_nominal_content_that_the_rule_knows_nothing_is_decided(
    declared: dict[str, object], code: str, text: str
) -> None:
    """A ball of 15 kg is outside the Directive."""
    specification = content(nominal=None, of_declared="label_mass", of=[MASS, LABEL])
    finding = judged(specification, lot(series(*balls(80), of=MASS), size=1000, declared=declared))["findings"][0]

    assert ("undecided", code, text) == (finding["outcome"], finding["reasons"][0]["code"], finding["reasons"][0]["text"])


def test_units_change_nothing() -> None:
    """2 lb are 907.18474 g: 15 g of it are tolerable. Readings in g, the label in lb."""
    pounds: Document = {"name": "net_mass", "unit": "lb"}
    finding = found(content(nominal=2, of=pounds), series(*[892.2] * 5, *[912] * 75, of=pounds, unit="g"), size=1000)

    assert ("pass", 0) == (finding["outcome"], finding["measured"]["outside"])
    assert pytest.approx(2 - 15 / 453.59237) == finding["limits"]["lower"]


NET: Document = {**MASS, "derived": {"kind": "net_of_tare", "gross": "gross_mass", "tare": {"sampled": "tare_mass"}}}
GROSS: Document = {"name": "gross_mass", "unit": "g"}
TARE: Document = {"name": "tare_mass", "unit": "g", "sample": fixed(3)}
WEIGHED = content(of=[NET, GROSS, TARE])


def test_a_net_content_is_judged_of_what_is_weighed() -> None:
    """80 balls with their cores, and three cores."""
    columns = series(*[1253.0] * 80, of=GROSS), series(249, 250, 251, of=TARE)
    finding = found(WEIGHED, *columns, size=1000)

    assert ("pass", 1003) == (finding["outcome"], finding["measured"]["value"])


def test_what_is_weighed_is_what_is_missing() -> None:
    """Nobody can send a net mass here."""
    short = found(WEIGHED, series(*[1253.0] * 79, of=GROSS), series(249, 250, 251, of=TARE), size=1000)
    few = found(WEIGHED, series(*[1253.0] * 80, of=GROSS), series(249, 250, of=TARE), size=1000)

    assert [{"characteristic": "gross_mass", "packages": 1, "readings": 1}] == short["missing"]
    assert [{"characteristic": "tare_mass", "packages": 1, "readings": 1}] == few["missing"]


def test_without_the_tare_nothing_is_decided() -> None:
    """A gross mass is no net content."""
    finding = found(WEIGHED, series(*[1253.0] * 80, of=GROSS), size=1000)

    assert ("undecided", ["no-partner"]) == (finding["outcome"], codes(finding))


def test_a_specimen_of_several_packages_is_no_content_of_one() -> None:
    """Five balls weighed together hide the short one among them."""
    finding = found(own(fixed(2)), {**series(1003, 1003, of=MASS), "packages_per_specimen": 5}, size=1000)
    text = (
        "A reading of net mass is of several packages together, and the rule judges each of them. Measure each package alone."
    )

    assert ("undecided", ["composite-specimen"]) == (finding["outcome"], codes(finding))
    assert text == finding["reasons"][0]["text"]


def drawn(specification: Document, size: int) -> list[dict[str, Any]]:
    """What is pulled from a lot of this size."""
    return [
        msgspec.to_builtins(each)
        for requirement in compiled(specification).requirements
        for each in requirement.draws(LotSize(size))
    ]


def test_what_to_weigh_is_told_before_the_lot_is_tested() -> None:
    """80 balls with their cores, at most 5 of them short; and three cores."""
    asked = [(each["characteristic"], each["packages"], each.get("reject")) for each in drawn(WEIGHED, 1000)]

    assert [("gross_mass", 80, 6), ("tare_mass", 3, None)] == asked


def test_a_double_plan_draws_twice() -> None:
    """The second only where the first does not decide."""
    asked = [(each["stage"], each["packages"], each["accept"], each["reject"]) for each in drawn(DOUBLE, 1000)]

    assert [(1, 50, 2, 5), (2, 50, 6, 7)] == asked


def test_a_lot_without_a_plan_has_no_draw() -> None:
    """It is said why."""
    assert ["plan-not-in-table"] == [each["code"] for each in drawn(content(), 10_001)]


def test_a_tare_without_a_sample_takes_one_and_one_by_share_needs_the_size() -> None:
    """One core at least; 1 % of a lot that has a plan by its own figures and no size told is not known."""
    few = drawn(content(of=[NET, GROSS, {"name": "tare_mass", "unit": "g"}]), 1000)[1]
    share: Document = {**TARE, "sample": {"plan": "percent", "percent": 1}}
    specification = content(
        "own", of=[NET, GROSS, share], own={"sample": fixed(2), "tolerable": {"amount": 9}, "at_most_beyond": 0}
    )
    told = [each for requirement in compiled(specification).requirements for each in requirement.draws(LotSize(None))]

    assert (1, 1) == (few["packages"], few["readings"])
    assert [False, True] == [isinstance(each, Undrawn) for each in told]


def test_a_length_by_weight_is_judged() -> None:
    """FPackV: the length of yarn is found by weighing with the yarn count. Five balls of 8 kg, at 125 m/kg: 1000 m."""
    worked_out: Document = {**LENGTH, "derived": {"kind": "product", "each": "net_mass", "mean_of": "runnage"}}
    specification = content("de-fpackv-length", 1000, [worked_out, MASS, RUNNAGE])
    finding = found(specification, series(*[8000.0] * 5, of=MASS), series(124, 125, 126, of=RUNNAGE), size=120)

    assert ("pass", 0) == (finding["outcome"], finding["margin"])


def test_the_range_of_a_sample_makes_up_for_a_short_mean() -> None:
    """A mean of 199.4 m and 0.35 · 1.5 m are 199.925 m, short of 200 m."""
    values = 199.0, 200.2, 198.7, 199.9, 199.2
    finding = found(content("de-fpackv-length", 200, LENGTH), series(*values, of=LENGTH), size=120)

    assert ("fail", -0.075) == (finding["outcome"], finding["margin"])
    assert "is 0.6 m under the label of 200 m. Up to 0.525 m under is allowed for 5 packages" in finding["reasons"][0]["text"]


HANDBOOK = {"sample": fixed(12), "tolerable": {"amount": 24}, "at_most_beyond": 0}


@pytest.mark.parametrize(
    ("values", "outcome"),
    [
        # The factor for 12 packages is 0.635: CALC.
        ([997, 1001] * 6, "pass"),
        ([994, 1002] * 6, "pass"),
        ([997, 998] * 6, "fail"),
    ],
)
def test_the_sample_error_limit_goes_by_the_number_of_packages(values: list[float], outcome: str) -> None:
    """Mean 999, s 2.09: short by 1, granted 1.33. Mean 998, s 4.18: 2 and 2.65. Mean 997.5, s 0.52: 2.5 and 0.33."""
    assert outcome == judged_by(content("nist-hb133", own=HANDBOOK), *values)["outcome"]


def test_a_package_beyond_the_allowable_variation_fails() -> None:
    """24 g are allowed by the grade; 25 g are short."""
    finding = judged_by(content("nist-hb133", own=HANDBOOK), 975, *[1010.0] * 11)

    assert ("fail", ["average-met", "too-many-short"]) == (finding["outcome"], codes(finding))
    assert "1 of 12 packages is more than 24 g under the label; none may be." == finding["reasons"][1]["text"]


def test_a_factor_that_is_not_held_leaves_it_undecided() -> None:
    """The factors are held for 2 to 60 packages."""
    finding = judged_by(content("nist-hb133", own={**HANDBOOK, "sample": fixed(61)}), *[1010.0] * 61)

    assert ("undecided", ["plan-not-in-table"]) == (finding["outcome"], codes(finding))


def test_figures_of_the_grade_may_count_pieces() -> None:
    """Ten strands to a bundle, one in two bundles may lack one."""
    pieces: Document = {"name": "strands"}
    figures = {"sample": fixed(2), "tolerable": {"amount": 1}, "at_most_beyond": 0}
    finding = found(content("own", 10, pieces, own=figures), series(9, 11, of=pieces, unit="1"))

    assert "pass" == finding["outcome"]


def test_a_share_of_the_grade_is_rounded_up() -> None:
    """1.5 % of 250 g are 3.75 g: rounded up to 0.5 g they are 4 g."""
    figures = {"sample": fixed(1), "tolerable": {"percent": 1.5, "rounding_up_to": 0.5}, "at_most_beyond": 0}

    assert 246 == judged_by(content("own", 250, own=figures), 300)["limits"]["lower"]


def test_a_plan_of_the_grade_may_be_of_a_table() -> None:
    """MIL-STD-105E letter J, AQL 1.0: 80, 2 and 3 (reference A1)."""
    plan = {"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 1}
    three = judged_by(own(plan, at_most=None), *balls(80, 3, by=21))
    two = judged_by(own(plan, at_most=None), *balls(80, 2, by=21))

    assert ("fail", "pass") == (three["outcome"], two["outcome"])


def test_one_package_has_no_spread_and_is_granted_nothing() -> None:
    """A lot of one."""
    assert "fail" == judged_by(own({"plan": "every"}, mean_factor=5), 999, size=1)["outcome"]


def test_what_is_given_away_is_told() -> None:
    """3 g a ball are 3 kg a lot."""
    finding = judged_by(content(), *balls(80))

    assert {"per_package": 3, "per_lot": 3000, "unit": "g"} == finding["given_away"]


def test_what_is_held_back_is_told_too() -> None:
    """A lot that is short on average gives nothing away, and less."""
    finding = judged_by(content(), *balls(80, other=999))

    assert ("fail", -1) == (finding["outcome"], finding["given_away"]["per_package"])


def test_a_lot_of_unknown_size_gives_away_by_the_package() -> None:
    """The grade's own plan needs no size."""
    assert "per_lot" not in judged_by(own(fixed(2)), 1001, 1001, size=None)["given_away"]


def spread_out(deviation: float, count: int) -> list[float]:
    """So many contents about 1010 g with nearly this standard deviation."""
    half = deviation * ((count - 1) / count) ** 0.5
    return [round(1010 + (half if number % 2 else -half), 6) for number in range(count)]


@pytest.mark.parametrize(
    ("members", "values", "expected"),
    [
        # scipy 1.17.1, norm and binom: CALC. At s = 3 the mean decides, at s = 9 the shortages do.
        ({}, spread_out(3, 50) + [1010] * 30, 999.561),
        ({}, spread_out(9, 50) + [1010] * 30, 1001.53),
        ({"scheme": "double"}, spread_out(9, 50), 1001.54),
        ({"destructive": True}, spread_out(12, 20), 1010.15),
    ],
)
def test_the_set_point_is_the_mean_that_would_do(members: Document, values: list[float], expected: float) -> None:
    """A filler is set no higher than it must be: with a chance of 95 % each check is met."""
    finding = judged_by(content(set_point={"chance": 95}, **members), *values)

    assert expected == finding["given_away"]["set_point"]


def test_the_set_point_of_contents_without_a_spread_is_the_nominal_content() -> None:
    """Nothing varies, so nothing has to be given away."""
    assert 1000 == judged_by(content(set_point={"chance": 99}), *balls(80))["given_away"]["set_point"]


def test_a_plan_that_any_number_short_passes_asks_nothing_of_the_mean() -> None:
    """Only the average is left to meet."""
    specification = content(
        "own",
        set_point={"chance": 95},
        own={"sample": fixed(2), "tolerable": {"percent": 2}, "at_most_beyond": 2},
    )

    assert 1000 == judged_by(specification, 1001, 1001)["given_away"]["set_point"]


@pytest.mark.parametrize("chance", [1e-9, 99.99999999999999])
@pytest.mark.parametrize("at_most", [0, 999])
def test_a_chance_near_none_or_near_certainty_has_a_set_point(chance: float, at_most: int) -> None:
    """A double can hardly tell such chances from 0 and 1; the answer is a number all the same."""
    figures = {"sample": fixed(1000), "tolerable": {"percent": 2}, "at_most_beyond": at_most, "none_beyond_times": 2}
    finding = judged_by(content("own", set_point={"chance": chance}, own=figures), *spread_out(1, 1000))

    assert 900 < finding["given_away"]["set_point"] < 1100


def test_the_margin_is_of_the_checks_that_have_one() -> None:
    """All of two may be short, so no content can fail that check."""
    assert 1 == judged_by(own(fixed(2), at_most=2), 1001, 1001)["margin"]


def test_a_chance_of_half_asks_for_the_nominal_content() -> None:
    """Half of all samples of such a process lie above it; the shortages then ask for less."""
    finding = judged_by(content("own", set_point={"chance": 50}, own={**HANDBOOK, "sample": fixed(50)}), *spread_out(1, 50))

    assert 1000 == finding["given_away"]["set_point"]


FLAWED: list[tuple[Document, str, str, str]] = [
    (
        content(nominal=None),
        "one-nominal",
        "The nominal content is missing. Give one of `nominal` and `of_declared`.",
        "/requirements/0/nominal",
    ),
    (
        content(of=[MASS, LABEL], of_declared="label_mass"),
        "one-nominal",
        "The nominal content is given twice. Give one of `nominal` and `of_declared`.",
        "/requirements/0/of_declared",
    ),
    (
        content(nominal=15_000),
        "nominal-beyond-rule",
        ("`uk-2006-659` has no figure for a nominal content of 15000 g. Use another rule, or give your own figures."),
        "/requirements/0/nominal",
    ),
    (
        content(nominal=4.9),
        "nominal-beyond-rule",
        ("`uk-2006-659` has no figure for a nominal content of 4.9 g. Use another rule, or give your own figures."),
        "/requirements/0/nominal",
    ),
    (
        content(of=LENGTH),
        "rule-of-other-quantity",
        "`uk-2006-659` is for a mass, and `length` is a length. Use another rule, or another characteristic.",
        "/requirements/0/rule",
    ),
    (
        own(fixed(2), of={"name": "breaking_force", "unit": "N"}),
        "rule-of-other-quantity",
        (
            "`own` is for a mass or a length or a count, and `breaking_force` is a force. "
            "Use another rule, or another characteristic."
        ),
        "/requirements/0/rule",
    ),
    (
        content(nominal=None, of_declared="label_mas", of=[MASS, LABEL]),
        "unknown-characteristic",
        "There is no characteristic `label_mas` here. Did you mean `label_mass`?",
        "/requirements/0/of_declared",
    ),
    (
        content(nominal=None, of_declared="length", of=[MASS, LENGTH]),
        "nominal-of-other-quantity",
        ("`length` is a length and `net_mass` is a mass, so the one cannot be the nominal content of the other. Name a mass."),
        "/requirements/0/of_declared",
    ),
    (
        content(nominal=None, of_declared="net_mass", of=[GROSS, NET, TARE]),
        "derived-not-declared",
        "`net_mass` is calculated, not declared. Name another characteristic.",
        "/requirements/0/of_declared",
    ),
    (
        content(yarn=True),
        "not-of-this-rule",
        "`uk-2006-659` has no figures of its own for yarn. Remove `yarn`, or use `de-fpackv-length`.",
        "/requirements/0/yarn",
    ),
    (
        content("de-fpackv", scheme="double"),
        "not-of-this-rule",
        "`de-fpackv` has no double plan here. Remove `scheme`.",
        "/requirements/0/scheme",
    ),
    (
        content(scheme="double", destructive=True),
        "not-of-this-rule",
        "`uk-2006-659` has only a single plan for packages that are opened. Remove `scheme`.",
        "/requirements/0/scheme",
    ),
    (
        content(own=HANDBOOK),
        "not-of-this-rule",
        "The figures of `uk-2006-659` are available here. Remove `own`, or write `own` as the rule.",
        "/requirements/0/own",
    ),
    (
        content("nist-hb133"),
        "missing-field",
        "`nist-hb133` takes its plan and its tolerance from the grade. Add `own`.",
        "/requirements/0/own",
    ),
    (
        content("nist-hb133", own={**HANDBOOK, "mean_factor": 0.6}),
        "not-of-this-rule",
        "`nist-hb133` has its own factors, by the number of packages. Remove `mean_factor`.",
        "/requirements/0/own/mean_factor",
    ),
    (
        own(fixed(2), at_most=None),
        "missing-field",
        ("The plan `fixed` gives how many packages to draw, but not how many may be short. Add `at_most_beyond`."),
        "/requirements/0/own/at_most_beyond",
    ),
    (
        own({"plan": "code_letter", "table": "MIL-STD-105E", "letter": "J", "aql": 1}),
        "at-most-not-here",
        "The plan `code_letter` has its own accept number. Remove `at_most_beyond`, or use another plan.",
        "/requirements/0/own/at_most_beyond",
    ),
    (
        own(fixed(2, 3)),
        "readings-not-here",
        "Each package has one content. Remove `readings_per_package`.",
        "/requirements/0/own/sample/readings_per_package",
    ),
    (
        own(fixed(2), tolerable={}),
        "one-tolerable",
        "The tolerance is missing. Give one of `percent` and `amount`.",
        "/requirements/0/own/tolerable",
    ),
    (
        own(fixed(2), tolerable={"percent": 1, "amount": 2}),
        "one-tolerable",
        "The tolerance is given twice. Give one of `percent` and `amount`.",
        "/requirements/0/own/tolerable",
    ),
    (
        own(fixed(2), tolerable={"amount": 2, "rounding_up_to": 1}),
        "rounding-not-here",
        "Only a percentage is rounded up, and this is an amount. Remove `rounding_up_to`.",
        "/requirements/0/own/tolerable/rounding_up_to",
    ),
    (
        content(decision={"rule": "guarded_acceptance"}),
        "decision-not-here",
        ("A guarded decision is for a value with limits, and `net_content` judges something else. Remove `decision`."),
        "/requirements/0/decision",
    ),
    (
        content(set_point={"chance": 100}),
        "chance-of-certainty",
        "No average meets a rule with certainty. Give a chance below 100 %, such as 95.",
        "/requirements/0/set_point/chance",
    ),
]


@pytest.mark.parametrize(("specification", "code", "text", "at"), FLAWED)
def test_what_cannot_be_judged_by_is_told_with_its_place(specification: Document, code: str, text: str, at: str) -> None:
    """The engineer mends the grade before a lot is judged by it."""
    assert [Flaw(code, text, at)] == flaws_of(specification)


def test_a_content_of_means_is_one_number_and_no_package() -> None:
    """A ratio of means has no packages that could be short."""
    pooled: Document = {
        "name": "share",
        "unit": "%",
        "quantity": "ratio",
        "derived": {"kind": "ratio_of_means", "numerator": "net_mass", "denominator": "gross_mass"},
    }

    assert ["rule-of-other-quantity", "only-mean-here"] == [flaw.code for flaw in flaws_of(content(of=[pooled, MASS, GROSS]))]


def test_a_characteristic_that_is_not_there_makes_up_no_other_flaw() -> None:
    """One thing to mend, told once."""
    assert ["unknown-characteristic"] == [
        flaw.code
        for flaw in flaws_of(
            content(of=[GROSS])
            | {"requirements": [{"id": "net", "kind": "net_content", "rule": "eu-76-211", "nominal": 1000, "of": "net_mas"}]}
        )
    ]


def test_what_is_declared_is_used() -> None:
    """A characteristic that only the label needs is no idle one."""
    names: list[Any] = [
        each.name
        for each in compiled(content(nominal=None, of_declared="label_mass", of=[MASS, LABEL])).requirements[0].sources
    ]

    assert "label_mass" in names
