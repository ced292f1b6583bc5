"""Evidence → a prepared lot that requirements judge, or all flaws in the evidence at once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import chain
from typing import Literal

from msgspec import UnsetType

from service.engine.characteristics import (
    NO_PRECAUTIONS,
    CompiledCharacteristic,
    ExpandedUncertainty,
    PickedFrom,
    Readings,
    expanded_of,
    sent_unit_of,
)
from service.engine.documents import (
    Amount,
    Declarable,
    Evidence,
    Flaw,
    FlawedDocumentError,
    LotToDraw,
    Reason,
    Series,
    gathered,
    is_in_range,
)
from service.engine.documents import Lot as LotDocument
from service.engine.lot.counting import count_flaws, counts_of
from service.engine.lot.dating import date_flaws, dates_of
from service.engine.lot.doubts import doubts_on
from service.engine.lot.inspecting import inspections_flaws
from service.engine.lot.lot import Lot, SampleReadings
from service.engine.lot.questions import LotQuestions
from service.engine.lot.remarks import RemarkedReadings, apply_remark_rules, places_not_struck, without_struck
from service.engine.lot.series import SentSeries, sent
from service.engine.lot.series_flaws import column_flaws, out_of_range, series_flaws, unknown_characteristic
from service.engine.lot.staging import is_second, second_stage, stage_order_flaws
from service.engine.numbers import amount_unit_flaws, column_of, in_base_unit, joined
from service.engine.sampling import LotSize

Characteristics = Mapping[str, CompiledCharacteristic]
MEMBERS = Evidence.__struct_fields__
"""In the order in which flaws are reported."""


def prepare(
    characteristics: Characteristics,
    derived: Sequence[CompiledCharacteristic],
    requirements: Sequence[LotQuestions],
    evidence: Evidence,
    series: Sequence[SentSeries],
) -> Lot:
    """The prepared lot, with all values exact and in the units of the grade.

    characteristics  of the compiled grade, by name
    derived          those derived ones among them that a requirement needs
    requirements     of the compiled grade
    series           of the evidence, by `sent`

    Raises FlawedDocumentError with pointers into the evidence document.
    """
    of_series = chain.from_iterable(series_flaws(each, characteristics) for each in series)
    of_lot = chain(
        lot_flaws(evidence.lot, "/lot"), inspections_flaws(evidence.lot.inspections, requirements, "/lot/inspections")
    )
    of_others = chain(_declaration_flaws(evidence, characteristics), _requirement_flaws(evidence, requirements))
    # All flaws are raised before anything is derived: pairing takes series whose units and values are known to be good.
    _raise_any(chain(of_lot, of_series, of_others))
    gather = partial(_sample_readings, characteristics)
    first = gather([each for each in series if not is_second(each)], derived, SampleReadings())
    lot = Lot(lot_size_of(evidence.lot), first.by_characteristic, _declared(evidence), dates_of(evidence), counts_of(evidence))
    lot = lot._replace(outside_marks=first.outside_marks, doubts=first.doubts)
    # Whether a second sample was called for is found by judging the first one, so that flaw is not looked for here.
    if not any(is_second(each) for each in series):
        return lot
    _raise_any(stage_order_flaws(series, derived))
    return lot._replace(second=second_stage(series, first, derived, gather))


def own_flaws(evidence: Evidence) -> list[Flaw]:
    """The flaws of evidence that do not depend on a grade, in the order of the document. Counts do, so they are not checked."""
    of_series = chain.from_iterable(column_flaws(each, None) for each in sent(evidence))
    # Each event that is named is passed as known: only days and repetitions can be checked without a grade.
    of_dates = date_flaws(evidence, {each.event for each in evidence.dates or ()})
    return gathered(chain(lot_flaws(evidence.lot, "/lot"), of_series, _declaration_flaws(evidence, None), of_dates))


def _sample_readings(
    characteristics: Characteristics,
    series: Sequence[SentSeries],
    derived: Sequence[CompiledCharacteristic],
    known: SampleReadings,
) -> SampleReadings:
    """The readings of these series, of `derived` calculated from them, and those `known` already.

    Raises FlawedDocumentError where readings cannot be paired or divided.
    """
    found = _by_characteristic(series, characteristics)
    readings = dict(known.by_characteristic)
    readings |= {name: remarked.in_statistics for name, (remarked, _) in found.items() if remarked.in_statistics}
    derivations = [(each, each.derived) for each in derived if each.derived]
    # Two steps are enough: the only derived side that compilation allows is a net of tare, whose own sides are measured.
    for is_second_step in (False, True):
        step = [pair for pair in derivations if any(side.derived for side in pair[0].sides) is is_second_step]
        _raise_any(flaw for each, derivation in step for flaw in derivation.flaws(each, readings))
        readings |= {each.name: made for each, derivation in step if (made := derivation.readings(each, readings))}
    outside_marks = {name: remarked.outside_marks for name, (remarked, _) in found.items() if remarked.outside_marks}
    doubts = {name: doubts for name, (_, doubts) in found.items() if doubts}
    return SampleReadings(readings, {**known.outside_marks, **outside_marks}, {**known.doubts, **doubts})


def lot_flaws(lot: LotDocument | LotToDraw, at: str) -> Iterator[Flaw]:
    """The flaws in what is stated of the lot: unit and range of its length and of its mass."""
    stated: Sequence[tuple[Literal["length", "mass"], Amount | UnsetType]] = (("length", lot.length), ("mass", lot.mass))
    for quantity, amount in stated:
        if not isinstance(amount, UnsetType):
            what = f"the {quantity} of the lot is a {quantity}"
            yield from amount_unit_flaws(amount, (quantity,), what, f"{at}/{quantity}")
            if not is_in_range(amount.value):
                yield out_of_range(amount.value, f"{at}/{quantity}/value")


def lot_size_of(lot: LotDocument | LotToDraw) -> LotSize:
    """The size of a lot without flaws, and its inspection severity, for sampling plans; length in metres, mass in kilograms."""
    length, mass = (None if isinstance(amount, UnsetType) else in_base_unit(amount) for amount in (lot.length, lot.mass))
    size = LotSize(lot.size or None, length, mass, lot.inspection or "normal")
    if isinstance(lot.inspections, UnsetType):
        return size
    return size._replace(
        by_class={each.class_: each.inspection for each in lot.inspections if each.class_},
        by_requirement={each.requirement: each.inspection for each in lot.inspections if each.requirement},
    )


def _raise_any(flaws: Iterable[Flaw]) -> None:
    """Raise FlawedDocumentError with the flaws in the order of the document, if there are any."""
    # The sort is stable: flaws of one item stay in the order in which its checks found them.
    if found := gathered(flaws):
        raise FlawedDocumentError(sorted(found, key=_item_of))


def _item_of(flaw: Flaw) -> tuple[int, int]:
    """(index of the member in evidence, index of the item in the member) to which the pointer of a flaw leads."""
    _, member, number, *_ = f"{flaw.at}/0".split("/")
    return MEMBERS.index(member), int(number) if number.isdigit() else 0


def _by_characteristic(
    series: Sequence[SentSeries], characteristics: Characteristics
) -> dict[str, tuple[RemarkedReadings, Sequence[Reason]]]:
    """By characteristic, its readings after the grade's rules on remarks, and the reasons for which they cannot be judged.

    All series of one characteristic are joined, in the order of the document. A series without values has no effect.
    """
    parts: dict[str, list[SentSeries]] = {}
    for each in series:
        if each.series.values:
            parts.setdefault(each.series.characteristic, []).append(each)
    return {name: _readings_and_doubts(found, characteristics[name]) for name, found in parts.items()}


def _readings_and_doubts(parts: Sequence[SentSeries], of: CompiledCharacteristic) -> tuple[RemarkedReadings, Sequence[Reason]]:
    """The readings of one characteristic, and the reasons for which they cannot be judged."""
    if any(any(each.series.remarks or ()) for each in parts):
        return _remarked_and_doubts(parts, of)
    readings = _joined_readings(parts, of)
    remarked = RemarkedReadings(readings, readings)
    if of.precautions is NO_PRECAUTIONS:
        return remarked, ()
    return remarked, doubts_on(remarked, [(each.number, each.series) for each in parts], of)


def _remarked_and_doubts(parts: Sequence[SentSeries], of: CompiledCharacteristic) -> tuple[RemarkedReadings, Sequence[Reason]]:
    """`_readings_and_doubts` where some readings have remarks."""
    # A struck reading is as if it had not been sent, for pairing too; the others keep the places at which they were sent.
    places = [(each.number, place) for each in parts for place in places_not_struck(each.series)]
    if not places:
        return RemarkedReadings(None, None), ()
    left = [(each.number, without_struck(each.series)) for each in parts]
    left = [(number, series) for number, series in left if series.values]
    remarks = [remark for _, series in left for remark in series.remarks or [""] * len(series.values)]
    present = _joined_readings([SentSeries(number, series, None) for number, series in left], of, PickedFrom(places))
    remarked = apply_remark_rules(present, remarks, of)
    return remarked, doubts_on(remarked, left, of)


def _joined_readings(
    parts: Sequence[SentSeries], characteristic: CompiledCharacteristic, origin: PickedFrom | None = None
) -> Readings:
    """The readings of all series of one characteristic, in its unit.

    origin  the places at which the readings were sent, where struck ones were taken out
    """
    columns = []
    for _, series, doubles in parts:
        conversion = characteristic.conversions[series.unit]
        columns.append(column_of(series.values, doubles, conversion.factor, turned_round=conversion.turned_round))
    # Names, specimens and uncertainties stay None unless a series states some: most lots state none, and long ones gain.
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
    readings.sent_unit = sent_unit_of(characteristic, {each.series.unit for each in parts})
    return readings


def _stated(series: Series, characteristic: CompiledCharacteristic) -> ExpandedUncertainty | None:
    """The expanded uncertainty of the series' readings, in the characteristic's unit; None where none is stated."""
    if isinstance(series.uncertainty, UnsetType):
        return None
    return expanded_of(series.uncertainty, characteristic.conversions[series.unit].factor)


def _names(series: Series) -> Sequence[str | None]:
    """The package id of each reading; None for a reading without one, which counts as a package of its own."""
    return series.packages or [None] * len(series.values)


def _specimens(series: Series) -> Sequence[int]:
    """For each reading, the number of packages of which its specimen is made up."""
    return [series.packages_per_specimen or 1] * len(series.values)


def _declared(evidence: Evidence) -> dict[str, tuple[int, Declarable]]:
    """(index in the evidence, value) by characteristic."""
    return {each.characteristic: (number, each.value) for number, each in enumerate(evidence.declared or ())}


def _declaration_flaws(evidence: Evidence, characteristics: Characteristics | None) -> Iterator[Flaw]:
    """The flaws of declarations: an unknown characteristic, a second declaration of one, a number out of range.

    characteristics  of the grade, by name; None while the grade is not known
    """
    first: dict[str, int] = {}
    for number, each in enumerate(evidence.declared or ()):
        at = f"/declared/{number}"
        if characteristics is not None and each.characteristic not in characteristics:
            yield unknown_characteristic(each.characteristic, characteristics, f"{at}/characteristic")
        elif each.characteristic in first:
            text = (
                f"`{each.characteristic}` is already declared at /declared/{first[each.characteristic]}. Remove one of the two."
            )
            yield Flaw("declared-twice", text, f"{at}/characteristic")
        first.setdefault(each.characteristic, number)
        if isinstance(each.value, float | int) and not is_in_range(each.value):
            yield out_of_range(each.value, f"{at}/value")


def _requirement_flaws(evidence: Evidence, requirements: Sequence[LotQuestions]) -> Iterator[Flaw]:
    """The flaws of dates and counts, and those that each requirement finds; equal ones are reported once."""
    if evidence.dates:
        yield from date_flaws(evidence, {event for requirement in requirements for event in requirement.events})
    if evidence.counts:
        yield from count_flaws(evidence, (each for requirement in requirements for each in requirement.asked))
    # Several requirements on one characteristic find the same flaw at the same place.
    reported: set[tuple[str, str]] = set()
    for flaw in chain.from_iterable(requirement.flaws_in(evidence) for requirement in requirements):
        if (flaw.code, flaw.at) not in reported:
            yield flaw
        reported.add((flaw.code, flaw.at))
