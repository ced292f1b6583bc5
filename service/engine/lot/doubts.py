"""Why readings decide nothing yet: not plausible, by another method, from an instrument overdue, or remarked without a rule."""

from collections.abc import Sequence
from fractions import Fraction

from service.engine.characteristics import Bounds, CompiledCharacteristic, LimitSide, Pointers
from service.engine.documents import MOST_POINTERS, Reason, Series, counted, quoted
from service.engine.lot.remarks import RemarkedReadings
from service.engine.numbers import decimals_of, plain, reported, with_unit

EXTREMES = {"lower": "least", "upper": "greatest"}


def doubts_on(taken: RemarkedReadings, series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Sequence[Reason]:
    """Why the readings that are in decide nothing yet; none where they can be taken as they stand.

    series  (number in the evidence, series) that they came from
    """
    found = (_implausible(taken, of), _other_method(series, of), _overdue(series, of), taken.untold)
    return [reason for reason in found if reason]


def implausible_reading(value: Fraction, of: CompiledCharacteristic, at: Pointers) -> Reason | None:
    """Why one reading, in the characteristic's unit, decides nothing; None where it is plausible."""
    lower, upper = of.precautions.plausible or (None, None)
    if (lower is None or value >= lower) and (upper is None or value <= upper):
        return None
    side, standing = (bounds := _bounds(of)).nearest(value), bounds.nearest(value).standing(value)
    text = f"This {of.words}, {standing.shown}, {standing.where}. Take it again, or send it with its lot and remark it there."
    return Reason("implausible", text, _parameters(1, standing.value, of), side.pointer, at.first, at.total)


def other_method(told: str | None, of: CompiledCharacteristic, at: Pointers) -> Reason | None:
    """Why a reading by this method, None where none is told, decides nothing; None where it is the one asked for."""
    asked = of.precautions.method
    if asked is None or told == asked:
        return None
    by = f"was taken by {quoted(told)}" if told else "is told without its method"
    text = f"The {of.words} {by}, and the grade asks for {quoted(asked)}. Take it by that method, and say so in `method`."
    parameters = {"asked": asked} | ({"method": told} if told else {})
    return Reason("other-method", text, parameters, f"{of.pointer}/method", at.first, at.total)


def _implausible(taken: RemarkedReadings, of: CompiledCharacteristic) -> Reason | None:
    """Readings are outside what is plausible, and nobody has confirmed them."""
    readings = taken.counting
    if of.precautions.plausible is None or readings is None:
        return None
    outside = readings.column.outside(*of.precautions.plausible)
    numbers = [number for number in outside if number not in taken.confirmed]
    if not numbers:
        return None
    bounds = _bounds(of)
    worst = readings.column.picked(numbers).worst(*bounds.limits, 0)
    side = bounds.nearest(worst)
    standing, at = side.standing(worst), readings.pointers(numbers, "readings")
    several = f"{counted(len(numbers), 'reading')} of {of.words} are hardly right; the farthest"
    what, them = (f"The {of.words}", "it") if len(numbers) == 1 else (several, "each")
    text = f"{what}, {standing.shown}, {standing.where}. Remark {them} `confirmed` where it is right, or else `struck`."
    parameters = _parameters(len(numbers), standing.value, of)
    return Reason("implausible", text, parameters, side.pointer, at.first, at.total)


def _bounds(of: CompiledCharacteristic) -> Bounds:
    """What is plausible, as limits to stand beside."""
    lower, upper = of.precautions.plausible or (None, None)
    return Bounds(_side("lower", lower, of), _side("upper", upper, of))


def _side(name: str, limit: Fraction | None, of: CompiledCharacteristic) -> LimitSide | None:
    if limit is None:
        return None
    words = f"the {EXTREMES[name]} plausible {with_unit(plain(limit), of.symbol)}"
    return LimitSide(name, limit, f"{of.pointer}/plausible/{name}", reported(limit), of.symbol, words, decimals_of(limit))


def _parameters(count: int, worst: float, of: CompiledCharacteristic) -> dict[str, object]:
    """What a reason on implausible readings rests on."""
    lower, upper = of.precautions.plausible or (None, None)
    sides = {name: reported(limit) for name, limit in (("lower", lower), ("upper", upper)) if limit is not None}
    return {"readings": count, "worst": worst, **sides, "unit": of.symbol}


def _other_method(series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Reason | None:
    """Series that were taken by another method, or that tell none."""
    if of.precautions.method is None:
        return None
    other = [(number, each) for number, each in series if each.method != of.precautions.method]
    if not other:
        return None
    pointers = [f"/series/{number}" for number, _ in other]
    return other_method(other[0][1].method or None, of, Pointers(pointers[:MOST_POINTERS], len(pointers)))


def _overdue(series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Reason | None:
    """Series from an instrument overdue for calibration, where the grade asks for one that is not."""
    if not of.precautions.is_calibrated:
        return None
    overdue = [(number, each) for number, each in series if each.calibration == "overdue"]
    if not overdue:
        return None
    readings = sum(len(each.values) for _, each in overdue)
    from_it = f"{counted(readings, 'reading')} of {of.words} {'is' if readings == 1 else 'are'} from an instrument overdue"
    again = "it" if readings == 1 else "them"
    text = f"{from_it} for calibration, and the grade takes none such. Strike {again}, and measure again with one that is not."
    pointers = [f"/series/{number}" for number, _ in overdue]
    rule = f"{of.pointer}/overdue_calibration"
    return Reason("calibration-overdue", text, {"readings": readings}, rule, pointers[:MOST_POINTERS], len(pointers))
