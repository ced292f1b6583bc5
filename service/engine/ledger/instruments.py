"""Instruments: what they measure, until when they are calibrated, their uncertainty, and the marks they leave on a batch."""

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
    """The expanded uncertainty of an instrument's readings of one quantity, in `unit` or in percent of the value."""

    unit: UnitName
    coverage_factor: Annotated[float, Meta(gt=0)]
    expanded: Annotated[float, Meta(ge=0)] | UnsetType = UNSET
    percent: Annotated[float, Meta(ge=0)] | UnsetType = UNSET

    @property
    def without_unit(self) -> Uncertainty:
        """The uncertainty as a series states it, which has a unit already."""
        return Uncertainty(self.coverage_factor, self.expanded, self.percent)


class Instrument(Struct, frozen=True, forbid_unknown_fields=True):
    """An instrument."""

    measures: Annotated[list[Name], Meta(min_length=1, max_length=MOST_MEASURED)]
    """Names of characteristics, or of quantities, which stand for all characteristics of that quantity."""
    calibrated_until: Day | UnsetType = UNSET
    """The last day on which the calibration is valid; if left out, the instrument is never overdue."""
    uncertainty: Annotated[list[InstrumentUncertainty], Meta(max_length=MOST_MEASURED)] | UnsetType = UNSET
    """Uncertainty of the readings of each quantity, for series that state none."""
    note: LongText | UnsetType = UNSET


def instrument_flaws(document: Instrument) -> Iterator[Flaw]:
    """The flaws of an instrument, in the order of the document."""
    for number, name in enumerate(document.measures):
        if _quantity_named(name) == "category":
            text = f"{quoted(name)} is only declared, never measured. Remove it."
            yield Flaw("category-not-measured", text, f"/measures/{number}")
    if document.calibrated_until and day_of(document.calibrated_until) is None:
        yield no_such_day(document.calibrated_until, "/calibrated_until")
    first: dict[Quantity, int] = {}
    for number, each in enumerate(document.uncertainty or ()):
        at = f"/uncertainty/{number}"
        yield from _unit_flaws(each, document.measures, first, at)
        yield from uncertainty_flaws(each.without_unit, at)
        if unit := UNITS.get(each.unit):
            first.setdefault(unit.quantity, number)


def _unit_flaws(
    stated: InstrumentUncertainty, measured: Sequence[str], first: Mapping[Quantity, int], at: str
) -> Iterator[Flaw]:
    """The flaw of an uncertainty's unit: unknown, of a quantity that is not measured, or of one stated before (`first`)."""
    unit = UNITS.get(stated.unit)
    if unit is None:
        remedy = did_you_mean(stated.unit, UNITS) or " `GET /v1/units` lists them."
        yield Flaw("unknown-unit", f"{quoted(stated.unit)} is not a known unit.{remedy}", f"{at}/unit")
        return
    known = [_quantity_named(name) for name in measured]
    # A name that a grade defines is of a quantity that only the grade states, so it may be of any.
    if None not in known and unit.quantity not in known:
        text = (
            f"{quoted(stated.unit)} is a unit of {in_words(unit.quantity)}, and the instrument measures "
            f"{listed(measured, 'and')}. Correct the unit, or add to `measures`."
        )
        yield Flaw("unit-of-other-quantity", text, f"{at}/unit")
    elif unit.quantity in first:
        text = f"An uncertainty of {in_words(unit.quantity)} is already given at /uncertainty/{first[unit.quantity]}."
        yield Flaw("uncertainty-twice", f"{text} Remove one of the two.", f"{at}/unit")


def _quantity_named(name: str) -> Quantity | None:
    """The quantity of a name of the vocabulary, or the name itself if it is a quantity; None for a name of a grade."""
    if name in VOCABULARY:
        return VOCABULARY[name].quantity
    return next((quantity for quantity in QUANTITIES if quantity == name), None)


def measuring_flaws(name: str, instrument: Instrument, batch: Batch, known: Characteristics) -> Iterator[Flaw]:
    """The flaws of a batch's series that the instrument cannot have measured.

    name   of the instrument
    known  characteristics of the grade, by name; a series of another one is a flaw that is found elsewhere
    """
    for number, series in enumerate(batch.series or ()):
        of = known.get(series.characteristic)
        if of and not {of.name, of.quantity} & set(instrument.measures):
            text = (
                f"Instrument {quoted(name)} does not measure {of.words}; it measures {listed(instrument.measures, 'and')}. "
                "Send these readings in a batch of their own with the right instrument, or correct the instrument's `measures`."
            )
            yield Flaw("not-measured-by-instrument", text, f"/series/{number}/characteristic")


def marks_on(batch: Batch, instrument: Instrument, version: int, today: date, known: Characteristics) -> Marks:
    """What a version of its instrument adds to a batch without flaws: overdue calibration, and uncertainties.

    today  the day on which the batch is recorded; used where the batch does not state when it was measured
    known  characteristics of the grade, by name

    The day of measurement is that of the local calendar, in the UTC offset in which `measured_at` is written.
    """
    # The newest version applies also to readings taken before it was written. Versions are no history of calibrations:
    # a date that was mistyped and then corrected would otherwise mark readings that it never should have marked.
    day = today if isinstance(batch.measured_at, UnsetType) else batch.measured_at.date()
    last = day_of(instrument.calibrated_until) if instrument.calibrated_until else None
    found = [
        SeriesUncertainty(number, uncertainty)
        for number, series in enumerate(batch.series or ())
        if series.uncertainty is UNSET and (uncertainty := _uncertainty_of(series, instrument, known[series.characteristic]))
    ]
    return Marks(version, "overdue" if last and day > last else UNSET, found or UNSET)


def _uncertainty_of(series: Series, instrument: Instrument, of: CompiledCharacteristic) -> Uncertainty | None:
    """The instrument's uncertainty in the series' unit; None where it states none, or none that can be converted.

    One stated in another unit is converted exactly and rounded once, to the nearest double.
    """
    unit = UNITS[series.unit]
    stated = next((each for each in instrument.uncertainty or () if UNITS[each.unit].quantity == unit.quantity), None)
    if stated is None or of.quantity == "count":
        return None
    if isinstance(stated.expanded, UnsetType):
        return stated.without_unit
    # 1/(x ± u) is not symmetric about 1/x, so for readings in a reciprocal unit only a percentage can be used.
    if of.conversions[series.unit].turned_round:
        return None
    expanded = float(reported(exact(stated.expanded) * UNITS[stated.unit].factor / unit.factor))
    return Uncertainty(stated.coverage_factor, expanded) if is_in_range(expanded) else None
