"""Limits that depend on the lot, calculated from a declared number, another mean or another limit.

A limit is a few members of one object and no formula: an argument, a law or a schedule, a rounding, a share, applied in this
order. Everything is exact. The grade names the units of a law's or a schedule's argument and result, so that its figures are
those that the buyer's document prints.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from msgspec import UNSET, Struct, UnsetType

from service.engine.characteristics import (
    MEMBERS,
    NOWHERE,
    SIDES,
    Bounds,
    CompiledCharacteristic,
    Dependent,
    Limits,
    LimitSide,
    Pointers,
    Row,
    bounds_of,
    member_of,
    series_of,
)
from service.engine.deriving import Quotient
from service.engine.documents import Missing, Quantity, Reason, WorkedOut, is_in_range
from service.engine.lot import Lot
from service.engine.numbers import Unit, brief, decimals_shown, exact, exactly, find_unit, reported, with_unit
from service.engine.requirements.grade_context import GradeContext
from service.engine.requirements.rounding import RoundingStep, step_of
from service.engine.requirements.shortage import NO_SHORTAGE, Shortage, shortage_of
from service.engine.sampling import NoPlan

HUNDRED = 100


class Argument(NamedTuple):
    """The number that a limit is calculated from, of one lot."""

    value: Fraction
    """In the unit of the characteristic that it is of."""
    unit: str
    words: str
    """Its words in a sentence: `the mean runnage`."""
    source: WorkedOut


class UnknownArgument(NamedTuple):
    """Why a limit cannot be calculated for a lot, and pointers to what prevents it."""

    text: str
    at: Pointers


class DeclaredNumber(Struct, frozen=True):
    """The declared number of a characteristic."""

    of: CompiledCharacteristic

    def argument(self, lot: Lot, side: str) -> Argument | UnknownArgument:
        """The declared number, in the characteristic's unit; UnknownArgument where none above 0 is declared."""
        # Above 0, as a law divides by its argument.
        declared = lot.declared.get(self.of.name)
        if declared is None:
            return UnknownArgument(f"{self.of.words} is not entered. Enter it", NOWHERE)
        number, value = declared
        at = Pointers([f"/declared/{number}"], 1)
        if isinstance(value, bool | str) or value <= 0:
            return UnknownArgument(f"the {self.of.words} entered is not a number above 0. Enter it in {self.of.symbol}", at)
        source = WorkedOut(
            side=side,
            statistic="declared",
            characteristic=self.of.name,
            value=reported(exact(value)),
            unit=self.of.symbol,
            at=at.first,
        )
        return Argument(exact(value), self.of.symbol, f"the declared {self.of.words}", source)

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """Nothing: no sample gives a declaration."""
        return ()


class MeanOf(Struct, frozen=True):
    """The mean of all readings of a characteristic, when the characteristic's own sample is complete."""

    of: CompiledCharacteristic

    def argument(self, lot: Lot, side: str) -> Argument | UnknownArgument:
        """The mean, in the characteristic's unit; UnknownArgument while its sample is incomplete or where it is not above 0."""
        readings = [lot.readings(source) for source in self.of.sources]
        present = [each for each in readings if each]
        at = series_of(*present)
        if len(present) < len(readings) or any(self._shortage(source, lot) != NO_SHORTAGE for source in self.of.sources):
            return UnknownArgument(f"the sample of {self.of.words} is not complete. Measure the rest", at)
        mean = self._mean(lot)
        if mean <= 0:
            return UnknownArgument(f"the mean {self.of.words} is not above 0. Check its readings", at)
        source = WorkedOut(
            side=side,
            statistic="mean",
            characteristic=self.of.name,
            value=reported(mean),
            unit=self.of.symbol,
            at=at.first,
        )
        return Argument(mean, self.of.symbol, f"the mean {self.of.words}", source)

    def missing(self, lot: Lot) -> list[Missing]:
        """The readings that the samples of its sources lack."""
        short = ((source.name, self._shortage(source, lot)) for source in self.of.sources)
        return [lacking.of(name) for name, lacking in short if isinstance(lacking, Shortage) and lacking]

    def _shortage(self, source: CompiledCharacteristic, lot: Lot) -> Shortage | NoPlan:
        """The shortage of a source; NoPlan where its plan needs the lot's size and the evidence does not state it."""
        readings, size = lot.counting(source, self.of), source.own_sample(lot.sizes)
        if isinstance(size, NoPlan):
            return size
        return shortage_of(size, readings.package_counts if readings else {}, 1, "readings")

    def _mean(self, lot: Lot) -> Fraction:
        """The mean of the readings; for a ratio of means, the quotient of the two means."""
        # Evaluated exactly: readings are compared with the limit, and a limit between two ends would leave them undecided.
        if isinstance(self.of.derived, Quotient) and self.of.derived.of_means:
            numerator, denominator = (lot.readings(side) for side in self.of.sides)
            assert numerator
            assert denominator
            return exactly(self.of.derived.of_pooled(numerator, denominator))
        readings = lot.readings(self.of)
        assert readings
        return exactly(readings.column.mean())


class LimitOf(Struct, frozen=True):
    """The limit of another requirement, on the same side."""

    id: str
    limits: "LotLimits"
    unit: str

    def argument(self, lot: Lot, side: str) -> Argument | UnknownArgument:
        """The limit, in the unit of its characteristic; UnknownArgument where it is not known for this lot itself."""
        bounds = self.limits.for_lot(lot)
        if isinstance(bounds, UnknownLimit):
            return UnknownArgument(f"the limit of `{self.id}` is not known: {bounds.why.text}", bounds.why.at)
        limit = bounds.bounds.lower if side == "lower" else bounds.bounds.upper
        assert limit
        source = WorkedOut(side=side, statistic="limit", requirement=self.id, value=limit.reported, unit=self.unit)
        return Argument(limit.limit, self.unit, f"the {side} limit of `{self.id}`", source)

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """The readings that the other requirement's limits lack."""
        return self.limits.missing(lot)


LimitSource = DeclaredNumber | MeanOf | LimitOf


class DependentSide(Struct, frozen=True):
    """One side of limits that is calculated for each lot."""

    side: str
    pointer: str
    excludes: bool
    source: LimitSource
    of: CompiledCharacteristic
    argument_factor: Fraction
    """Multiplied by it, the argument is in the unit that the law or the schedule names."""
    numerator: Fraction | None
    constant: Fraction
    rows: Sequence[tuple[Fraction, Fraction]]
    """(size, limit) in rising order; empty without a schedule."""
    is_stepped: bool
    rounding: RoundingStep | None
    percent: Fraction
    result_factor: Fraction
    """Multiplied by it, the result is in the unit of the limited characteristic."""

    def for_lot(self, lot: Lot) -> "tuple[LimitSide, WorkedOut] | UnknownLimit":
        """The side for this lot and the argument that it comes from, or why it is not known."""
        argument = self.source.argument(lot, self.side)
        if isinstance(argument, UnknownArgument):
            return UnknownLimit(self, argument)
        result = self._result(argument.value * self.argument_factor)
        if result is None:
            shown = with_unit(brief(argument.value), argument.unit)
            return UnknownLimit(
                self, UnknownArgument(f"the grade's schedule has no row for {shown}. Correct the size, or the grade", NOWHERE)
            )
        limit = result * self.result_factor
        # A grade's numbers are checked when it is compiled; a product of them with a lot's can only be checked here.
        if not is_in_range(float(limit)) or (limit < 0 and self.of.quantity != "ratio"):
            text = (
                f"it would be {with_unit(brief(limit), self.of.symbol)}, which no limit can be. "
                "Check what it is calculated from"
            )
            return UnknownLimit(self, UnknownArgument(text, NOWHERE))
        return self._side(limit, argument), argument.source

    def _result(self, argument: Fraction) -> Fraction | None:
        """The law or the schedule, then the rounding, then the share; None where a schedule has no row for the argument."""
        result: Fraction | None = argument
        if self.numerator is not None:
            result = self.numerator / argument + self.constant
        elif self.rows:
            result = self._stepped(argument) if self.is_stepped else self._interpolated(argument)
        if result is None:
            return None
        return (self.rounding.of(result) if self.rounding else result) * self.percent / HUNDRED

    def _stepped(self, size: Fraction) -> Fraction | None:
        """The limit of the first row whose size is not below this one; None above the last row."""
        return next((limit for most, limit in self.rows if size <= most), None)

    def _interpolated(self, size: Fraction) -> Fraction | None:
        """The limit on the straight line between the two rows around this size; None outside all rows."""
        # A single row is paired with itself: it has a limit for its own size and for no other.
        for (low, one), (high, other) in zip(self.rows, self.rows[1:] or self.rows, strict=False):
            if size == low:
                return one
            if low < size <= high:
                return one + (other - one) * (size - low) / (high - low)
        return None

    def _side(self, limit: Fraction, argument: Argument) -> LimitSide:
        source = f"{argument.words}, {with_unit(brief(argument.value), argument.unit)}"
        symbol = self.of.symbol
        words = f"the {self.side} limit of {with_unit(brief(limit), symbol)}, calculated from {source}"
        shown = decimals_shown(limit)
        return LimitSide(self.side, limit, self.pointer, reported(limit), symbol, words, shown, self.excludes)


class UnknownLimit(NamedTuple):
    """A side that cannot be calculated for a lot, and why."""

    side: DependentSide
    why: UnknownArgument

    @property
    def reason(self) -> Reason:
        """The reason of an undecided finding."""
        text = f"The {self.side.side} limit of {self.side.of.words} is not known: {self.why.text}."
        return Reason("limit-not-known", text, {"side": self.side.side}, self.side.pointer, *self.why.at)


class ResolvedForLot(NamedTuple):
    """The limits for one lot, and the arguments of those that depend on it."""

    bounds: Bounds
    sources: Sequence[WorkedOut]


class LotLimits(Struct, frozen=True):
    """The limits of a requirement: the fixed ones, and those that are calculated for each lot."""

    bounds: Bounds
    dependent: Sequence[DependentSide]

    @property
    def characteristics(self) -> Sequence[CompiledCharacteristic]:
        """The characteristics that the limits are calculated from, with their own sources."""
        found: list[CompiledCharacteristic] = []
        for each in self.dependent:
            if isinstance(each.source, LimitOf):
                found.extend(each.source.limits.characteristics)
            else:
                found.extend(each.source.of.lineage)
        return found

    @property
    def averaged(self) -> Mapping[str, CompiledCharacteristic]:
        """The characteristics whose mean is the argument of a limit, by name."""
        found: dict[str, CompiledCharacteristic] = {}
        for each in self.dependent:
            if isinstance(each.source, LimitOf):
                found |= each.source.limits.averaged
            elif isinstance(each.source, MeanOf):
                found |= {source.name: source for source in each.source.of.sources}
        return found

    def missing(self, lot: Lot) -> list[Missing]:
        """The readings that the samples behind the limits lack."""
        return [missing for each in self.dependent for missing in each.source.missing(lot)]

    def for_lot(self, lot: Lot) -> ResolvedForLot | UnknownLimit:
        """The limits for this lot, or the first side that is not known."""
        sides: dict[str, LimitSide | None] = {"lower": self.bounds.lower, "upper": self.bounds.upper}
        sources = []
        for each in self.dependent:
            found = each.for_lot(lot)
            if isinstance(found, UnknownLimit):
                return found
            sides[each.side], source = found
            sources.append(source)
        return ResolvedForLot(Bounds(sides["lower"], sides["upper"], self.bounds.nominal), sources)


def lot_limits(limits: Limits, of: CompiledCharacteristic, context: GradeContext, pointer: str) -> LotLimits:
    """The compiled limits of a document without flaws.

    of       the characteristic that they are on
    pointer  the place of the document in the specification
    """
    dependent = []
    for side in SIDES:
        member = member_of(limits, side)
        if member and isinstance(document := getattr(limits, member), Dependent):
            excludes = member == MEMBERS[side][1]
            dependent.append(_dependent_side(document, of, context, f"{pointer}/{member}", side, excludes=excludes))
    return LotLimits(bounds_of(limits, of.symbol, pointer), dependent)


def _dependent_side(
    document: Dependent, of: CompiledCharacteristic, context: GradeContext, pointer: str, side: str, *, excludes: bool
) -> DependentSide:
    source = _source(document, context)
    argument_unit = _argument_unit(document, context)
    # A share alone has the unit of its argument, and needs no unit in the grade; a law or a schedule may turn one into another.
    makes_another = document.law is not UNSET or document.schedule is not UNSET
    result_unit = (_unit_named(document.in_, of.quantity) or of.unit) if makes_another else argument_unit
    assert result_unit
    assert of.unit
    assert argument_unit
    taken_in = _unit_named(document.taken_in, argument_unit.quantity) or argument_unit
    return DependentSide(
        side=side,
        pointer=pointer,
        excludes=excludes,
        source=source,
        of=of,
        argument_factor=argument_unit.factor / taken_in.factor if makes_another else Fraction(1),
        numerator=_exact_or_none(document.numerator),
        constant=_exact_or_none(document.constant) or Fraction(0),
        rows=_rows(document.schedule),
        is_stepped=not isinstance(document.schedule, UnsetType) and document.schedule[0].up_to is not UNSET,
        rounding=step_of(document.rounding),
        percent=_exact_or_none(document.percent) or Fraction(HUNDRED),
        result_factor=result_unit.factor / of.unit.factor,
    )


def _source(document: Dependent, context: GradeContext) -> LimitSource:
    """The source of the argument."""
    if document.of_declared:
        return DeclaredNumber(context.characteristic(document.of_declared))
    if document.of_mean:
        return MeanOf(context.characteristic(document.of_mean))
    assert document.of_limit
    found = context.limits_of(document.of_limit)
    assert found
    limits, of = found
    # Ends, as compilation has refused limits that depend on themselves.
    pointer = f"{context.pointers[document.of_limit]}/limits"
    return LimitOf(document.of_limit, lot_limits(limits, of, context, pointer), of.symbol)


def _argument_unit(document: Dependent, context: GradeContext) -> Unit | None:
    """The unit of the argument's characteristic."""
    if document.of_limit:
        found = context.limits_of(document.of_limit)
        return found[1].unit if found else None
    return context.characteristic(document.of_declared or document.of_mean or "").unit


def _unit_named(word: str | UnsetType, quantity: Quantity) -> Unit | None:
    """The unit that the document names; None where it names none."""
    return find_unit(word, quantity) if word else None


def _exact_or_none(number: float | UnsetType) -> Fraction | None:
    return None if isinstance(number, UnsetType) else exact(number)


def _rows(schedule: Sequence[Row] | UnsetType) -> Sequence[tuple[Fraction, Fraction]]:
    """(size, limit) of each row of a schedule; empty without one."""
    if isinstance(schedule, UnsetType):
        return ()
    return [(exact(row.up_to or row.at or 0), exact(row.limit)) for row in schedule]
