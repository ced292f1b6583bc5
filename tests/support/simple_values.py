"""The values that the simple judge compares: readings in the grade's unit, package means, quotients."""

from collections.abc import Hashable, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from tests.support.exact import FACTORS, converted, exact

Document = Mapping[str, Any]


class Reading(NamedTuple):
    """A reading in the unit of its characteristic, and the package that it is of."""

    package: Hashable
    value: Fraction


class UnpairedError(ValueError):
    """The two sides of a ratio do not agree in number."""


def characteristic_of(specification: Document, name: str) -> Document:
    """What the grade says of a characteristic."""
    return next(each for each in specification["characteristics"] if each["name"] == name)


def measured_readings(specification: Document, evidence: Document, name: str) -> list[Reading]:
    """All readings on a measured characteristic in the order sent; an unnamed package is known by its place."""
    unit = characteristic_of(specification, name)["unit"]
    readings = []
    for place, series in enumerate(evidence.get("series", [])):
        if series["characteristic"] != name:
            continue
        for index, value in enumerate(series["values"]):
            package: Hashable = series["packages"][index] if "packages" in series else (place, index)
            readings.append(Reading(package, converted(exact(value), series["unit"], unit)))
    return readings


def sides_of(specification: Document, name: str) -> Sequence[str]:
    """The measured characteristics whose readings are needed: itself, or both sides of a quotient."""
    derived = characteristic_of(specification, name).get("derived")
    return [derived["numerator"], derived["denominator"]] if derived else [name]


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
    readings = pairs(specification, name, sides) if derived else sides[0]
    return package_means(readings) if requirement.get("over") == "packages" else [each.value for each in readings]


def quotient_factor(specification: Document, name: str) -> Fraction:
    """What a quotient of two numbers in their sides' units is multiplied by to stand in the quotient's unit."""
    top, bottom = (FACTORS[characteristic_of(specification, side)["unit"]][1] for side in sides_of(specification, name))
    return top / bottom / FACTORS[characteristic_of(specification, name)["unit"]][1]


def pairs(specification: Document, name: str, sides: Sequence[Sequence[Reading]]) -> list[Reading]:
    """Reading by reading within a package in the order sent; unnamed ones in the running order of all unnamed ones."""
    factor = quotient_factor(specification, name)
    tops, bottoms = by_name(sides[0]), by_name(sides[1])
    if {key: len(each) for key, each in tops.items()} != {key: len(each) for key, each in bottoms.items()}:
        raise UnpairedError
    paired = []
    for package, column in tops.items():
        for index, top in enumerate(column):
            key: Hashable = (index,) if package is None else package
            paired.append(Reading(key, top / bottoms[package][index] * factor))
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
