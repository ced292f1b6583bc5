"""Instruments: what they measure, how long they are calibrated, how uncertain they are; and what that says of a batch."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Annotated, get_args

from msgspec import UNSET, Meta, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic, uncertainty_flaws
from service.engine.documents import (
    VOCABULARY,
    Day,
    Flaw,
    LongText,
    Name,
    Quantity,
    Series,
    Uncertainty,
    UnitName,
    did_you_mean,
    in_words,
    is_in_range,
    listed,
    quoted,
)
from service.engine.ledger.documents import Batch, Marks, SeriesUncertainty
from service.engine.lot import day_of, no_such_day
from service.engine.numbers import UNITS, exact, reported

MOST_MEASURED = 100
QUANTITIES: Sequence[Quantity] = get_args(Quantity)
Characteristics = Mapping[str, CompiledCharacteristic]


class InstrumentUncertainty(Struct, frozen=True, forbid_unknown_fields=True):
    """The expanded uncertainty of its readings of one quantity, in a unit of it or in percent of the value."""

    unit: UnitName
    coverage_factor: Annotated[float, Meta(gt=0)]
    expanded: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0)] | UnsetType = UNSET

    @property
    def of_a_series(self) -> Uncertainty:
        """The same without its unit."""
        return Uncertainty(self.coverage_factor, self.expanded, self.percent)


class Instrument(Struct, frozen=True, forbid_unknown_fields=True):
    """What is known of an instrument."""

    measures: Annotated[list[Name], Meta(min_length=1, max_length=MOST_MEASURED)]
    """Characteristics, or quantities for all characteristics that are of them."""
    calibrated_until: Day | UnsetType = UNSET
    """The last day on which its calibration is good; left out, it is never overdue."""
    uncertainty: Annotated[list[InstrumentUncertainty], Meta(max_length=MOST_MEASURED)] | UnsetType = UNSET
    """Of the readings of each quantity, for series that state none."""
    note: LongText | UnsetType = UNSET


def instrument_flaws(document: Instrument) -> Iterator[Flaw]:
    """What is wrong with what is told of an instrument, in the order of the document."""
    for number, name in enumerate(document.measures):
        if _quantity_named(name) == "category":
            text = f"{quoted(name)} is only declared, never measured. Take it out."
            yield Flaw("category-not-measured", text, f"/measures/{number}")
    if document.calibrated_until and day_of(document.calibrated_until) is None:
        yield no_such_day(document.calibrated_until, "/calibrated_until")
    first: dict[Quantity, int] = {}
    for number, each in enumerate(document.uncertainty or ()):
        at = f"/uncertainty/{number}"
        yield from _unit_flaws(each, document.measures, first, at)
        yield from uncertainty_flaws(each.of_a_series, at)
        if unit := UNITS.get(each.unit):
            first.setdefault(unit.quantity, number)


def _unit_flaws(
    stated: InstrumentUncertainty, measured: Sequence[str], first: Mapping[Quantity, int], at: str
) -> Iterator[Flaw]:
    """Its unit is one of the table and of what the instrument measures, and no other is of the same quantity."""
    unit = UNITS.get(stated.unit)
    if unit is None:
        remedy = did_you_mean(stated.unit, UNITS) or " `GET /v1/units` lists them."
        yield Flaw("unknown-unit", f"{quoted(stated.unit)} is no unit known here.{remedy}", f"{at}/unit")
        return
    known = [_quantity_named(name) for name in measured]
    # A name of a grade's own is of a quantity that only the grade knows.
    if None not in known and unit.quantity not in known:
        text = (
            f"{quoted(stated.unit)} is a unit of {in_words(unit.quantity)}, and the instrument measures "
            f"{listed(measured, 'and')}. Correct the unit, or add to `measures`."
        )
        yield Flaw("unit-of-other-quantity", text, f"{at}/unit")
    elif unit.quantity in first:
        text = f"An uncertainty of {in_words(unit.quantity)} is stated already, at /uncertainty/{first[unit.quantity]}."
        yield Flaw("uncertainty-twice", f"{text} Leave one of the two.", f"{at}/unit")


def _quantity_named(name: str) -> Quantity | None:
    """The quantity of a name of the vocabulary, or that it is itself; None for a name of a grade's own."""
    if name in VOCABULARY:
        return VOCABULARY[name].quantity
    return next((each for each in QUANTITIES if each == name), None)


def measuring_flaws(name: str, instrument: Instrument, batch: Batch, known: Characteristics) -> Iterator[Flaw]:
    """Series of a batch that this instrument can't have measured.

    name   of the instrument
    known  characteristics of the grade; what it doesn't have is another flaw
    """
    for number, series in enumerate(batch.series or ()):
        of = known.get(series.characteristic)
        if of and not {of.name, of.quantity} & set(instrument.measures):
            text = (
                f"Instrument {quoted(name)} does not measure {of.name}; it measures {listed(instrument.measures, 'and')}. "
                "Name the instrument that it came from, in a batch of its own, or have `measures` corrected."
            )
            yield Flaw("not-measured-by-instrument", text, f"/series/{number}/characteristic")


def marks_on(batch: Batch, instrument: Instrument, version: int, today: date, known: Characteristics) -> Marks:
    """What a version of its instrument says of a batch that has no flaws.

    today  the day on which it is recorded, which is that of a batch which does not say when it was measured
    known  characteristics of the grade

    The day is that of the local calendar, in the offset in which `measured_at` is written.
    """
    day = today if isinstance(batch.measured_at, UnsetType) else batch.measured_at.date()
    last = day_of(instrument.calibrated_until) if instrument.calibrated_until else None
    found = [
        SeriesUncertainty(number, uncertainty)
        for number, series in enumerate(batch.series or ())
        if series.uncertainty is UNSET and (uncertainty := _uncertainty_of(series, instrument, known[series.characteristic]))
    ]
    return Marks(version, "overdue" if last and day > last else UNSET, found or UNSET)


def _uncertainty_of(series: Series, instrument: Instrument, of: CompiledCharacteristic) -> Uncertainty | None:
    """That of the instrument, in the series' unit; None where it states none, or none that comes to a number there.

    What is stated in another unit is converted exactly and rounded once, to the nearest double. Of readings that are turned
    round only a share is known.
    """
    read = UNITS[series.unit]
    stated = next((each for each in instrument.uncertainty or () if UNITS[each.unit].quantity == read.quantity), None)
    if stated is None or of.quantity == "count":
        return None
    if isinstance(stated.expanded, UnsetType):
        return stated.of_a_series
    if of.conversions[series.unit].turned_round:
        return None
    expanded = float(reported(exact(stated.expanded) * UNITS[stated.unit].factor / read.factor))
    return Uncertainty(stated.coverage_factor, expanded) if is_in_range(expanded) else None
