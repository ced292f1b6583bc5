"""Control limits of individuals and moving ranges, and the signals that break them.

Each lot's mean is an individual, and limits come from the differences of neighbours: lots differ by more than their readings
do, so limits from the readings within lots would be exceeded by nearly every lot.
Source of the constants: d2 = 1.128 and D4 = 3.267 for ranges of two, as in Shewhart's tables (from memory; 1.128 is 2/√π to
three decimals, which a test holds). Source of the run of eight: the Western Electric rules (from memory).
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from msgspec import Struct

from service.engine.numbers import brief, decimals_shown, figures_beside, side_of, with_unit

# Fractions of the printed decimals: limits are compared as the tables give them, not by a double near to them.
D2 = Fraction(1128, 1000)
D4 = Fraction(3267, 1000)
RUN = 8
"""Number of lots in a row on one side of the centre that is a signal."""


class ControlLimits(Struct, frozen=True, kw_only=True):
    """Limits of lots' means that vary by chance only: 3 standard deviations, estimated from the mean moving range."""

    centre: float
    """The mean of the lots' means."""
    lower: float
    upper: float
    mean_moving_range: float
    moving_range_upper: float


class Signal(Struct, frozen=True, kw_only=True):
    """A pattern that is rare by chance alone: a code, a sentence, and the lots that it concerns."""

    code: str
    text: str
    lots: Sequence[str]


class Control(Struct, frozen=True):
    """The control limits, exact."""

    centre: Fraction
    range: Fraction
    """The mean moving range."""

    @property
    def lower(self) -> Fraction:
        """The lower limit of a mean."""
        return self.centre - 3 * self.range / D2

    @property
    def upper(self) -> Fraction:
        """The upper limit of a mean."""
        return self.centre + 3 * self.range / D2

    @property
    def range_upper(self) -> Fraction:
        """The upper limit of a moving range."""
        return D4 * self.range

    def document(self) -> ControlLimits:
        """The limits as reported, each figure rounded once to the nearest double."""
        return ControlLimits(
            centre=float(self.centre),
            lower=float(self.lower),
            upper=float(self.upper),
            mean_moving_range=float(self.range),
            moving_range_upper=float(self.range_upper),
        )


def control_of(means: Sequence[Fraction]) -> Control | None:
    """The limits from these means, in the order of the lots; None for fewer than two."""
    if len(means) < 2:  # a range is a difference of two
        return None
    ranges = [abs(after - before) for before, after in pairwise(means)]
    return Control(sum(means, Fraction(0)) / len(means), sum(ranges, Fraction(0)) / len(ranges))


def signals_in(lots: Sequence[str], means: Sequence[Fraction], control: Control, unit: str) -> Iterator[Signal]:
    """The signals, each kind in the order of the lots: means beyond limits, moving ranges beyond, runs on one side."""
    lower, upper, range_upper = control.lower, control.upper, control.range_upper
    for lot, mean in zip(lots, means, strict=True):
        if not lower <= mean <= upper:
            side, limit = ("below", lower) if mean < lower else ("above", upper)
            figure, beside = _beside(mean, limit, unit), with_unit(brief(limit), unit)
            text = f"The mean of lot {lot}, {figure}, is {side} the control limit of {beside}."
            yield Signal(code="beyond-control-limit", text=text, lots=[lot])
    for (before, one), (lot, other) in pairwise(zip(lots, means, strict=True)):
        if abs(other - one) > range_upper:
            figure, beside = _beside(abs(other - one), range_upper, unit), with_unit(brief(range_upper), unit)
            text = (
                f"From lot {before} to lot {lot} the mean moved by {figure}, which is above the limit of {beside} from one "
                "lot to the next."
            )
            yield Signal(code="moving-range-beyond-limit", text=text, lots=[before, lot])
    yield from _runs(lots, means, control.centre)


def _beside(value: Fraction, limit: Fraction, unit: str) -> str:
    """A value beside a limit, as a figure that lies on the value's side of it."""
    return with_unit(figures_beside(value, limit, decimals_shown(limit) - 1, side_of(value, limit))[0], unit)


def _runs(lots: Sequence[str], means: Sequence[Fraction], centre: Fraction) -> Iterator[Signal]:
    """The signals of eight or more lots in a row on one side of the centre; a mean on the centre ends a run."""
    sided = [((mean > centre) - (mean < centre), lot) for lot, mean in zip(lots, means, strict=True)]
    for side, run in groupby(sided, key=lambda pair: pair[0]):
        names = [lot for _, lot in run]
        if side and len(names) >= RUN:
            where = "above" if side > 0 else "below"
            text = (
                f"{len(names)} lots in a row, {names[0]} to {names[-1]}, are {where} the centre line: the process has shifted."
            )
            yield Signal(code="run-on-one-side", text=text, lots=names)
