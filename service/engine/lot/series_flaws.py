"""The flaws of measured series: characteristic, unit, columns and single values, with pointers into the evidence."""

from collections.abc import Collection, Iterator, Mapping

from msgspec import UNSET, UnsetType

from service.engine.characteristics import CompiledCharacteristic, pointer, symbols_for, uncertainty_flaws
from service.engine.documents import (
    CONTROL,
    Flaw,
    Series,
    Uncertainty,
    capitalised,
    counted,
    did_you_mean,
    is_in_range,
    listed,
    quoted,
    written,
)
from service.engine.lot.remarks import is_struck, remark_column_flaws
from service.engine.lot.series import SentSeries
from service.engine.numbers import unit_flaw

MOST_LISTED = 20
"""Known names are listed in a flaw up to this number."""


def series_flaws(sent: SentSeries, characteristics: Mapping[str, CompiledCharacteristic]) -> Iterator[Flaw]:
    """The flaws of a series: its characteristic, its unit, its packages, its values.

    characteristics  of the compiled grade, by name
    """
    series, at = sent.series, f"/series/{sent.number}"
    if characteristic := characteristics.get(series.characteristic):
        yield from measurable_flaws(characteristic, f"{at}/characteristic")
        if characteristic.unit and not characteristic.derived:
            yield from unit_flaws(series.unit, characteristic, f"{at}/unit")
    else:
        yield unknown_characteristic(series.characteristic, characteristics, f"{at}/characteristic")
    # Columns are checked against an unknown characteristic too, so that a caller gets all flaws at once.
    yield from column_flaws(sent, characteristic)


def column_flaws(sent: SentSeries, characteristic: CompiledCharacteristic | None) -> Iterator[Flaw]:
    """The flaws in the columns of a series; for an unknown characteristic, None, those that do not depend on it."""
    series, at = sent.series, f"/series/{sent.number}"
    yield from _package_flaws(series, f"{at}/packages")
    if not isinstance(series.uncertainty, UnsetType):
        yield from _uncertainty_flaws(series, series.uncertainty, characteristic, f"{at}/uncertainty")
    yield from remark_column_flaws(series, at)
    # The range of a whole column is cheap; single values are read only where it shows that one may have a flaw.
    if not _has_no_reading_flaw(sent, characteristic):
        for place, value in enumerate(series.values):
            if not is_struck(series, place):
                yield from reading_flaws(value, series.unit, characteristic, pointer((sent.number, place)))


def _uncertainty_flaws(
    series: Series, uncertainty: Uncertainty, characteristic: CompiledCharacteristic | None, at: str
) -> Iterator[Flaw]:
    """The flaws of a stated uncertainty, also where it cannot be converted."""
    yield from uncertainty_flaws(uncertainty, at)
    conversion = characteristic.conversions.get(series.unit) if characteristic else None
    # 1/(x ± u) is not symmetric about 1/x, so an absolute uncertainty has no counterpart in the reciprocal unit.
    if characteristic and conversion and conversion.turned_round and uncertainty.expanded is not UNSET:
        text = f"Readings in {series.unit} are inverted into {characteristic.symbol}. Give their uncertainty in `percent`."
        yield Flaw("uncertainty-turned-round", text, f"{at}/expanded", f"{characteristic.pointer}/unit")


def unknown_characteristic(name: str, known: Collection[str], at: str) -> Flaw:
    """The flaw of a name that is none of the grade's characteristics, `known`."""
    remedy = did_you_mean(name, known) or f" It has {listed(list(known)[:MOST_LISTED], 'and')}."
    text = f"The grade has no characteristic {quoted(name)}.{remedy}"
    return Flaw("unknown-characteristic", text, at)


def measurable_flaws(characteristic: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The flaws of readings of a characteristic that is not measured: a category, or a derived one."""
    if characteristic.quantity == "category":
        text = f"`{characteristic.name}` is only declared, never measured. Give it in `declared`."
        yield Flaw("category-not-measured", text, at, characteristic.pointer)
    if characteristic.derived:
        sources = listed((source.name for source in characteristic.sources), "and")
        text = f"`{characteristic.name}` is calculated, not sent. Send the readings of {sources}."
        yield Flaw("derived-not-measured", text, at, f"{characteristic.pointer}/derived")


def unit_flaws(word: str, characteristic: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The flaw of a unit that is not in the table, or neither of the characteristic's quantity nor of the reciprocal one."""
    if word not in characteristic.conversions:
        symbols = symbols_for(characteristic.quantity)
        # A count may leave its unit out, so for a count only the characteristic is certain to be in the grade.
        rule = characteristic.pointer if characteristic.quantity == "count" else f"{characteristic.pointer}/unit"
        yield unit_flaw(word, characteristic.name, characteristic.quantity, symbols, at, rule)


def _package_flaws(series: Series, at: str) -> Iterator[Flaw]:
    """The flaws of package ids: there is one a value, each without control characters."""
    if isinstance(series.packages, UnsetType):
        return
    if len(series.packages) != len(series.values):
        numbers = f"{counted(len(series.values), 'value')} and {counted(len(series.packages), 'package id')}"
        text = f"The series has {numbers}. Give one id for each value, or remove `packages`."
        yield Flaw("packages-differ-in-number", text, at)
    # Distinct ids first: a column of 100,000 readings names few packages.
    if any(CONTROL.search(name) for name in set(series.packages)):
        for number, name in enumerate(series.packages):
            if CONTROL.search(name):
                yield Flaw("control-character", "A package id has a control character. Remove the character.", f"{at}/{number}")


def _has_no_reading_flaw(sent: SentSeries, characteristic: CompiledCharacteristic | None) -> bool:
    """True where all values are above 0 and in range and need not be whole, so that `reading_flaws` would find nothing."""
    values = sent.series.values
    if not values or (characteristic and characteristic.quantity == "count"):
        return not values
    if sent.doubles is not None:
        low, high = float(sent.doubles.min()), float(sent.doubles.max())
    else:
        low, high = min(values), max(values)
    return low > 0 and is_in_range(low) and is_in_range(high)


def reading_flaws(value: float, unit: str, characteristic: CompiledCharacteristic | None, at: str) -> Iterator[Flaw]:
    """The flaw of one value; for an unknown characteristic, None, only whether it is in range."""
    if not is_in_range(value):
        yield out_of_range(value, at)
        return
    if characteristic is None:
        return
    conversion = characteristic.conversions.get(unit)
    if value < 0 and characteristic.quantity != "ratio":
        yield negative(value, characteristic.words, at)
    elif value == 0 and conversion and conversion.turned_round:
        text = f"0 {unit} cannot be inverted into {characteristic.symbol}. Correct the reading, or remove it."
        yield Flaw("zero-turned-round", text, at, f"{characteristic.pointer}/unit")
    elif characteristic.quantity == "count" and not float(value).is_integer():
        text = f"{capitalised(characteristic.words)} is a count, and {written(value)} is not a whole number. Correct it."
        yield Flaw("not-whole", text, at, characteristic.pointer)


def out_of_range(value: float, at: str) -> Flaw:
    """The flaw of a number outside the accepted range."""
    text = f"{value!r} is out of range: a number is 0, or from 1e-9 to 1e12. Check the unit, or correct the number."
    return Flaw("beyond-range", text, at)


def negative(value: float, words: str, at: str) -> Flaw:
    """The flaw of a negative value; only a ratio may be negative."""
    return Flaw("negative", f"{capitalised(words)} is never negative, and {written(value)} is. Correct the number.", at)
