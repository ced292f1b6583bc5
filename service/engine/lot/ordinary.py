"""The fast path to a prepared lot, for the most frequent evidence: one sample, a series a characteristic, values and packages.

It is the only fast path into a lot; `preparing` prepares all others. It is taken where cheap checks show that the evidence has
no flaw and nothing that `preparing` handles specially. Both result in the same lot (`tests/engine/lot/test_ordinary.py`).
"""

from collections.abc import Mapping, Sequence

from msgspec import UNSET

from service.engine.characteristics import NO_PRECAUTIONS, CompiledCharacteristic, Readings, sent_unit_of
from service.engine.documents import CONTROL, GREATEST_MAGNITUDE, LEAST_MAGNITUDE, Evidence
from service.engine.lot.counting import Counts
from service.engine.lot.lot import Lot
from service.engine.lot.series import SentSeries
from service.engine.numbers import column_of
from service.engine.sampling import LotSize

NO_COUNTS = Counts({})


def ordinary_lot(
    characteristics: Mapping[str, CompiledCharacteristic], evidence: Evidence, series: Sequence[SentSeries]
) -> Lot | None:
    """The prepared lot; None where `prepare` has to be called, since there may be flaws or special cases.

    characteristics  by name, of a compiled grade whose requirements need no derived one
    series           of the evidence, by `sent`
    """
    document = evidence.lot
    # Truth decides here, so that an empty list and a member left out are the same, as they are to `prepare`.
    if evidence.declared or evidence.counts or evidence.dates or document.length or document.mass or document.inspections:
        return None
    by_characteristic: dict[str, Readings] = {}
    for sent in series:
        of = characteristics.get(sent.series.characteristic)
        if of is None or of.name in by_characteristic or not _is_ordinary(sent, of):
            return None
        conversion = of.conversions[sent.series.unit]
        column = column_of(sent.series.values, sent.doubles, conversion.factor, turned_round=conversion.turned_round)
        counts = [(sent.number, len(sent.series.values))]
        readings = by_characteristic[of.name] = Readings(column, counts, sent.series.packages or None)
        if sent.series.unit != of.symbol:
            readings.sent_unit = sent_unit_of(of, {sent.series.unit})
    size = LotSize(document.size or None, None, None, document.inspection or "normal")
    return Lot(size, by_characteristic, {}, {}, NO_COUNTS)


def _is_ordinary(sent: SentSeries, of: CompiledCharacteristic) -> bool:
    """True for a series of values and printable package ids only, all values above 0, in range and in a unit of the grade."""
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
    # 0 and negative values are below the least magnitude: whether they are flaws depends on unit and quantity.
    if low < LEAST_MAGNITUDE or high > GREATEST_MAGNITUDE:
        return False
    # One search over the joined ids costs less than one for each id; a match only means that `preparing` looks for the place.
    packages = series.packages or ()
    return not packages or (len(packages) == len(series.values) and not CONTROL.search("".join(packages)))
