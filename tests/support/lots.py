"""Lots to judge, most of them at the edge: limits are laid on, or one unit in the last place beside, what the readings give."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import inf, nextafter
from random import Random
from typing import Any, NamedTuple

from hypothesis import strategies as st

from tests.support.columns import column
from tests.support.exact import FACTORS, converted, exact, root
from tests.support.simple_judge import mean_of, variance_of
from tests.support.simple_values import Document, values_of

LEAST, GREATEST = 1e-9, 1e12


class Lot(NamedTuple):
    """A specification and evidence on a lot, as they are sent."""

    specification: dict[str, Any]
    evidence: dict[str, Any]


MEASURED = {
    "breaking_force": ("N", "daN", "kN", "kgf", "lbf"),
    "knot_breaking_force": ("N", "lbf", "cN"),
    "runnage": ("m/kg", "ft/lb", "yd/lb", "m/g"),
    "linear_density": ("tex", "ktex", "den", "lb/ft"),
    "tenacity": ("cN/tex", "N/tex", "gf/den"),
    "twist": ("turn/m", "turn/in", "turn/ft", "turn/cm"),
    "net_mass": ("kg", "g", "lb", "oz"),
    "specimen_length": ("m", "mm", "ft", "in"),
    "elongation_at_break": ("%", "1"),
}
RECIPROCAL = {"runnage": MEASURED["linear_density"], "linear_density": MEASURED["runnage"]}
QUOTIENTS = [
    ("knot_efficiency", ("%", "1"), "knot_breaking_force", "breaking_force"),
    ("tenacity", ("cN/tex", "gf/den"), "breaking_force", "linear_density"),
    ("runnage", ("m/kg", "ft/lb"), "specimen_length", "net_mass"),
    ("linear_density", ("tex", "den"), "net_mass", "specimen_length"),
]
STEPS = (1, 0.5, 0.1, 0.05, 0.01, 0.005, 2, 5, 0.25)


def lot_at_the_edge(rng: Random) -> Lot:
    """A lot with one to four requirements on one characteristic, measured or derived."""
    if rng.random() < 0.2:
        return quotient_lot(rng)
    name = rng.choice(list(MEASURED))
    characteristic = measured(rng, name)
    evidence: dict[str, Any] = {"lot": {"id": "L-1"}, "series": series_of(rng, characteristic, rng.choice((False, True)))}
    return with_requirements(rng, [characteristic], evidence, characteristic)


def measured(rng: Random, name: str) -> dict[str, Any]:
    """A characteristic that is measured."""
    return {"name": name, "unit": rng.choice(MEASURED[name])}


def series_of(rng: Random, characteristic: Document, takes_reciprocal: bool) -> list[dict[str, Any]]:  # noqa: FBT001  drawn
    """One to three series of a characteristic in units of their own, packages named or not; sometimes none at all."""
    if rng.random() < 0.02:
        return []
    name, unit = characteristic["name"], characteristic["unit"]
    units = MEASURED[name] + (RECIPROCAL.get(name, ()) if takes_reciprocal else ())
    others = [rng.choice(units) if rng.random() < 0.5 else unit for _ in range(rng.choice((1, 1, 1, 2, 3)))]
    is_turned = any(FACTORS[each][0] != FACTORS[unit][0] for each in others)
    return [one_series(rng, characteristic, other, may_be_long=not is_turned and len(others) == 1) for other in others]


def one_series(rng: Random, characteristic: Document, unit: str, *, may_be_long: bool) -> dict[str, Any]:
    """A series in a unit; where that is another one, its readings are those of the characteristic's unit, converted."""
    is_turned = FACTORS[unit][0] != FACTORS[characteristic["unit"]][0]
    may_be_negative = characteristic["name"] == "elongation_at_break"
    values = column(rng, may_be_long=may_be_long, may_be_negative=may_be_negative, may_be_zero=not is_turned)
    if unit != characteristic["unit"] and rng.random() < 0.5:
        values = [in_range(carried(rng, value, characteristic["unit"], unit), value) for value in values]
    series = {"characteristic": characteristic["name"], "unit": unit, "values": values}
    packages = named(rng, len(values))
    return series if packages is None else {**series, "packages": packages}


def carried(rng: Random, value: float, unit: str, other: str) -> float:
    """A reading as a tester that shows another unit would have given it: all digits, or five."""
    if value == 0:
        return value
    there = float(converted(exact(value), unit, other))
    return there if rng.random() < 0.5 else float(f"{there:.5g}")


def in_range(value: float, otherwise: float) -> float:
    """The value where it may be sent."""
    return value if value == 0 or LEAST <= abs(value) <= GREATEST else otherwise


def named(rng: Random, number: int) -> list[str] | None:
    """Package ids beside so many readings: none, one each, in blocks, or in turn."""
    way = rng.choice(("none", "none", "each", "blocks", "turns", "any"))
    if way == "none":
        return None
    packages = rng.randint(1, max(1, min(number, 6)))
    ways: dict[str, Callable[[int], int]] = {
        "each": lambda place: place,
        "blocks": lambda place: place * packages // number,
        "turns": lambda place: place % packages,
        "any": lambda _: rng.randrange(packages),
    }
    return [f"b{ways[way](place)}" for place in range(number)]


def quotient_lot(rng: Random) -> Lot:
    """A lot with requirements on a quotient of two measured characteristics, sometimes with one side absent."""
    name, units, *sides = rng.choice(QUOTIENTS)
    kind = rng.choice(("ratio", "ratio_of_means"))
    tops, bottoms = measured(rng, sides[0]), measured(rng, sides[1])
    derived = {
        "name": name,
        "unit": rng.choice(units),
        "derived": {"kind": kind, "numerator": sides[0], "denominator": sides[1]},
    }
    values = [value or 1.0 for value in column(rng, may_be_long=False, may_be_negative=False, may_be_zero=False)]
    top = {"characteristic": sides[0], "unit": tops["unit"], "values": values}
    bottom = {"characteristic": sides[1], "unit": bottoms["unit"], "values": partners(rng, values, kind)}
    packages = named(rng, len(values))
    if packages is not None:
        top["packages"] = packages
        bottom["packages"] = packages[: len(bottom["values"])]
    series = rng.choice(([top, bottom], [top, bottom], [top, bottom], [bottom, top], [top], []))
    return with_requirements(rng, [tops, bottoms, derived], {"lot": {"id": "L-1"}, "series": series}, derived)


def partners(rng: Random, values: Sequence[float], kind: str) -> list[float]:
    """Readings on the other side: of the size that makes short quotients, or any; as many where they are paired."""
    whole = [in_range(value * rng.choice((2, 4, 1.25, 0.8, 3)), value) for value in values]
    return whole[: rng.randint(1, len(whole))] if kind == "ratio_of_means" else whole


def with_requirements(rng: Random, characteristics: list[dict[str, Any]], evidence: dict[str, Any], of: dict[str, Any]) -> Lot:
    """Lay requirements on `of`, then samples and the lot's size about what is there."""
    specification: dict[str, Any] = {"title": "A grade", "characteristics": characteristics, "requirements": []}
    is_pooled = of.get("derived", {}).get("kind") == "ratio_of_means"
    for place in range(1 if is_pooled else rng.choice((1, 2, 3, 4))):
        kind = "mean" if is_pooled else rng.choice(("each", "each", "mean", "mean", "spread", "variables"))
        requirement = {"id": f"r{place}", "kind": kind, "of": of["name"], "over": "readings"}
        if not is_pooled and rng.random() < 0.3:
            requirement["over"] = "packages"
        specification["requirements"].append(requirement)
        requirement.update(body(rng, kind, values_of(specification, evidence, requirement), of))
    specification["requirements"][0]["binding"] = True
    lay_samples(rng, specification, evidence, is_pooled=is_pooled)
    return Lot(specification, evidence)


def body(rng: Random, kind: str, values: Sequence[Fraction], of: Document) -> dict[str, Any]:
    """What the requirement demands, near to what the values give."""
    may_be_negative = FACTORS[of["unit"]][0] == "ratio"
    values = values or [Fraction(100)]
    made = BODIES[kind](rng, values, may_be_negative)
    if kind != "variables" and rng.random() < 0.3:
        step = rng.choice(STEPS)
        if rng.random() < 0.3:
            step = in_range(abs(float(values[0])) * 2 / rng.choice((1, 3, 5, 7, 2001)), 1) or 1
        made["rounding"] = {"step": step, "ties": rng.choice(("even", "away"))}
    if rng.random() < 0.2:
        made["binding"] = False
    return made


def near(rng: Random, target: Fraction, may_be_negative: bool) -> float:  # noqa: FBT001  handed on
    """A number on the target or just beside it, as near as a double or a last digit goes, or farther off."""
    on = float(target)
    ways = (
        on,
        on,
        nextafter(on, inf),
        nextafter(on, -inf),
        float(f"{on:.6g}"),
        float(f"{on:.15g}"),
        beside(rng, on, 6),
        beside(rng, on, 15),
        on * rng.choice((0.9, 0.99, 1.01, 1.1)),
        float(round(on)),
    )
    number = rng.choice(ways)
    number = number if may_be_negative else max(number, 0.0)
    return in_range(number, rng.choice((LEAST, GREATEST, 1.0))) if number else 0.0


def beside(rng: Random, number: float, digits: int) -> float:
    """The numeral of so many digits, with one more or less in its last place."""
    mantissa, exponent = f"{number:.{digits - 1}e}".split("e")
    whole = int(mantissa.replace(".", "")) + rng.choice((-1, 1))
    return float(f"{whole}e{int(exponent) - digits + 1}")


def limits_near(rng: Random, low: Fraction, high: Fraction, may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001
    """Limits of which a side lies at one of the two numbers, in either form."""
    form = rng.choice(("lower", "upper", "both", "both", "nominal"))
    lower, upper = sorted((near(rng, low, may_be_negative), near(rng, high, may_be_negative)))
    if form == "nominal":
        return toleranced(rng, low, may_be_negative)
    return {side: value for side, value in (("lower", lower), ("upper", upper)) if form in {side, "both"}}


def toleranced(rng: Random, at: Fraction, may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001  handed on
    """A nominal with a tolerance whose lower limit lies at a number, or near it."""
    if rng.random() < 0.5:
        percent = rng.choice((5, 2.5, 10, 0.1, 0, 100))
        nominal = near(rng, at * 100 / (100 - percent) if percent < 100 else at, may_be_negative)
        return {"nominal": nominal, "minus": percent, "plus": rng.choice((5, 0, 3)), "tolerance": "percent"}
    minus = rng.choice((0, 1, 0.1, 5))
    nominal = near(rng, at + exact(minus), may_be_negative)
    sides = {"minus": minus if may_be_negative else min(minus, nominal), "plus": rng.choice((0, 1, 0.3))}
    return {"nominal": nominal, **sides, "tolerance": "absolute"}


def each_body(rng: Random, values: Sequence[Fraction], may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001
    """Limits at readings, some allowed outside, an outer limit at the worst one."""
    made: dict[str, Any] = {"limits": limits_near(rng, rng.choice(values), rng.choice(values), may_be_negative)}
    if rng.random() < 0.5:
        made["allowed_outside"] = rng.choice(
            ({"count": rng.randint(0, 3)}, {"count": len(values)}, {"percent": rng.choice((0, 10, 20, 33.3, 50, 100))})
        )
    limits = made["limits"]
    if "nominal" not in limits and rng.random() < 0.4:
        made["outer"] = outer_of(rng, limits, min(values), max(values), may_be_negative)
    return made


def outer_of(rng: Random, limits: Document, least: Fraction, most: Fraction, may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001
    """Bounds outside the limits, on the sides that they bound."""
    outer = {}
    if "lower" in limits:
        outer["lower"] = min(limits["lower"], near(rng, least, may_be_negative))
    if "upper" in limits and (not outer or rng.random() < 0.5):
        outer["upper"] = max(limits["upper"], near(rng, most, may_be_negative))
    return outer


def mean_body(rng: Random, values: Sequence[Fraction], may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001
    """Limits at the mean."""
    return {"limits": limits_near(rng, mean_of(values), mean_of(values), may_be_negative)}


def spread_body(rng: Random, values: Sequence[Fraction], may_be_negative: bool) -> dict[str, Any]:  # noqa: ARG001, FBT001
    """A statistic, and its own value as the most it may be."""
    statistic = rng.choice(("standard_deviation", "standard_deviation", "range", "coefficient_of_variation"))
    variance = variance_of(values) if len(values) > 1 else Fraction(1)
    target = max(values) - min(values) if statistic == "range" else root(variance).low
    if statistic == "coefficient_of_variation" and mean_of(values):
        target = abs(100 * target / mean_of(values))
    return {"statistic": statistic, "at_most": near(rng, target, may_be_negative=False)}


def variables_body(rng: Random, values: Sequence[Fraction], may_be_negative: bool) -> dict[str, Any]:  # noqa: FBT001
    """A limit so many standard deviations off the mean."""
    k = rng.choice((0, 0, 1, 1.53, 0.5, 2, 1.12))
    deviation = root(variance_of(values)).low if len(values) > 1 else Fraction(0)
    low, high = mean_of(values) - exact(k) * deviation, mean_of(values) + exact(k) * deviation
    made = {"limits": limits_near(rng, low, high, may_be_negative), "k": k}
    lower = made["limits"].get("lower")
    if lower is not None and deviation and rng.random() < 0.5:
        made["k"] = near(rng, abs(mean_of(values) - exact(lower)) / deviation, may_be_negative=False)
    return made


BODIES: dict[str, Callable[[Random, Sequence[Fraction], bool], dict[str, Any]]] = {
    "each": each_body,
    "mean": mean_body,
    "spread": spread_body,
    "variables": variables_body,
}


def lay_samples(rng: Random, specification: dict[str, Any], evidence: dict[str, Any], *, is_pooled: bool) -> None:
    """Samples about the number of packages that are in, on characteristics and on requirements; a size of the lot."""
    packages = most_packages(evidence)
    if rng.random() < 0.8:
        evidence["lot"]["size"] = packages + rng.choice((0, 0, 1, 2, 10, 90))
    for characteristic in specification["characteristics"]:
        if "derived" not in characteristic and rng.random() < 0.5:
            characteristic["sample"] = plan(rng, packages)
    for requirement in specification["requirements"]:
        if not is_pooled and rng.random() < 0.15:
            requirement["sample"] = plan(rng, packages)


def most_packages(evidence: Document) -> int:
    """At least as many packages as any characteristic has, and two."""
    readings: dict[str, int] = {}
    for series in evidence["series"]:
        readings[series["characteristic"]] = readings.get(series["characteristic"], 0) + len(series["values"])
    return max(2, *readings.values(), 2)


def plan(rng: Random, packages: int) -> dict[str, Any]:
    """A plan that can give a spread its two, near to so many packages."""
    fixed = {"plan": "fixed", "packages": max(2, rng.choice((2, 3, packages - 1, packages, packages + 1)))}
    made: dict[str, Any] = rng.choice(
        (
            fixed,
            fixed,
            {"plan": "percent", "percent": rng.choice((2.5, 10, 33.3, 50, 100)), "at_least": 2},
            {"plan": "square_root", "factor": rng.choice((0.4, 1, 0.5, 1.5)), "at_least": rng.choice((2, 3))},
            {"plan": "every"},
        )
    )
    return {**made, "readings_per_package": rng.choice((1, 2, 3))} if rng.random() < 0.3 else made


lots = st.integers(min_value=0, max_value=2**32 - 1).map(lambda seed: lot_at_the_edge(Random(seed)))  # noqa: S311  no secret
"""Lots for laws; a seed each, so that a failing one is told by one number."""
