"""The lot that nearly all are: one sample, one series a characteristic, nothing beside its values but their packages.

A fast path, and the only one on the way to a lot: `preparing` takes every other lot. It is taken where a glance shows that the
evidence has no flaw and holds nothing that `preparing` would treat apart; then both make the same lot, which a test holds.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import UNSET

from service.engine.characteristics import NO_PRECAUTIONS, CompiledCharacteristic
from service.engine.columns import Column, column_of
from service.engine.counting import Counts
from service.engine.evidence import Evidence, Series
from service.engine.lots import Lot
from service.engine.preparing import Sent
from service.engine.readings import Readings
from service.engine.sampling import LotSize
from service.engine.texts import CONTROL, GREATEST_MAGNITUDE, LEAST_MAGNITUDE

if TYPE_CHECKING:
    from service.engine.columns.long import Doubles

NO_COUNTS = Counts({})


def ordinary_lot(
    characteristics: Mapping[str, CompiledCharacteristic], evidence: Evidence, series: Sequence[Sent]
) -> Lot | None:
    """The lot that the evidence tells of; None where it is to be looked at more closely.

    characteristics  of a compiled grade whose requirements need none that is derived
    """
    if not holds_only_series(evidence):
        return None
    by_characteristic: dict[str, Readings] = {}
    for each in series:
        of = characteristics.get(each.series.characteristic)
        column = None if of is None else ordinary_column(each.series, each.doubles, of)
        if of is None or column is None or of.name in by_characteristic:
            return None
        counts = [(each.number, len(each.series.values))]
        by_characteristic[of.name] = Readings(column, counts, each.series.packages or None)
    told = evidence.lot
    size = LotSize(told.size or None, None, None, told.inspection or "normal")
    return Lot(size, by_characteristic, {}, {}, NO_COUNTS)


def holds_only_series(evidence: Evidence) -> bool:
    """Nothing but series, and of the lot no more than how many packages it has and how severely it is inspected."""
    told = evidence.lot
    return not (evidence.declared or evidence.counts or evidence.dates or told.length or told.mass or told.inspections)


def are_ordinary(characteristics: Mapping[str, CompiledCharacteristic], series: Sequence[Series]) -> bool:
    """Whether each of these series is ordinary and of a characteristic of its own, so that none has a flaw."""
    known = [(each, characteristics.get(each.characteristic)) for each in series]
    is_each_alone = len({each.characteristic for each in series}) == len(series)
    return is_each_alone and all(of is not None and is_ordinary(each, None, of) for each, of in known)


def ordinary_column(series: Series, doubles: "Doubles | None", of: CompiledCharacteristic) -> Column | None:
    """The readings of a series of this characteristic, in its unit; None where they are to be looked at more closely."""
    if not is_ordinary(series, doubles, of):
        return None
    conversion = of.conversions[series.unit]
    return column_of(series.values, doubles, conversion.factor, turned_round=conversion.turned_round)


def is_ordinary(series: Series, doubles: "Doubles | None", of: CompiledCharacteristic) -> bool:
    """Nothing beside its values but packages, each a printable text; all above 0, in range and in a unit of the grade.

    doubles  the values as an array too, where they are many
    """
    if (
        series.remarks is not UNSET
        or series.stage is not UNSET
        or series.uncertainty is not UNSET
        or series.method is not UNSET
        or series.packages_per_specimen is not UNSET
        or series.unit not in of.conversions
        or of.derived is not None
        or of.quantity == "count"
        or of.precautions is not NO_PRECAUTIONS
        or not series.values
    ):
        return False
    if doubles is not None:
        low, high = float(doubles.min()), float(doubles.max())
    else:
        low, high = min(series.values), max(series.values)
    if low < LEAST_MAGNITUDE or high > GREATEST_MAGNITUDE:
        return False
    packages = series.packages or ()
    return not packages or (len(packages) == len(series.values) and not CONTROL.search("".join(packages)))
