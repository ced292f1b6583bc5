"""Evidence → a lot ready to be judged, or every flaw in it at once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Literal, NamedTuple

from msgspec import UNSET, UnsetType

from service.engine.characteristics import (
    NO_PRECAUTIONS,
    CompiledCharacteristic,
    ExpandedUncertainty,
    PickedFrom,
    Readings,
    expanded_of,
    pointer,
    symbols_for,
    uncertainty_flaws,
)
from service.engine.documents import (
    CONTROL,
    Amount,
    Declarable,
    Evidence,
    Flaw,
    FlawedDocumentError,
    LotToDraw,
    Reason,
    Series,
    Uncertainty,
    counted,
    did_you_mean,
    gathered,
    is_in_range,
    listed,
    quoted,
    written,
)
from service.engine.documents import Lot as LotDocument
from service.engine.lot.counting import count_flaws, counts_of
from service.engine.lot.dating import date_flaws, dates_of
from service.engine.lot.doubts import doubts_on
from service.engine.lot.inspecting import inspections_flaws
from service.engine.lot.lot import Lot, SampleReadings
from service.engine.lot.questions import LotQuestions
from service.engine.lot.remarks import RemarkedReadings, column_flaws, is_struck, standing, taken, without_struck
from service.engine.lot.staging import is_second, order_flaws, second_stage
from service.engine.numbers import LONG, amount_unit_flaws, column_of, in_base_unit, joined, unit_flaw
from service.engine.sampling import LotSize

if TYPE_CHECKING:
    from service.engine.numbers.columns.long import Doubles


class SentSeries(NamedTuple):
    """A series as it was sent: its number, and its values as an array too where they are many."""

    number: int
    series: Series
    doubles: "Doubles | None"


Characteristics = Mapping[str, CompiledCharacteristic]
MEMBERS = Evidence.__struct_fields__
MOST_LISTED = 20


def sent(evidence: Evidence) -> list[SentSeries]:
    """The series of the evidence; the long ones as arrays, made once for all that need them."""
    return [
        SentSeries(number, each, _doubles(each.values) if len(each.values) >= LONG else None)
        for number, each in enumerate(evidence.series or ())
    ]


def _doubles(values: list[float]) -> "Doubles":
    from service.engine.numbers.columns.long import doubles_of  # numpy only where it pays

    return doubles_of(values)


def prepare(
    characteristics: Characteristics,
    derived: Sequence[CompiledCharacteristic],
    requirements: Sequence[LotQuestions],
    evidence: Evidence,
    series: Sequence[SentSeries],
) -> Lot:
    """The lot that the evidence tells of.

    characteristics  of the compiled grade, by name
    derived          those of them that a requirement needs and that come from measured ones
    requirements     of the compiled grade
    series           of the evidence, by `sent`

    Raises FlawedDocumentError with pointers into the evidence document.
    """
    found = chain.from_iterable(_series_flaws(each, characteristics) for each in series)
    of_lot = chain(
        lot_flaws(evidence.lot, "/lot"), inspections_flaws(evidence.lot.inspections, requirements, "/lot/inspections")
    )
    of_each = chain(_declaration_flaws(evidence, characteristics), _requirement_flaws(evidence, requirements))
    _raise_any(chain(of_lot, found, of_each))
    gather = partial(_drawn, characteristics)
    first = gather([each for each in series if not is_second(each)], derived, SampleReadings())
    lot = Lot(lot_size_of(evidence.lot), first.by_characteristic, _declared(evidence), dates_of(evidence), counts_of(evidence))
    lot = lot._replace(outside_marks=first.outside_marks, doubts=first.doubts)
    if not any(is_second(each) for each in series):
        return lot
    _raise_any(order_flaws(series, derived))
    return lot._replace(second=second_stage(series, first, derived, gather))


def own_flaws(evidence: Evidence) -> list[Flaw]:
    """The flaws that evidence has by itself, whatever the grade, in the order of the document; counts are told by the grade."""
    of_series = chain.from_iterable(_column_flaws(each, None) for each in sent(evidence))
    of_dates = date_flaws(evidence, {each.event for each in evidence.dates or ()})
    return gathered(chain(lot_flaws(evidence.lot, "/lot"), of_series, _declaration_flaws(evidence, None), of_dates))


def _drawn(
    characteristics: Characteristics,
    series: Sequence[SentSeries],
    derived: Sequence[CompiledCharacteristic],
    besides: SampleReadings,
) -> SampleReadings:
    """The readings of these series and what is derived from them, beside what is known already; raises what is in the way."""
    found = _by_characteristic(series, characteristics)
    readings = {**besides.by_characteristic, **{name: each.kept for name, (each, _) in found.items() if each.kept}}
    derivations = [(each, each.derived) for each in derived if each.derived]
    for is_second_step in (False, True):
        step = [pair for pair in derivations if any(side.derived for side in pair[0].sides) is is_second_step]
        _raise_any(flaw for each, derivation in step for flaw in derivation.flaws(each, readings))
        readings |= {each.name: made for each, derivation in step if (made := derivation.readings(each, readings))}
    outside_marks = {name: each.outside_marks for name, (each, _) in found.items() if each.outside_marks}
    doubts = {name: doubts for name, (_, doubts) in found.items() if doubts}
    return SampleReadings(readings, {**besides.outside_marks, **outside_marks}, {**besides.doubts, **doubts})


def lot_flaws(lot: LotDocument | LotToDraw, at: str) -> Iterator[Flaw]:
    """What is wrong with what is told of the lot: the unit and the range of its length and of its mass."""
    told: Sequence[tuple[Literal["length", "mass"], Amount | UnsetType]] = (("length", lot.length), ("mass", lot.mass))
    for quantity, amount in told:
        if not isinstance(amount, UnsetType):
            what = f"the {quantity} of the lot is a {quantity}"
            yield from amount_unit_flaws(amount, (quantity,), what, f"{at}/{quantity}")
            if not is_in_range(amount.value):
                yield out_of_range(amount.value, f"{at}/{quantity}/value")


def lot_size_of(lot: LotDocument | LotToDraw) -> LotSize:
    """How large the lot is, for plans to ask; it has no flaws."""
    length, mass = (None if isinstance(told, UnsetType) else in_base_unit(told) for told in (lot.length, lot.mass))
    size = LotSize(lot.size or None, length, mass, lot.inspection or "normal")
    if isinstance(lot.inspections, UnsetType):
        return size
    return size._replace(
        by_class={each.class_: each.inspection for each in lot.inspections if each.class_},
        by_requirement={each.requirement: each.inspection for each in lot.inspections if each.requirement},
    )


def _raise_any(flaws: Iterable[Flaw]) -> None:
    """Gather them, and raise them if there are any, in the order of the document."""
    if found := gathered(flaws):
        raise FlawedDocumentError(sorted(found, key=_item_of))


def _item_of(flaw: Flaw) -> tuple[int, int]:
    """(number of the member of evidence, number of the item in it) that a flaw stands in, by its pointer."""
    _, member, number, *_ = f"{flaw.at}/0".split("/")
    return MEMBERS.index(member), int(number) if number.isdigit() else 0


def _by_characteristic(
    series: Sequence[SentSeries], characteristics: Characteristics
) -> dict[str, tuple[RemarkedReadings, Sequence[Reason]]]:
    """All series of one characteristic add up, in the order of the document; those without a value are nothing.

    By name, the readings as the grade takes them, and why they decide nothing yet.
    """
    parts: dict[str, list[SentSeries]] = {}
    for each in series:
        if each.series.values:
            parts.setdefault(each.series.characteristic, []).append(each)
    return {name: _taken(found, characteristics[name]) for name, found in parts.items()}


def _taken(parts: Sequence[SentSeries], of: CompiledCharacteristic) -> tuple[RemarkedReadings, Sequence[Reason]]:
    """The readings of one characteristic, and why they decide nothing yet."""
    if any(any(each.series.remarks or ()) for each in parts):
        return _remarked(parts, of)
    readings = _added_up(parts, of)
    found = RemarkedReadings(readings, readings)
    if of.precautions is NO_PRECAUTIONS:
        return found, ()
    return found, doubts_on(found, [(each.number, each.series) for each in parts], of)


def _remarked(parts: Sequence[SentSeries], of: CompiledCharacteristic) -> tuple[RemarkedReadings, Sequence[Reason]]:
    """The same where some readings have remarks; what was struck is as if it had not been sent."""
    places = [(each.number, place) for each in parts for place in standing(each.series)]
    if not places:
        return RemarkedReadings(None, None), ()
    left = [(each.number, without_struck(each.series)) for each in parts]
    left = [(number, series) for number, series in left if series.values]
    remarks = [remark for _, series in left for remark in series.remarks or [""] * len(series.values)]
    present = _added_up([SentSeries(number, series, None) for number, series in left], of, PickedFrom(places))
    found = taken(present, remarks, of)
    return found, doubts_on(found, left, of)


def _added_up(
    parts: Sequence[SentSeries], characteristic: CompiledCharacteristic, origin: PickedFrom | None = None
) -> Readings:
    """The readings of one characteristic."""
    columns = []
    for _, series, doubles in parts:
        conversion = characteristic.conversions[series.unit]
        columns.append(column_of(series.values, doubles, conversion.factor, turned_round=conversion.turned_round))
    names: list[str | None] | None = None
    if any(each.series.packages for each in parts):
        names = list(chain.from_iterable(_names(each.series) for each in parts))
    specimens: list[int] | None = None
    if any(each.series.packages_per_specimen for each in parts):
        specimens = list(chain.from_iterable(_specimens(each.series) for each in parts))
    counts = [(each.number, len(each.series.values)) for each in parts]
    readings = Readings(joined(columns), counts, names, specimens=specimens, origin=origin)
    if any(each.series.uncertainty for each in parts):
        readings.uncertainties = [_stated(each.series, characteristic) for each in parts]
    return readings


def _stated(series: Series, characteristic: CompiledCharacteristic) -> ExpandedUncertainty | None:
    """The uncertainty of the series' readings, in the characteristic's unit."""
    if isinstance(series.uncertainty, UnsetType):
        return None
    return expanded_of(series.uncertainty, characteristic.conversions[series.unit].factor)


def _names(series: Series) -> Sequence[str | None]:
    """Each reading's package, None for one of its own."""
    return series.packages or [None] * len(series.values)


def _specimens(series: Series) -> Sequence[int]:
    """Of how many packages each reading's specimen is made up."""
    return [series.packages_per_specimen or 1] * len(series.values)


def _declared(evidence: Evidence) -> dict[str, tuple[int, Declarable]]:
    """(number in the evidence, value) by characteristic."""
    return {each.characteristic: (number, each.value) for number, each in enumerate(evidence.declared or ())}


def _series_flaws(sent: SentSeries, characteristics: Characteristics) -> Iterator[Flaw]:
    """What is wrong with a series: its characteristic, its unit, its packages, its values."""
    series, at = sent.series, f"/series/{sent.number}"
    if characteristic := characteristics.get(series.characteristic):
        yield from measurable_flaws(characteristic, f"{at}/characteristic")
        if characteristic.unit and not characteristic.derived:
            yield from unit_flaws(series.unit, characteristic, f"{at}/unit")
    else:
        yield unknown_characteristic(series.characteristic, characteristics, f"{at}/characteristic")
    yield from _column_flaws(sent, characteristic)


def _column_flaws(sent: SentSeries, characteristic: CompiledCharacteristic | None) -> Iterator[Flaw]:
    """What is wrong with the columns of a series; where the characteristic is not known, what is wrong with them anyway."""
    series, at = sent.series, f"/series/{sent.number}"
    yield from _package_flaws(series, f"{at}/packages")
    if not isinstance(series.uncertainty, UnsetType):
        yield from _uncertainty_flaws(series, series.uncertainty, characteristic, f"{at}/uncertainty")
    yield from column_flaws(series, at)
    if not _all_plainly_good(sent, characteristic):
        for place, value in enumerate(series.values):
            if not is_struck(series, place):
                yield from reading_flaws(value, series.unit, characteristic, pointer((sent.number, place)))


def _uncertainty_flaws(
    series: Series, uncertainty: Uncertainty, characteristic: CompiledCharacteristic | None, at: str
) -> Iterator[Flaw]:
    """How it is stated; a number in a unit that is turned round comes to no number in the other."""
    yield from uncertainty_flaws(uncertainty, at)
    conversion = characteristic.conversions.get(series.unit) if characteristic else None
    if characteristic and conversion and conversion.turned_round and uncertainty.expanded is not UNSET:
        text = f"Readings in {series.unit} are turned round into {characteristic.symbol}. State their uncertainty by `percent`."
        yield Flaw("uncertainty-turned-round", text, f"{at}/expanded", f"{characteristic.pointer}/unit")


def unknown_characteristic(name: str, known: Iterable[str], at: str) -> Flaw:
    """The grade has no characteristic of this name."""
    remedy = did_you_mean(name, known) or f" It has {listed(list(known)[:MOST_LISTED], 'and')}."
    text = f"The grade has no characteristic {quoted(name)}.{remedy}"
    return Flaw("unknown-characteristic", text, at)


def measurable_flaws(characteristic: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """Readings come only of what is measured: not of a category, nor of what is derived."""
    if characteristic.quantity == "category":
        text = f"{characteristic.name} is only declared, never measured. Give it in `declared`."
        yield Flaw("category-not-measured", text, at, characteristic.pointer)
    if characteristic.derived:
        sources = listed((each.name for each in characteristic.sources), "and")
        text = f"{characteristic.name} is worked out, not sent. Give the readings of {sources}."
        yield Flaw("derived-not-measured", text, at, f"{characteristic.pointer}/derived")


def unit_flaws(word: str, characteristic: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A reading's unit is one of the table, of the characteristic's quantity or of the reciprocal one."""
    if word not in characteristic.conversions:
        symbols = symbols_for(characteristic.quantity)
        # A count may leave its unit out, so only the characteristic is sure to stand in the grade.
        rule = characteristic.pointer if characteristic.quantity == "count" else f"{characteristic.pointer}/unit"
        yield unit_flaw(word, characteristic.name, characteristic.quantity, symbols, at, rule)


def _package_flaws(series: Series, at: str) -> Iterator[Flaw]:
    """One package id a value, each a text that can be printed."""
    if isinstance(series.packages, UnsetType):
        return
    if len(series.packages) != len(series.values):
        numbers = f"{counted(len(series.values), 'value')} and {counted(len(series.packages), 'package id')}"
        text = f"The series has {numbers}. Give one id a value, or leave `packages` out."
        yield Flaw("packages-differ-in-number", text, at)
    if any(CONTROL.search(name) for name in set(series.packages)):
        for number, name in enumerate(series.packages):
            if CONTROL.search(name):
                yield Flaw("control-character", "A package id holds a control character. Take it out.", f"{at}/{number}")


def _all_plainly_good(sent: SentSeries, characteristic: CompiledCharacteristic | None) -> bool:
    """All values are above 0 and in range, and need not be whole: then none has a flaw."""
    values = sent.series.values
    if not values or (characteristic and characteristic.quantity == "count"):
        return not values
    if sent.doubles is not None:
        low, high = float(sent.doubles.min()), float(sent.doubles.max())
    else:
        low, high = min(values), max(values)
    return low > 0 and is_in_range(low) and is_in_range(high)


def reading_flaws(value: float, unit: str, characteristic: CompiledCharacteristic | None, at: str) -> Iterator[Flaw]:
    """What is wrong with one value; of an unknown characteristic, only whether it is in range."""
    if not is_in_range(value):
        yield out_of_range(value, at)
        return
    if characteristic is None:
        return
    conversion = characteristic.conversions.get(unit)
    if value < 0 and characteristic.quantity != "ratio":
        yield negative(value, characteristic.name, at)
    elif value == 0 and conversion and conversion.turned_round:
        text = f"0 {unit} can't be turned round into {characteristic.symbol}. Leave the reading out, or correct it."
        yield Flaw("zero-turned-round", text, at, f"{characteristic.pointer}/unit")
    elif characteristic.quantity == "count" and not float(value).is_integer():
        text = f"{characteristic.name} is counted, and {written(value)} is not a whole number. Correct it."
        yield Flaw("not-whole", text, at, characteristic.pointer)


def out_of_range(value: float, at: str) -> Flaw:
    """The number is beyond what is taken."""
    text = (
        f"{value!r} is beyond the range of numbers: 0, or a magnitude from 1e-9 to 1e12. Check the unit, or correct the number."
    )
    return Flaw("beyond-range", text, at)


def negative(value: float, name: str, at: str) -> Flaw:
    """Only a ratio may be negative."""
    return Flaw("negative", f"{name} is never negative, and {written(value)} is. Correct the number.", at)


def _declaration_flaws(evidence: Evidence, characteristics: Characteristics | None) -> Iterator[Flaw]:
    """A declaration is on a characteristic of the grade, if that is known, once, and its number is in range."""
    seen: dict[str, int] = {}
    for number, each in enumerate(evidence.declared or ()):
        at = f"/declared/{number}"
        if characteristics is not None and each.characteristic not in characteristics:
            yield unknown_characteristic(each.characteristic, characteristics, f"{at}/characteristic")
        elif each.characteristic in seen:
            text = f"{each.characteristic} is declared already, at /declared/{seen[each.characteristic]}. Leave one of the two."
            yield Flaw("declared-twice", text, f"{at}/characteristic")
        seen.setdefault(each.characteristic, number)
        if isinstance(each.value, float | int) and not is_in_range(each.value):
            yield out_of_range(each.value, f"{at}/value")


def _requirement_flaws(evidence: Evidence, requirements: Sequence[LotQuestions]) -> Iterator[Flaw]:
    """Dates that none of the requirements goes by or that are no days, and what each of them finds wrong; alike ones once."""
    if evidence.dates:
        yield from date_flaws(evidence, {event for requirement in requirements for event in requirement.events})
    if evidence.counts:
        yield from count_flaws(evidence, (each for requirement in requirements for each in requirement.asked))
    seen: set[tuple[str, str]] = set()
    for flaw in chain.from_iterable(requirement.flaws_in(evidence) for requirement in requirements):
        if (flaw.code, flaw.at) not in seen:
            yield flaw
        seen.add((flaw.code, flaw.at))
