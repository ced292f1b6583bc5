"""Lots to judge, most of them at the edge: limits are laid on, or one unit in the last place beside, what the readings give."""

from collections.abc import Callable, Sequence
from random import Random
from typing import Any, NamedTuple

from hypothesis import strategies as st

from tests.support.columns import column
from tests.support.edges import demands, in_range
from tests.support.exact import FACTORS, converted, exact
from tests.support.simple_values import Document, values_of


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


def lot_at_the_edge(rng: Random) -> Lot:
    """A lot with one to four requirements on one characteristic, measured or derived."""
    if rng.random() < 0.2:
        return quotient_lot(rng)
    name = rng.choice(list(MEASURED))
    characteristic = measured(rng, name)
    evidence: dict[str, Any] = {"lot": {"id": "L-1"}, "series": series_of(rng, characteristic)}
    return with_requirements(rng, [characteristic], evidence, characteristic)


def turned_lot(rng: Random, number: int) -> Lot:
    """A lot graded by runnage of which so many different readings came as linear densities, or the other way."""
    characteristic = measured(rng, rng.choice(("runnage", "linear_density")))
    name = characteristic["name"]
    values = [round(rng.uniform(5000, 9000), rng.choice((0, 1, 2))) for _ in range(number)]
    series = {"characteristic": name, "unit": rng.choice(RECIPROCAL[name]), "values": values}
    return with_requirements(rng, [characteristic], {"lot": {"id": "L-1"}, "series": [series]}, characteristic)


def measured(rng: Random, name: str) -> dict[str, Any]:
    """A characteristic that is measured."""
    return {"name": name, "unit": rng.choice(MEASURED[name])}


def series_of(rng: Random, characteristic: Document) -> list[dict[str, Any]]:
    """One to three series of a characteristic in units of their own, packages named or not; sometimes none at all."""
    if rng.random() < 0.02:
        return []
    name, unit = characteristic["name"], characteristic["unit"]
    units = MEASURED[name] + (RECIPROCAL.get(name, ()) if rng.random() < 0.5 else ())
    others = [rng.choice(units) if rng.random() < 0.5 else unit for _ in range(rng.choice((1, 1, 1, 2, 3)))]
    return [one_series(rng, characteristic, other, is_alone=len(others) == 1) for other in others]


def one_series(rng: Random, characteristic: Document, unit: str, *, is_alone: bool) -> dict[str, Any]:
    """A series in a unit; where that is another one, its readings are those of the characteristic's unit, converted."""
    is_turned = FACTORS[unit][0] != FACTORS[characteristic["unit"]][0]
    may_be_negative = characteristic["name"] == "elongation_at_break"
    values = column(rng, may_be_long=is_alone, may_be_negative=may_be_negative, may_be_zero=not is_turned)
    if is_turned:
        values = few_if_long(values)
    if unit != characteristic["unit"] and rng.random() < 0.5:
        values = [in_range(carried(rng, value, characteristic["unit"], unit), value) for value in values]
    series = {"characteristic": characteristic["name"], "unit": unit, "values": values}
    packages = named(rng, len(values))
    return series if packages is None else {**series, "packages": packages}


def few_if_long(values: list[float]) -> list[float]:
    """The same number of readings; of a long column the first few over and over, as sums of reciprocals grow without end."""
    return values if len(values) <= 130 else [values[place % 24] for place in range(len(values))]


def carried(rng: Random, value: float, unit: str, other: str) -> float:
    """A reading as a tester that shows another unit would have given it: all digits, or five."""
    if value == 0:
        return value
    there = float(converted(exact(value), unit, other))
    return there if rng.random() < 0.5 else float(f"{there:.5g}")


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
    values = few_if_long(column(rng, may_be_long=True, may_be_negative=False, may_be_zero=False))
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
        values = values_of(specification, evidence, requirement)
        requirement.update(demands(rng, kind, values, may_be_negative=FACTORS[of["unit"]][0] == "ratio"))
    specification["requirements"][0]["binding"] = True
    lay_samples(rng, specification, evidence, is_pooled=is_pooled)
    if rng.random() < 0.1:
        declare(rng, specification, evidence)
    return Lot(specification, evidence)


def declare(rng: Random, specification: dict[str, Any], evidence: dict[str, Any]) -> None:
    """Add a property that is declared, and mostly a declaration of it: 1 and 1.0 are equal, 1 and true are not."""
    specification["characteristics"].append({"name": "treatment", "quantity": "category"})
    one_of = rng.choice((["Z"], ["oiled", "dry"], [1, "1"], [True], [1.0], [False, 0.5]))
    specification["requirements"].append({"id": "d", "kind": "declared", "of": "treatment", "one_of": one_of})
    if rng.random() < 0.9:
        value = rng.choice((*one_of, 1, 1.0, True, "1", "z", 0.5, 0, False))
        evidence["declared"] = [{"characteristic": "treatment", "value": value}]


def lay_samples(rng: Random, specification: dict[str, Any], evidence: dict[str, Any], *, is_pooled: bool) -> None:
    """Samples about the number of packages that are in, on characteristics and on requirements; a size of the lot."""
    packages = most_packages(evidence)
    if rng.random() < 0.8:
        evidence["lot"]["size"] = packages + rng.choice((0, 0, 1, 2, 10, 90))
    if rng.random() < 0.3:
        evidence["lot"]["length"] = {"value": rng.choice((220, 440.5, 3093.75, 3093.74, 9000)), "unit": rng.choice(("m", "ft"))}
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
        name = series["characteristic"]
        readings[name] = readings.get(name, 0) + len(series["values"])
    return max([2, *readings.values()])


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
            {"plan": "bands", "bands": bands(packages)[: rng.choice((1, 2, 3))]},
            {"plan": "square_root", "factor": 0.4, "at_least": 2, "at_most": rng.choice((2, 3, packages)), **counted_in(rng)},
            {"plan": "percent", "percent": 10, "at_least": 2, **counted_in(rng)},
        )
    )
    return {**made, "readings_per_package": rng.choice((1, 2, 3))} if rng.random() < 0.3 else made


def bands(packages: int) -> list[Document]:
    """Bands that end about the size of the lot; the last has no end."""
    return [{"up_to": packages, "packages": 2}, {"up_to": packages + 2, "packages": packages}, {"packages": packages + 1}]


def counted_in(rng: Random) -> Document:
    """What a plan counts the lot in: coils of 220 m, pieces of 5 lb, which no lot here is told in, or its packages."""
    return rng.choice(({}, {"counted_in": {"value": 220, "unit": "m"}}, {"counted_in": {"value": 5, "unit": "lb"}}))


lots = st.integers(min_value=0, max_value=2**32 - 1).map(lambda seed: lot_at_the_edge(Random(seed)))
"""Lots for laws; a seed each, so that a failing one is told by one number."""
