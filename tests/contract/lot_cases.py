"""Lots to be judged."""

from collections.abc import Iterator

from tests.contract.cases import Document, LotCase, lot, on, readings, specification

LOWER = {"lower": 1400}
RUNNAGE = [{"name": "runnage", "unit": "m/kg"}]
DENSITY = [{"name": "linear_density", "unit": "tex"}]
TWIST = [{"name": "twist", "unit": "turn/m"}]
MARGIN_OF_ELONGATION = [{"name": "shrinkage", "unit": "%", "quantity": "ratio"}]
DIRECTION = [{"name": "twist_direction"}]
KNOT = [
    {"name": "breaking_force", "unit": "N"},
    {"name": "knot_breaking_force", "unit": "N"},
]


def knot(kind: str) -> list[Document]:
    """Knot efficiency derived in this way."""
    derived = {"kind": kind, "numerator": "knot_breaking_force", "denominator": "breaking_force"}
    return [*KNOT, {"name": "knot_efficiency", "unit": "%", "derived": derived}]


def sampled(plan: Document, name: str = "breaking_force", unit: str = "N") -> list[Document]:
    """A characteristic with that sample."""
    return [{"name": name, "unit": unit, "sample": plan}]


def one(
    name: str, says: str, requirement: Document, evidence: Document, *codes: str, characteristics: list[Document] | None = None
) -> LotCase:
    """A case of a single requirement."""
    return LotCase(name, says, specification(requirement, characteristics=characteristics or ()), evidence, {"r1": codes})


def of_each() -> Iterator[LotCase]:
    """The kind `each`."""
    strict = on("each", limits={"lower": 1120})
    yield one("each-on-the-limit", "Limits are inclusive.", strict, lot(readings(1120, 1300)), "within")
    yield one("each-one-digit-below", "The last digit counts.", strict, lot(readings(1119.9999, 1300)), "too-many-outside")
    yield one(
        "each-above-an-upper",
        "An upper limit is one too.",
        on("each", limits={"upper": 10}),
        lot(readings(10.5, 3)),
        "too-many-outside",
    )
    both = on("each", limits={"lower": 10, "upper": 20})
    yield one("each-between-two", "The nearest limit gives the margin.", both, lot(readings(12, 19.5)), "within")
    yield one(
        "each-equal-limits",
        "Lower may equal upper.",
        on("each", limits={"lower": 15, "upper": 15}),
        lot(readings(15, 15)),
        "within",
    )
    some = on("each", limits={"lower": 1120}, allowed_outside={"count": 1}, outer={"lower": 980})
    yield one(
        "each-one-allowed",
        "One outside is allowed; the second worst gives the margin.",
        some,
        lot(readings(1100, 1130, 1300)),
        "within",
    )
    yield one(
        "each-one-allowed-outer-decides",
        "The worst is nearer to the outer limit.",
        some,
        lot(readings(981, 1130, 1300)),
        "within",
    )
    yield one("each-two-outside", "Two are too many.", some, lot(readings(1100, 1119, 1300)), "too-many-outside")
    yield one(
        "each-beyond-outer", "No value may be beyond the outer limit.", some, lot(readings(979.5, 1130, 1300)), "beyond-outer"
    )
    yield one(
        "each-too-many-and-beyond", "Both are said.", some, lot(readings(979.5, 1119, 1300)), "too-many-outside", "beyond-outer"
    )
    percent = on("each", limits={"lower": 10}, allowed_outside={"percent": 25})
    yield one(
        "each-percent-rounded-down", "25 % of 7 values is one.", percent, lot(readings(9, 11, 12, 13, 14, 15, 16)), "within"
    )
    yield one(
        "each-percent-too-many",
        "25 % of 7 values is not two.",
        percent,
        lot(readings(9, 9.5, 12, 13, 14, 15, 16)),
        "too-many-outside",
    )
    by_package = on("each", over="packages", limits={"lower": 10})
    yield one(
        "each-over-packages",
        "Each package's mean counts as one.",
        by_package,
        lot(readings(9, 11, 12, 8, packages=["a", "a", "b", "b"])),
        "within",
    )
    yield one(
        "each-over-packages-fails",
        "A package's mean is below.",
        by_package,
        lot(readings(9, 10.9, 12, 9, packages=["a", "a", "b", "b"])),
        "too-many-outside",
    )
    yield one("each-minus-zero", "-0 is 0.", on("each", limits={"lower": 0}), lot(readings(-0.0, 1)), "within")
    yield one(
        "each-negative-ratio",
        "Only a ratio may be negative.",
        on("each", "shrinkage", limits={"lower": -2}),
        lot(readings(-1.5, 0.5, of="shrinkage", unit="%")),
        "within",
        characteristics=MARGIN_OF_ELONGATION,
    )


def of_mean() -> Iterator[LotCase]:
    """The kind `mean`."""
    least = on("mean", limits=LOWER)
    yield one("mean-on-the-limit", "Exactly on the limit passes.", least, lot(readings(1399, 1401)), "within")
    yield one(
        "mean-floats-get-wrong",
        "The mean of 0.1, 0.2 and 0.3 is 0.2.",
        on("mean", limits={"lower": 0.2}),
        lot(readings(0.1, 0.2, 0.3)),
        "within",
    )
    yield one(
        "mean-just-below", "A figure lies on its true side: not 1400.0.", least, lot(readings(1399.99, 1400)), "below-lower"
    )
    yield one(
        "mean-above-upper", "Above the upper limit.", on("mean", limits={"upper": 12}), lot(readings(12, 12.3)), "above-upper"
    )
    within = on("mean", "runnage", limits={"nominal": 130, "minus": 5, "plus": 5, "tolerance": "percent"})
    values = readings(128.9, 131.2, of="runnage", unit="m/kg")
    yield one("mean-percent-tolerance", "130 ± 5 % is 123.5 to 136.5.", within, lot(values), "within", characteristics=RUNNAGE)
    high = readings(136.5, 136.6, of="runnage", unit="m/kg")
    yield one(
        "mean-percent-tolerance-above", "136.55 is above 136.5.", within, lot(high), "above-upper", characteristics=RUNNAGE
    )
    open_side = on("mean", "runnage", limits={"nominal": 130, "minus": 6.5, "tolerance": "absolute"})
    yield one(
        "mean-absolute-one-sided",
        "`plus` left out is an open side.",
        open_side,
        lot(readings(123.5, 900, of="runnage", unit="m/kg")),
        "within",
        characteristics=RUNNAGE,
    )
    grams = readings(7.6923, of="runnage", unit="ktex")
    yield one(
        "mean-turned-round-one-by-one",
        "1/120 and 1/140 kg/m average to 130 m/kg.",
        within,
        lot(readings(8.33333333333333, 7.14285714285714, of="runnage", unit="ktex")),
        "within",
        characteristics=RUNNAGE,
    )
    yield one(
        "mean-of-two-units",
        "Series of one characteristic add up.",
        within,
        lot(values, grams),
        "within",
        characteristics=RUNNAGE,
    )
    yield one(
        "mean-density-in-runnage",
        "The other way round as well.",
        on("mean", "linear_density", limits={"lower": 8000, "upper": 8400}),
        lot(readings(120, 125, of="linear_density", unit="m/kg")),
        "within",
        characteristics=DENSITY,
    )
    yield one("mean-in-pounds-force", "A unit is converted exactly.", least, lot(readings(315, 314.5, unit="lbf")), "within")
    yield one(
        "mean-by-codes",
        "A unit by its UCUM and its Rec 20 code.",
        least,
        lot(readings(315, unit="[lbf_av]"), readings(314.5, unit="C78")),
        "within",
    )
    yield one(
        "mean-conversion-on-the-limit",
        "0.45359237 kg is one pound.",
        on("mean", "net_mass", limits={"lower": 1}),
        lot(readings(453.59237, of="net_mass", unit="g")),
        "within",
        characteristics=[{"name": "net_mass", "unit": "lb"}],
    )
    by_package = on("mean", over="packages", limits={"lower": 11})
    yield one(
        "mean-over-packages",
        "The mean of the packages' means, not of all readings.",
        by_package,
        lot(readings(10, 10, 10, 12, packages=["a", "a", "a", "b"])),
        "within",
    )
    yield one(
        "mean-over-readings",
        "All readings alike.",
        on("mean", limits={"lower": 11}),
        lot(readings(10, 10, 10, 12, packages=["a", "a", "a", "b"])),
        "below-lower",
    )
    yield one(
        "mean-unnamed-packages",
        "Without ids, each reading is a package of its own.",
        by_package,
        lot(readings(10, 12)),
        "within",
    )
    rules = specification(on("mean", limits=LOWER, binding=False), on("mean", limits={"lower": 1}))
    codes = {"r1": ["below-lower"], "r2": ["within"]}
    yield LotCase("mean-not-binding", "It is reported and moves no verdict.", rules, lot(readings(1)), codes)


def of_spread() -> Iterator[LotCase]:
    """The kind `spread`."""
    deviation = on("spread", statistic="standard_deviation", at_most=2)
    yield one("deviation-on-the-limit", "8, 10 and 12 deviate by exactly 2.", deviation, lot(readings(8, 10, 12)), "within")
    yield one("deviation-above", "The root is irrational.", deviation, lot(readings(8, 10, 12.1)), "above-at-most")
    yield one("deviation-of-equals", "Equal readings have none.", deviation, lot(readings(5, 5)), "within")
    wide = on("spread", statistic="range", at_most=3)
    yield one("range-on-the-limit", "Highest less lowest.", wide, lot(readings(1.1, 4.1, 2)), "within")
    yield one("range-above", "One digit more.", wide, lot(readings(1.1, 4.11, 2)), "above-at-most")
    cv = on("spread", statistic="coefficient_of_variation", at_most=20)
    yield one("cv-on-the-limit", "2 of 10 are 20 %.", cv, lot(readings(8, 10, 12)), "within")
    yield one("cv-above", "More than 20 %.", cv, lot(readings(7.9, 10, 12)), "above-at-most")
    yield one("cv-of-zeros", "At a mean of 0 there is none.", cv, lot(readings(0, 0)), "mean-not-positive")
    yield one("deviation-of-one", "It takes two.", deviation, lot(readings(8)), "readings-missing")
    by_package = on("spread", over="packages", statistic="range", at_most=1)
    packages = readings(8, 12, 10, 11, packages=["a", "a", "b", "b"])
    yield one("range-over-packages", "Of the packages' means.", by_package, lot(packages), "within")


def of_variables() -> Iterator[LotCase]:
    """The kind `variables`. First: MIL-STD-414, section B, Form 1 (seen earlier, not read again); the others recomputed."""
    five = lot(readings(197, 188, 184, 205, 201))
    yield one(
        "variables-form-1", "Q = 15/8.803 is not below k.", on("variables", limits={"lower": 180}, k=1.53), five, "within"
    )
    higher = on("variables", limits={"lower": 183}, k=1.53)
    yield one("variables-form-1-raised", "A limit of 183 is too high for them.", higher, five, "quality-below-k")
    equal = lot(readings(180, 180, 180, 180, 180))
    yield one(
        "variables-without-spread",
        "At s = 0 the limits decide.",
        on("variables", limits={"lower": 180}, k=1.53),
        equal,
        "within",
    )
    below = on("variables", limits={"lower": 180.5}, k=1.53)
    yield one("variables-without-spread-below", "And a mean below them fails.", below, equal, "quality-below-k")
    both = on("variables", limits={"lower": 8, "upper": 13}, k=1)
    yield one("variables-two-limits", "Each by k; 8 to 10 is one deviation.", both, lot(readings(8, 10, 12)), "within")
    one_reading = on("variables", limits={"lower": 8}, k=0)
    yield one("variables-of-one", "It takes two.", one_reading, lot(readings(9)), "readings-missing")


def of_declared() -> Iterator[LotCase]:
    """The kind `declared`."""
    z = on("declared", "twist_direction", one_of=["Z"])
    right, wrong = ({"characteristic": "twist_direction", "value": value} for value in ("Z", "S"))
    yield one("declared-agrees", "As it has to be.", z, lot(declared=[right]), "declared-agrees", characteristics=DIRECTION)
    yield one("declared-differs", "Otherwise.", z, lot(declared=[wrong]), "declared-differs", characteristics=DIRECTION)
    yield one("not-declared", "Nothing is said.", z, lot(), "not-declared", characteristics=DIRECTION)
    three = on("declared", "strands", one_of=[3, 4])
    strands = [{"name": "strands"}]
    number = {"characteristic": "strands", "value": 3.0}
    yield one("declared-number", "3.0 is 3.", three, lot(declared=[number]), "declared-agrees", characteristics=strands)
    truth = on("declared", "strands", one_of=[1])
    yes = {"characteristic": "strands", "value": True}
    yield one("declared-boolean", "true is not 1.", truth, lot(declared=[yes]), "declared-differs", characteristics=strands)


def of_samples() -> Iterator[LotCase]:
    """Sampling plans, and what is missing."""
    least = on("mean", limits=LOWER)
    five = sampled({"plan": "fixed", "packages": 2, "readings_per_package": 2})
    names = ["a", "a", "b"]
    yield one(
        "sample-one-missing",
        "b lacks one.",
        least,
        lot(readings(1500, 1500, 1500, packages=names)),
        "readings-missing",
        characteristics=five,
    )
    full = readings(1500, 1500, 1500, 1500, packages=[*names, "b"])
    yield one("sample-complete", "Two of two.", least, lot(full), "within", characteristics=five)
    beyond = readings(1500, 1500, 1500, 1500, 100, packages=[*names, "b", "c"])
    yield one("sample-and-more", "All that is sent is judged.", least, lot(beyond), "below-lower", characteristics=five)
    yield one(
        "sample-unnamed",
        "Each unnamed one is of its own.",
        least,
        lot(readings(1500, 1500)),
        "readings-missing",
        characteristics=five,
    )
    yield one("sample-nothing-sent", "Never passed over.", least, lot(), "readings-missing", characteristics=five)
    yield one("no-sample-nothing-sent", "Even where no sample is asked.", least, lot(), "readings-missing")
    strict = on("each", limits={"lower": 1120})
    short = lot(readings(1100))
    yield one("each-lost-early", "No further reading could save it.", strict, short, "too-many-outside", characteristics=five)
    good = lot(readings(1130))
    yield one("each-short-and-good", "It could still go either way.", strict, good, "readings-missing", characteristics=five)
    wide = on("spread", statistic="range", at_most=3)
    yield one("range-lost-early", "A range only grows.", wide, lot(readings(1, 5)), "above-at-most", characteristics=five)
    percent = on("each", limits={"lower": 10}, allowed_outside={"percent": 10})
    yield one(
        "each-percent-not-lost",
        "More readings allow more.",
        percent,
        lot(readings(9)),
        "readings-missing",
        characteristics=five,
    )
    outer = on("each", limits={"lower": 10}, allowed_outside={"percent": 10}, outer={"lower": 8})
    yield one("each-outer-lost-early", "Beyond outer is final.", outer, lot(readings(7)), "beyond-outer", characteristics=five)
    plans: dict[str, tuple[Document, int]] = {
        "percent-rounded-up": ({"plan": "percent", "percent": 2.5}, 81),
        "percent-at-least": ({"plan": "percent", "percent": 1, "at_least": 2}, 30),
        "percent-of-a-small-lot": ({"plan": "percent", "percent": 50, "at_least": 9}, 2),
        "square-root-to-nearest": ({"plan": "square_root", "factor": 0.4}, 40),
        "square-root-half-up": ({"plan": "square_root", "factor": 0.5}, 9),
        "every-package": ({"plan": "every"}, 3),
    }
    for name, (plan, size) in plans.items():
        evidence = lot(readings(1500), size=size)
        yield one(f"sample-{name}", "How many are missing.", least, evidence, "readings-missing", characteristics=sampled(plan))
    untold = sampled({"plan": "percent", "percent": 5})
    yield one(
        "sample-size-not-told",
        "It goes by the lot's size.",
        least,
        lot(readings(1500)),
        "lot-size-unknown",
        characteristics=untold,
    )
    own = on("mean", limits=LOWER, sample={"plan": "fixed", "packages": 1})
    yield one(
        "sample-of-its-own", "It replaces the characteristic's.", own, lot(readings(1500)), "within", characteristics=five
    )


def of_derived() -> Iterator[LotCase]:
    """Derived characteristics."""
    least = on("mean", "knot_efficiency", limits={"lower": 55})
    straight, knotted = readings(1400, 1600), readings(800, 850, of="knot_breaking_force")
    pooled = knot("ratio_of_means")
    yield one("ratio-of-means", "825 by 1500 is 55 %.", least, lot(straight, knotted), "within", characteristics=pooled)
    fewer = readings(800, of="knot_breaking_force")
    yield one(
        "ratio-of-means-unlike-numbers",
        "Numbers may differ.",
        least,
        lot(straight, fewer),
        "below-lower",
        characteristics=pooled,
    )
    yield one("ratio-of-means-one-side", "Both are needed.", least, lot(straight), "no-partner", characteristics=pooled)
    yield one("ratio-of-means-no-side", "Nothing is sent.", least, lot(), "readings-missing", characteristics=pooled)
    singly = knot("ratio")
    each = on("each", "knot_efficiency", limits={"lower": 53.125})
    yield one("ratio-by-reading", "850 by 1600 is 53.125 %.", each, lot(straight, knotted), "within", characteristics=singly)
    named = readings(1600, 1400, packages=["b", "a"])
    by_package = readings(800, 850, of="knot_breaking_force", packages=["a", "b"])
    yield one(
        "ratio-by-package", "Paired by package, not by place.", each, lot(named, by_package), "within", characteristics=singly
    )
    kilonewtons = readings(0.8, 0.85, of="knot_breaking_force", unit="kN")
    yield one("ratio-in-two-units", "Units are taken out.", each, lot(straight, kilonewtons), "within", characteristics=singly)
    derived = {"kind": "ratio", "numerator": "specimen_length", "denominator": "specimen_mass"}
    runnage: list[Document] = [
        {"name": "specimen_length", "unit": "m"},
        {"name": "specimen_mass", "unit": "g"},
        {"name": "runnage", "unit": "m/kg", "derived": derived},
    ]
    measured = lot(readings(10, 10, of="specimen_length", unit="m"), readings(80, 76, of="specimen_mass", unit="g"))
    limits = on("each", "runnage", limits={"lower": 125, "upper": 135})
    yield one("ratio-runnage", "Length by mass is runnage.", limits, measured, "within", characteristics=runnage)


def of_rounding() -> Iterator[LotCase]:
    """Rounding before comparing, and not."""
    even, away = ({"step": 1, "ties": ties} for ties in ("even", "away"))
    limits = {"lower": 36, "upper": 42}
    tie = lot(readings(35.5, of="twist", unit="turn/m"))
    rounded = on("each", "twist", limits=limits, rounding=even)
    yield one("rounding-tie-to-even", "35.5 becomes 36.", rounded, tie, "within", characteristics=TWIST)
    upper = lot(readings(42.5, of="twist", unit="turn/m"))
    yield one("rounding-upper-tie-to-even", "42.5 becomes 42.", rounded, upper, "within", characteristics=TWIST)
    outwards = on("each", "twist", limits=limits, rounding=away)
    yield one("rounding-tie-away", "42.5 becomes 43.", outwards, upper, "too-many-outside", characteristics=TWIST)
    absolute = on("each", "twist", limits=limits)
    yield one(
        "no-rounding",
        "42.1 is above 42.",
        absolute,
        lot(readings(42.1, of="twist", unit="turn/m")),
        "too-many-outside",
        characteristics=TWIST,
    )
    mean = on("mean", "twist", limits={"lower": 39}, rounding=even)
    values = readings(38.5, 38.6, of="twist", unit="turn/m")
    yield one("rounding-the-mean", "The mean is rounded, not the readings.", mean, lot(values), "within", characteristics=TWIST)
    spread = on("spread", statistic="standard_deviation", at_most=1.4, rounding={"step": 0.1, "ties": "even"})
    yield one("rounding-a-root", "The root of 2 becomes 1.4.", spread, lot(readings(1, 3)), "within")
    twentieth = on("each", limits={"upper": 123.3}, rounding={"step": 0.05, "ties": "even"})
    yield one(
        "rounding-to-a-twentieth", "123.325 is 2466.5 steps, and 2466 is even.", twentieth, lot(readings(123.325)), "within"
    )
    inches = on("each", "twist", limits=limits, rounding=even)
    yield one(
        "rounding-after-converting",
        "1.08 turns an inch are 42.5197 a metre.",
        inches,
        lot(readings(1.08, of="twist", unit="turn/in")),
        "too-many-outside",
        characteristics=TWIST,
    )


def of_declared_numbers() -> Iterator[LotCase]:
    """The kind `declared` with limits."""
    strands = [{"name": "strands"}]
    three_or_four = on("declared", "strands", limits={"lower": 3, "upper": 4})
    for name, says, number, code in (
        ("declared-number-within", "A rope of three strands.", 3, "within"),
        ("declared-number-below", "Two are one too few.", 2, "below-lower"),
        ("declared-number-above", "Eight are four too many.", 8, "above-upper"),
    ):
        told = lot(declared=[{"characteristic": "strands", "value": number}])
        yield one(name, says, three_or_four, told, code, characteristics=strands)
    yield one("declared-number-missing", "Nothing is declared.", three_or_four, lot(), "not-declared", characteristics=strands)


def of_age() -> Iterator[LotCase]:
    """The kind `age`."""
    year: Document = {"kind": "age", "from": "made", "to": "asked", "limits": {"lower": 2, "upper": 365}}
    retested: Document = {**year, "past": "undecided", "restarted_by": "retested"}
    for name, says, requirement, days, code in (
        ("age-within", "319 days of 365.", year, {"made": "2026-01-10", "asked": "2026-11-25"}, "within"),
        ("age-on-the-limit", "No leap day between.", year, {"made": "2024-03-01", "asked": "2025-03-01"}, "within"),
        ("age-over-a-leap-day", "A leap day counts.", year, {"made": "2024-02-29", "asked": "2025-03-01"}, "above-upper"),
        ("age-too-young", "It has to lie for two days.", year, {"made": "2026-11-24", "asked": "2026-11-25"}, "below-lower"),
        ("age-without-a-date", "The day of making is lost.", year, {"asked": "2026-11-25"}, "date-missing"),
        ("age-retest-due", "Nobody knows yet.", retested, {"made": "2025-01-10", "asked": "2026-11-25"}, "retest-due"),
        (
            "age-after-a-retest",
            "The days count anew from the retest.",
            retested,
            {"made": "2025-01-10", "retested": "2026-10-01", "asked": "2026-11-25"},
            "within",
        ),
    ):
        dates = [{"event": event, "date": day} for event, day in days.items()]
        yield one(name, says, requirement, {**lot(), "dates": dates}, code)


def all_lot_cases() -> list[LotCase]:
    """Every one."""
    kinds = (
        of_each,
        of_mean,
        of_spread,
        of_variables,
        of_declared,
        of_samples,
        of_derived,
        of_rounding,
        of_declared_numbers,
        of_age,
    )
    return [case for kind in kinds for case in kind()]
