"""The lot that nearly all are: one sample, one series a characteristic, nothing beside its values but their packages.

A fast path, and the only one on the way to a lot: `preparing` takes every other lot. It is taken where a glance shows that the
evidence has no flaw and holds nothing that `preparing` would treat apart; then both make the same lot, which a test holds.
"""

from collections.abc import Mapping, Sequence

from msgspec import UNSET

from service.engine.characteristics import NO_PRECAUTIONS, CompiledCharacteristic, Readings
from service.engine.documents import CONTROL, GREATEST_MAGNITUDE, LEAST_MAGNITUDE, Evidence
from service.engine.lot.counting import Counts
from service.engine.lot.lot import Lot
from service.engine.lot.preparing import SentSeries
from service.engine.numbers import column_of
from service.engine.sampling import LotSize

NO_COUNTS = Counts({})


def ordinary_lot(
    characteristics: Mapping[str, CompiledCharacteristic], evidence: Evidence, series: Sequence[SentSeries]
) -> Lot | None:
    """The lot that the evidence tells of; None where it is to be looked at more closely.

    characteristics  of a compiled grade whose requirements need none that is derived
    """
    told = evidence.lot
    if evidence.declared or evidence.counts or evidence.dates or told.length or told.mass or told.inspections:
        return None
    by_characteristic: dict[str, Readings] = {}
    for each in series:
        of = characteristics.get(each.series.characteristic)
        if of is None or of.name in by_characteristic or not _is_ordinary(each, of):
            return None
        conversion = of.conversions[each.series.unit]
        column = column_of(each.series.values, each.doubles, conversion.factor, turned_round=conversion.turned_round)
        counts = [(each.number, len(each.series.values))]
        by_characteristic[of.name] = Readings(column, counts, each.series.packages or None)
    size = LotSize(told.size or None, None, None, told.inspection or "normal")
    return Lot(size, by_characteristic, {}, {}, NO_COUNTS)


def _is_ordinary(sent: SentSeries, of: CompiledCharacteristic) -> bool:
    """Nothing beside its values but packages, each a printable text; all above 0, in range and in a unit of the grade."""
    series = sent.series
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
    if sent.doubles is not None:
        low, high = float(sent.doubles.min()), float(sent.doubles.max())
    else:
        low, high = min(series.values), max(series.values)
    if low < LEAST_MAGNITUDE or high > GREATEST_MAGNITUDE:
        return False
    packages = series.packages or ()
    return not packages or (len(packages) == len(series.values) and not CONTROL.search("".join(packages)))
