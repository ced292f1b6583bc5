"""What the kinds do alike that judge readings: is the sample complete, what is compared, what is reported."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import force_setattr, replace

from service.engine.characteristics import NOWHERE, CompiledCharacteristic, Over, Readings, rounding_flaws, series_of
from service.engine.deriving import Conditioned
from service.engine.documents import (
    Draw,
    Finding,
    Flaw,
    MeasuredValue,
    Missing,
    Outcome,
    Reason,
    ResolvedLimits,
    Undrawn,
    counted,
)
from service.engine.lot import Lot
from service.engine.requirements.documents import Measured, Retest
from service.engine.requirements.rounding import RoundingStep, step_of
from service.engine.requirements.rules import CharacteristicFields, CharacteristicRule, characteristic_fields
from service.engine.requirements.shortage import NO_SHORTAGE, ONE_READING, Shortage, shortage_of
from service.engine.sampling import (
    Basis,
    Fixed,
    LotSize,
    NoPlan,
    Sample,
    SampleSize,
    lot_too_small,
    plan_place_flaws,
    sample_flaws,
    size_of,
)


class MissingReadings(NamedTuple):
    """Why a requirement cannot be decided yet."""

    reason: Reason
    missing: Sequence[Missing] | UnsetType = UNSET


class MeasuredRule(CharacteristicRule, frozen=True, kw_only=True):
    """A requirement on readings."""

    over: Over
    sample: Sample | None
    rounding: RoundingStep | None
    resolved: ResolvedLimits
    least_values: int = 1
    """So many values it takes to judge at all: two for a spread."""
    second_sample: Sample | None = None
    """What was drawn besides, where a second sample is judged together with the first."""
    sample_pointer: str | None = None
    """Where a sample stands that takes the place of the requirement's own."""
    fixed_size: SampleSize | None = None
    """What its sample comes to for every lot, worked out once; None where it goes by the lot, or its values are derived."""

    def __post_init__(self) -> None:
        """Work out what every lot takes alike."""
        force_setattr(self, "fixed_size", self._fixed_size())

    def _fixed_size(self) -> SampleSize | None:
        sample = self.sample or self.of.sample
        if self.of.derived or self.second_sample or not (sample is None or isinstance(sample, Fixed)):
            return None
        return SampleSize(sample.packages, sample.readings_per_package or 1) if sample else ONE_READING

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """Its limits as a finding gives them."""
        return self.resolved

    def undecided(self, incomplete: MissingReadings) -> Finding:
        """It cannot be said yet."""
        return self.finding(Outcome.UNDECIDED, [incomplete.reason], self.resolved, missing=incomplete.missing)

    def finding(
        self,
        outcome: Outcome,
        reasons: Sequence[Reason],
        limits: ResolvedLimits | UnsetType = UNSET,
        measured: MeasuredValue | UnsetType = UNSET,
        margin: float | UnsetType = UNSET,
        missing: Sequence[Missing] | UnsetType = UNSET,
    ) -> Finding:
        """A finding on this requirement; where an agreed regain went into the value, it says how."""
        derived = self.of.derived
        if derived and isinstance(derived, Conditioned) and not isinstance(measured, UnsetType):
            measured = replace(measured, formula=derived.formula, source=derived.source)
        # What `Rule.finding` makes; said again, since most findings come this way and each call on it counts.
        return Finding(
            requirement=self.id,
            kind=self.kind,
            characteristic=self.of.name,
            binding=self.binding,
            outcome=outcome,
            reasons=reasons,
            clause=self.clause,
            measured=measured,
            limits=limits,
            margin=margin,
            missing=missing,
        )

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """What its own sample lacks."""
        incomplete = self.incomplete_sample(lot)
        return (incomplete.missing if incomplete else UNSET) or ()

    def incomplete_sample(self, lot: Lot) -> MissingReadings | None:
        """What keeps the sample from being complete; None where it is."""
        readings = None if self.of.derived else lot.readings(self.of)
        if readings and (self._is_surely_complete(readings) or self._shortage(self.of, readings, lot.sizes) == NO_SHORTAGE):
            return None
        sources = [(source, lot.readings(source)) for source in self.of.sources]
        present = [readings for _, readings in sources if readings]
        shortages = [(source, self._shortage(source, lot.counting(source, self.of), lot.sizes)) for source in self.of.sources]
        known = [(source, shortage) for source, shortage in shortages if isinstance(shortage, Shortage)]
        missing = [lacking.of(source.name) for source, lacking in known if lacking]
        if 0 < len(present) < len(sources):
            return MissingReadings(self._partner_missing_reason(lot), missing or UNSET)
        if without := [(source, no_plan) for source, no_plan in shortages if isinstance(no_plan, NoPlan)]:
            return MissingReadings(self._no_plan_reason(*without[0], present), missing or UNSET)
        short = [source for source, shortage in known if shortage]
        return MissingReadings(self._readings_missing_reason(missing, short[0], present), missing) if short else None

    def _is_surely_complete(self, readings: Readings) -> bool:
        """True only where the sample is complete: the usual one, of one reading a package, told by a comparison."""
        if self.fixed_size is None or readings.names is not None or readings.specimens is not None:
            return False
        packages, each = self.fixed_size
        count = readings.column.count
        return each == 1 and packages <= count >= self.least_values

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The sample of each characteristic that it takes readings of; without one, the least that it can be judged by."""
        for source in self.of.sources:
            wanted = self._shortage(source, None, lot)
            yield self.draw_of(source, self._sample_of(source), self._sample_pointer(source), wanted, lot)

    def draw_of(
        self,
        source: CompiledCharacteristic,
        sample: Sample | None,
        rule: str,
        wanted: Shortage | NoPlan,
        lot: LotSize,
    ) -> Draw | Undrawn:
        """So much of one characteristic, by the sample that stands at this pointer."""
        if isinstance(wanted, NoPlan):
            return Undrawn(self.id, wanted.code, wanted.text, rule)
        packages = source.counted(lot).packages
        if sample and packages is not None and wanted.packages > packages:
            small = lot_too_small(wanted.packages, packages)
            return Undrawn(self.id, small.code, small.text, rule)
        return Draw(
            requirement=self.id,
            kind=self.kind,
            characteristic=source.name,
            packages=wanted.packages,
            readings_per_package=(sample.readings_per_package if sample else UNSET) or 1,
            readings=wanted.readings,
            rule=rule,
        )

    def rounded(self, value: Fraction) -> Fraction:
        """The value that is compared."""
        return self.rounding.of(value) if self.rounding else value

    @property
    def rounding_words(self) -> str:
        """What a sentence says before a value that was rounded; nothing where it was not."""
        return rounding_words(self.rounding)

    def measured(
        self, statistic: str, value: float, observed: float, readings: Sequence[Readings], unit: str | None = None
    ) -> MeasuredValue:
        """The value that was compared, and the one before rounding where there is a difference to tell."""
        return MeasuredValue(
            statistic=statistic,
            value=value,
            unit=self.of.symbol if unit is None else unit,
            observed=observed if self.rounding else UNSET,
            readings=readings[0].column.count if len(readings) == 1 else sum([each.count for each in readings]),
            packages=readings[0].packages if len(readings) == 1 else max([each.packages for each in readings]),
        )

    def _sample_of(self, source: CompiledCharacteristic) -> Sample | None:
        """The sample that holds for this side: the requirement's own stands before the characteristic's."""
        return source.sample if self._is_averaged(source) else self.sample or source.sample

    def _is_averaged(self, source: CompiledCharacteristic) -> bool:
        """True where only its mean goes into each value, so that its readings are no values of this requirement."""
        return source in self.of.averaged

    def _shortage(self, source: CompiledCharacteristic, readings: Readings | None, lot: LotSize) -> Shortage | NoPlan:
        """What this side still lacks, nothing where it is complete; NoPlan where nobody can say how much it takes."""
        if self.fixed_size:
            return self._shortage_of_size(self.fixed_size, readings)
        size = self._size(source, lot)
        if isinstance(size, NoPlan):
            return size
        if self._is_averaged(source):
            return shortage_of(size, readings.package_counts if readings else {}, 1, "readings")
        return self._shortage_of_size(size, readings)

    def _shortage_of_size(self, size: SampleSize | None, readings: Readings | None) -> Shortage:
        """What these readings lack of a sample of this size, or of the least that it can be judged by."""
        counts, pooled = (readings.package_counts, readings.pooled) if readings else ({}, 0)
        return shortage_of(size, counts, self.least_values + pooled, self.over)

    def _size(self, source: CompiledCharacteristic, lot: LotSize) -> SampleSize | NoPlan | None:
        """What the samples ask of this lot; None where there is none."""
        sample = self._sample_of(source)
        size = size_of(sample, source.counted(self.seen(lot))) if sample else None
        if self.second_sample is None or isinstance(size, NoPlan) or self._is_averaged(source):
            return size
        more = size_of(self.second_sample, source.counted(self.seen(lot)))
        if size is None or isinstance(more, NoPlan):
            return more
        return SampleSize(size.packages + more.packages, size.readings_per_package)

    def _sample_pointer(self, source: CompiledCharacteristic) -> str:
        """Where the grade asks for the sample of this side; the requirement itself where it asks for none."""
        if self.sample_pointer and not self._is_averaged(source):
            return self.sample_pointer
        if self.sample and not self._is_averaged(source):
            return f"{self.pointer}/sample"
        return f"{source.pointer}/sample" if source.sample else self.pointer

    def _readings_missing_reason(
        self, missing: Sequence[Missing], first: CompiledCharacteristic, present: Sequence[Readings]
    ) -> Reason:
        """The sample is not complete; the rule is where the first that lacks readings is asked for."""
        text = f"Still missing: at least {' and '.join(_missing_text(each) for each in missing)}."
        at = series_of(*present)
        return Reason("readings-missing", text, {"missing": missing}, self._sample_pointer(first), at.first, at.total)

    def _no_plan_reason(self, source: CompiledCharacteristic, no_plan: NoPlan, present: Sequence[Readings]) -> Reason:
        """The plan has nothing for this lot, or goes by something of it that is not told."""
        at = series_of(*present)
        return Reason(no_plan.code, no_plan.text, {}, self._sample_pointer(source), at.first, at.total)

    def _partner_missing_reason(self, lot: Lot) -> Reason:
        """One of the sides that it is derived from is absent."""
        absent, *_, present = sorted(self.of.sources, key=lambda source: lot.readings(source) is not None)
        readings = lot.readings(present)
        text = f"There are readings of {present.words} and none of {absent.words}; {self.of.words} needs both."
        at = series_of(readings) if readings else NOWHERE
        parameters = {"absent": absent.name, "present": present.name}
        return Reason("no-partner", text, parameters, f"{self.of.pointer}/derived", at.first, at.total)


def rounding_words(rounding: RoundingStep | None) -> str:
    """What a sentence says before a value that was rounded; nothing where it was not."""
    return "rounded to " if rounding else ""


class MeasuredFields(CharacteristicFields):
    """What every requirement on readings takes over from its document."""

    over: Over
    sample: Sample | None
    rounding: RoundingStep | None
    retest: Retest | None


def measured_fields(document: Measured, of: CompiledCharacteristic, pointer: str) -> MeasuredFields:
    """What the compiled requirement takes over."""
    return {
        **characteristic_fields(document, of, pointer),
        "over": document.over or "readings",
        "sample": document.sample or None,
        "rounding": step_of(document.rounding),
        "retest": document.retest or None,
    }


def measured_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """What can be wrong with any requirement on readings: what it is put on, its sample, its rounding."""
    if of.quantity == "category":
        text = f"{of.name} is only declared, never measured. Put a `declared` on it."
        yield Flaw("category-not-measured", text, f"{at}/of")
    if of.derived and of.derived.of_means:
        yield from _ratio_of_means_flaws(document, of, at)
    if not isinstance(document.sample, UnsetType):
        yield from sample_flaws(document.sample, f"{at}/sample")
    yield from _plan_flaws(document, of, at)
    if document.retest:
        yield from _retest_flaws(document, document.retest, of, at)
    if not isinstance(document.rounding, UnsetType):
        yield from rounding_flaws(document.rounding, f"{at}/rounding")


def _plan_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The sample that holds, its own or that of what it is on, is a plan that this kind can use."""
    basis: Basis | None = "variables" if document.__struct_config__.tag == "variables" else None
    if not isinstance(document.sample, UnsetType):
        yield from plan_place_flaws(document.sample, basis, "The sample", f"{at}/sample")
        return
    for source in of.sources:
        if source.sample:
            yield from plan_place_flaws(source.sample, basis, f"The sample of {source.name}", at)


def _retest_flaws(document: Measured, retest: Retest, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A second sample is one that this kind can use, and can be pooled with the first where both are judged together."""
    basis: Basis | None = "variables" if document.__struct_config__.tag == "variables" else None
    where = f"{at}/retest/sample"
    yield from sample_flaws(retest.sample, where)
    yield from plan_place_flaws(retest.sample, basis, "The second sample", where)
    firsts = [document.sample] if document.sample else [source.sample for source in of.sources if source.sample]
    each, has_k = retest.sample.readings_per_package or 1, any(first.accepts_by for first in firsts)
    if retest.judge == "second" and has_k != bool(retest.sample.accepts_by):
        text = (
            "One of the two samples is a plan with a k of its own and the other is not, so their k would differ unsaid. "
            "Take a plan by variables for both, or a sample that is only a size."
        )
        yield Flaw("retest-of-other-plan", text, where)
    if retest.judge == "second":
        return
    if has_k or retest.sample.accepts_by:
        text = "A plan with a k of its own can't be judged together with another sample. Judge the second alone."
        yield Flaw("retest-together-by-plan", text, f"{at}/retest/judge")
    if others := [first for first in firsts if (first.readings_per_package or 1) != each]:
        other = others[0].readings_per_package or 1
        text = (
            f"The first sample takes {counted(other, 'reading')} of a package and the second {each}, so they can't be judged "
            "together. Ask for as many in both."
        )
        yield Flaw("retest-readings-differ", text, where)


def _ratio_of_means_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """It is one number for a lot, so only a mean over readings can be put on it."""
    if document.__struct_config__.tag != "mean":
        text = f"{of.name} is one quotient of means for the lot, so only a `mean` can be put on it. Write `mean`."
        yield Flaw("only-mean-here", text, f"{at}/kind")
    if document.over == "packages":
        text = f"{of.name} is a quotient of the means of all readings, pooled. Leave `over` out."
        yield Flaw("only-readings-here", text, f"{at}/over")
    if document.sample:
        text = f"{of.name} has no sample of its own. Put the samples on {' and '.join(source.name for source in of.sources)}."
        yield Flaw("sample-not-here", text, f"{at}/sample")


def sample_of_two_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A spread takes two values, so a sample that can only give one is a flaw, wherever it stands."""
    samples = [(source.name, source.sample, f"{source.pointer}/sample") for source in of.sources if source not in of.averaged]
    if document.sample:
        samples = [(of.name, document.sample, f"{at}/sample")]
    if document.retest and document.retest.judge == "second":
        samples.append(("the retest", document.retest.sample, f"{at}/retest/sample"))
    more = "packages" if document.over == "packages" else "packages or readings"
    for name, sample, where in samples:
        if sample and sample.greatest == 1 and (document.over == "packages" or not _takes_two_readings(sample)):
            text = f"A spread takes two values, and the sample of {name} gives one. Ask for more {more}."
            yield Flaw("sample-too-small", text, where)


def _takes_two_readings(sample: Sample) -> bool:
    return bool(sample.readings_per_package) and sample.readings_per_package != 1


def _missing_text(missing: Missing) -> str:
    readings, packages = counted(missing.readings or 0, "reading"), counted(missing.packages, "package")
    return f"{readings} of {str(missing.characteristic).replace('_', ' ')} on {packages}"
