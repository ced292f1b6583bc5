"""How much of a sample is still missing, counted plainly."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from tests.support.exact import FACTORS, exact
from tests.support.simple_values import Document, Reading, by_package, characteristic_of, measured_readings, sides_of


class Missing(NamedTuple):
    """So many packages to complete or to draw anew, and the least number of readings that does it."""

    characteristic: str
    packages: int
    readings: int


class Shortage(NamedTuple):
    """Whether a sample is short, and of what; of a lot whose size is not told it is short of what nobody can say."""

    is_short: bool
    missing: Sequence[Missing]


def missing_of(specification: Document, evidence: Document, requirement: Document, *, outside_marks: bool = False) -> Shortage:
    """The shortage of all sides of a requirement's characteristic."""
    is_short = False
    missing = []
    for name in sides_of(specification, requirement["of"]):
        readings = measured_readings(specification, evidence, name, outside_marks=outside_marks)
        derived = characteristic_of(specification, requirement["of"]).get("derived", {})
        demand = requirement
        if derived.get("moisture_by") == "mean" and name == derived["moisture"]:
            # Only its mean goes into each value, so that one reading suffices and the sample is its own.
            demand = {"kind": "mean"}
        sample = demand.get("sample", characteristic_of(specification, name).get("sample"))
        wanted = None if sample is None else packages_of(sample, evidence.get("lot", {}))
        if sample is not None and wanted is None:
            is_short = True
            continue
        lacks = lacking(name, readings, demand)
        if sample and wanted and (of_plan := lacking_of_plan(name, readings, sample, wanted)).packages > 0:
            lacks = of_plan
        if lacks.packages > 0:
            is_short = True
            missing.append(lacks)
    return Shortage(is_short, missing)


def lacking(name: str, readings: Sequence[Reading], requirement: Document) -> Missing:
    """Without a sample one reading suffices, for a spread two of the values that it is taken over."""
    enough = 2 if requirement["kind"] in {"spread", "variables"} else 1
    there = len(by_package(readings)) if requirement.get("over") == "packages" else len(readings)
    return Missing(name, enough - there, enough - there)


def lacking_of_plan(name: str, readings: Sequence[Reading], sample: Document, wanted: int) -> Missing:
    """Packages still to complete; those that have most readings cost the fewest further ones."""
    each_needs = sample.get("readings_per_package", 1)
    single = [reading for reading in readings if reading.packages == 1]
    of_specimens = [1] * sum(reading.packages for reading in readings if reading.packages > 1)
    counts = sorted([*(len(values) for values in by_package(single).values()), *of_specimens], reverse=True)
    complete = sum(1 for count in counts if count >= each_needs)
    packages = wanted - complete
    readings_needed = 0
    for place in range(max(packages, 0)):
        begun = counts[complete + place] if complete + place < len(counts) else 0
        readings_needed += each_needs - begun
    return Missing(name, packages, readings_needed)


def packages_of(sample: Document, lot: Document) -> int | None:
    """How many packages a plan asks of a lot as it is told of; None where that is not enough, or there is nothing for it."""
    size = lot.get("size")
    if sample["plan"] == "fixed":
        return int(sample["packages"])
    if sample["plan"] in ("every", "bands"):
        return size if sample["plan"] == "every" or size is None else banded(sample["bands"], size)
    pieces = pieces_of(sample, lot)
    if pieces is None:
        return None
    wanted = share(exact(sample["percent"]), pieces) if sample["plan"] == "percent" else rooted(sample, pieces)
    wanted = max(wanted, int(sample.get("at_least", 1)))
    return min(wanted, int(sample.get("at_most", wanted)), size or wanted)


def banded(bands: Sequence[Document], size: int) -> int | None:
    """What the bands give for a lot of this size; None beyond the last."""
    taken = [band["packages"] for band in bands if size <= band.get("up_to", size)]
    return min(size, taken[0]) if taken else None


def pieces_of(sample: Document, lot: Document) -> Fraction | None:
    """What the lot counts as: its packages, or its length or mass in pieces of so much."""
    if "counted_in" not in sample:
        return Fraction(lot["size"]) if "size" in lot else None
    quantity, piece = in_si(sample["counted_in"])
    return in_si(lot[quantity])[1] / piece if quantity in lot else None


def in_si(amount: Document) -> tuple[str, Fraction]:
    """The quantity and the amount in metres or kilograms."""
    quantity, factor = FACTORS[amount["unit"]]
    return quantity, exact(amount["value"]) * factor


def share(percent: Fraction, pieces: Fraction) -> int:
    """So many per cent of the lot, rounded up."""
    packages = 0
    while packages * 100 < percent * pieces:
        packages += 1
    return packages


def rooted(sample: Document, pieces: Fraction) -> int:
    """The factor times the root of the lot's size to the nearest whole, half up, compared by squares."""
    square = exact(sample["factor"]) ** 2 * pieces
    packages = 0
    while (packages + Fraction(1, 2)) ** 2 <= square:
        packages += 1
    return packages
