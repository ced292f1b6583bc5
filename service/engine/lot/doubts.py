"""Reasons for which readings cannot be judged: implausible, another method, an overdue instrument, a remark without a rule.

Each leaves the requirements that rest on the readings undecided, also where the lot would fail: a typing error must neither
pass a lot nor fail it.
"""

from collections.abc import Sequence
from fractions import Fraction

from service.engine.characteristics import Bounds, CompiledCharacteristic, LimitSide, Pointers
from service.engine.documents import MOST_POINTERS, Reason, Series, counted, quoted
from service.engine.lot.remarks import RemarkedReadings
from service.engine.numbers import decimals_of, plain, reported, with_unit

EXTREMES = {"lower": "least", "upper": "greatest"}


def doubts_on(remarked: RemarkedReadings, series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Sequence[Reason]:
    """The reasons for which the readings of one characteristic cannot be judged; empty where they can.

    series  (index in the evidence, series) from which they came
    """
    found = (_implausible(remarked, of), _other_method(series, of), _overdue(series, of), remarked.without_rule)
    return [reason for reason in found if reason]


def implausible_reading(value: Fraction, of: CompiledCharacteristic, at: Pointers) -> Reason | None:
    """The reason for which one reading, in the characteristic's unit, cannot be judged; None where it is plausible."""
    lower, upper = of.precautions.plausible or (None, None)
    if (lower is None or value >= lower) and (upper is None or value <= upper):
        return None
    side, standing = (bounds := _bounds(of)).nearest(value), bounds.nearest(value).standing(value)
    text = (
        f"This {of.words}, {standing.shown}, {standing.where}. "
        "Measure again, or send it with its lot and confirm it there by a remark."
    )
    return Reason("implausible", text, _parameters(1, standing.value, of), side.pointer, at.first, at.total)


def other_method(stated: str | None, of: CompiledCharacteristic, at: Pointers) -> Reason | None:
    """The reason for which a reading by this method, None if not stated, cannot be judged; None where the grade allows it."""
    asked = of.precautions.method
    # A method that is not stated is not known to be the right one, so it decides nothing either.
    if asked is None or stated == asked:
        return None
    by = f"was measured by {quoted(stated)}" if stated else "came without its method"
    text = f"The {of.words} {by}, and the grade asks for {quoted(asked)}. Measure by that method, and send it in `method`."
    parameters = {"asked": asked} | ({"method": stated} if stated else {})
    return Reason("other-method", text, parameters, f"{of.pointer}/method", at.first, at.total)


def _implausible(remarked: RemarkedReadings, of: CompiledCharacteristic) -> Reason | None:
    """The reason on implausible readings that nobody has confirmed; None where there are none."""
    # Readings outside the marks are included: a typing error there would pass at its share of the limit.
    readings = remarked.counting
    if of.precautions.plausible is None or readings is None:
        return None
    outside = readings.column.outside(*of.precautions.plausible)
    numbers = [number for number in outside if number not in remarked.confirmed]
    if not numbers:
        return None
    bounds = _bounds(of)
    worst = readings.column.picked(numbers).worst(*bounds.limits, 0)
    side = bounds.nearest(worst)
    standing, at = side.standing(worst), readings.pointers(numbers, "readings")
    several = f"{counted(len(numbers), 'reading')} of {of.words} are not plausible; the farthest"
    what, them = (f"The {of.words}", "it") if len(numbers) == 1 else (several, "each")
    text = f"{what}, {standing.shown}, {standing.where}. Remark {them} `confirmed` if it is right, or `struck` if it is not."
    parameters = _parameters(len(numbers), standing.value, of)
    return Reason("implausible", text, parameters, side.pointer, at.first, at.total)


def _bounds(of: CompiledCharacteristic) -> Bounds:
    """The plausible range as limits, so that a reading is described by them as by the limits of a requirement."""
    lower, upper = of.precautions.plausible or (None, None)
    return Bounds(_side("lower", lower, of), _side("upper", upper, of))


def _side(name: str, limit: Fraction | None, of: CompiledCharacteristic) -> LimitSide | None:
    if limit is None:
        return None
    words = f"the {EXTREMES[name]} plausible value, {with_unit(plain(limit), of.symbol)}"
    return LimitSide(name, limit, f"{of.pointer}/plausible/{name}", reported(limit), of.symbol, words, decimals_of(limit))


def _parameters(count: int, worst: float, of: CompiledCharacteristic) -> dict[str, object]:
    """The parameters of a reason on implausible readings."""
    lower, upper = of.precautions.plausible or (None, None)
    sides = {name: reported(limit) for name, limit in (("lower", lower), ("upper", upper)) if limit is not None}
    return {"readings": count, "worst": worst, **sides, "unit": of.symbol}


def _other_method(series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Reason | None:
    """The reason on series by another method than the grade's, or without a stated one; None where there are none."""
    if of.precautions.method is None:
        return None
    other = [(number, sent) for number, sent in series if sent.method != of.precautions.method]
    if not other:
        return None
    # The text names the method of the first one; the pointers list them all.
    pointers = [f"/series/{number}" for number, _ in other]
    return other_method(other[0][1].method or None, of, Pointers(pointers[:MOST_POINTERS], len(pointers)))


def _overdue(series: Sequence[tuple[int, Series]], of: CompiledCharacteristic) -> Reason | None:
    """The reason on series from an instrument overdue for calibration, where the grade does not allow them; else None."""
    if not of.precautions.is_calibrated:
        return None
    overdue = [(number, sent) for number, sent in series if sent.calibration == "overdue"]
    if not overdue:
        return None
    readings = sum(len(sent.values) for _, sent in overdue)
    from_it = f"{counted(readings, 'reading')} of {of.words} {'is' if readings == 1 else 'are'} from an instrument overdue"
    again = "it" if readings == 1 else "them"
    text = (
        f"{from_it} for calibration, and the grade does not allow that. "
        f"Strike {again}, and measure again with a calibrated instrument."
    )
    pointers = [f"/series/{number}" for number, _ in overdue]
    rule = f"{of.pointer}/overdue_calibration"
    return Reason("calibration-overdue", text, {"readings": readings}, rule, pointers[:MOST_POINTERS], len(pointers))
