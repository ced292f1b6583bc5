"""The values that the simple judge compares: readings in the grade's unit, package means, quotients."""

from collections.abc import Hashable, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from tests.support.exact import FACTORS, converted, exact

Document = Mapping[str, Any]


class Reading(NamedTuple):
    """A reading in the unit of its characteristic, the package that it is of, or how many, and what was remarked."""

    package: Hashable
    value: Fraction
    remark: str = ""
    packages: int = 1


class UnpairedError(ValueError):
    """The two sides of a ratio do not agree in number."""


def characteristic_of(specification: Document, name: str) -> Document:
    """What the grade says of a characteristic."""
    return next(each for each in specification["characteristics"] if each["name"] == name)


def measured_readings(specification: Document, evidence: Document, name: str, *, outside_marks: bool = False) -> list[Reading]:
    """The readings that count on a measured characteristic in the order sent; an unnamed package is known by its place.

    outside_marks  true to count those too whose true force is not known
    """
    rules = characteristic_of(specification, name).get("remarks", {})
    out = set(rules.get("leave_out", []))
    if "passes_outside_marks_at" in rules and not outside_marks:
        out.add("broke_outside_marks")
    return [reading for reading in standing_readings(specification, evidence, name) if reading.remark not in out]


def standing_readings(specification: Document, evidence: Document, name: str) -> list[Reading]:
    """All that were not struck."""
    unit = characteristic_of(specification, name)["unit"]
    readings = []
    for place, series in enumerate(evidence.get("series", [])):
        if series["characteristic"] != name:
            continue
        for index, value in enumerate(series["values"]):
            remark = series["remarks"][index] if "remarks" in series else ""
            package: Hashable = series["packages"][index] if "packages" in series else (place, index)
            if remark != "struck":
                converted_value = converted(exact(value), series["unit"], unit)
                readings.append(Reading(package, converted_value, remark, series.get("packages_per_specimen", 1)))
    return readings


def sides_of(specification: Document, name: str) -> Sequence[str]:
    """The measured characteristics whose readings are needed: itself, or both of what it is derived from."""
    derived = characteristic_of(specification, name).get("derived")
    if not derived:
        return [name]
    return [derived[member] for member in ("numerator", "denominator", "mass", "of", "moisture") if member in derived]


def values_of(specification: Document, evidence: Document, requirement: Document) -> list[Fraction]:
    """The values that a requirement looks at, one a reading or one a package; none while a side is absent."""
    name = requirement["of"]
    sides = [measured_readings(specification, evidence, side) for side in sides_of(specification, name)]
    if not all(sides):
        return []
    derived = characteristic_of(specification, name).get("derived")
    if derived and derived["kind"] == "ratio_of_means":
        means = [sum((each.value for each in side), Fraction(0)) / len(side) for side in sides]
        return [means[0] / means[1] * quotient_factor(specification, name)]
    if derived and derived.get("moisture_by") == "mean":
        mean = sum((each.value for each in sides[1]), Fraction(0)) / len(sides[1])
        sides[1] = [each._replace(value=mean) for each in sides[0]]
    readings = pairs(specification, name, sides) if derived else sides[0]
    return package_means(readings) if requirement.get("over") == "packages" else [each.value for each in readings]


def worked_out(specification: Document, name: str, one: Fraction, other: Fraction) -> Fraction:
    """A quotient of two readings, or the first with its moisture taken out and the agreed regain put in."""
    derived = characteristic_of(specification, name)["derived"]
    if derived["kind"] == "ratio":
        return one / other * quotient_factor(specification, name)
    sides = [characteristic_of(specification, side)["unit"] for side in sides_of(specification, name)]
    moisture = other * FACTORS[sides[1]][1]
    dry_share = 1 / (1 + moisture) if derived["moisture"] == "moisture_regain" else 1 - moisture
    share = dry_share * (1 + exact(derived["regain"]) / 100)
    grows_with_mass = FACTORS[sides[0]][0] != "length_per_mass"
    scale = FACTORS[sides[0]][1] / FACTORS[characteristic_of(specification, name)["unit"]][1]
    return one * scale * share if grows_with_mass else one * scale / share


def quotient_factor(specification: Document, name: str) -> Fraction:
    """What a quotient of two numbers in their sides' units is multiplied by to stand in the quotient's unit."""
    top, bottom = (FACTORS[characteristic_of(specification, side)["unit"]][1] for side in sides_of(specification, name))
    return top / bottom / FACTORS[characteristic_of(specification, name)["unit"]][1]


def pairs(specification: Document, name: str, sides: Sequence[Sequence[Reading]]) -> list[Reading]:
    """Reading by reading within a package in the order sent; unnamed ones in the running order of all unnamed ones."""
    tops, bottoms = by_name(sides[0]), by_name(sides[1])
    if {key: len(each) for key, each in tops.items()} != {key: len(each) for key, each in bottoms.items()}:
        raise UnpairedError
    paired = []
    for package, column in tops.items():
        for index, top in enumerate(column):
            key: Hashable = (index,) if package is None else package
            paired.append(Reading(key, worked_out(specification, name, top, bottoms[package][index])))
    return paired


def by_name(readings: Sequence[Reading]) -> dict[str | None, list[Fraction]]:
    """The values of each named package, and under None of all unnamed ones together."""
    found: dict[str | None, list[Fraction]] = {}
    for reading in readings:
        found.setdefault(reading.package if isinstance(reading.package, str) else None, []).append(reading.value)
    return found


def by_package(readings: Sequence[Reading]) -> dict[Hashable, list[Fraction]]:
    """The values of each package, in the order in which packages come up."""
    found: dict[Hashable, list[Fraction]] = {}
    for reading in readings:
        found.setdefault(reading.package, []).append(reading.value)
    return found


def package_means(readings: Sequence[Reading]) -> list[Fraction]:
    """Each package's mean."""
    return [sum(values, Fraction(0)) / len(values) for values in by_package(readings).values()]
