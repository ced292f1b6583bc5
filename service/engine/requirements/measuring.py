"""What all kinds that judge readings share: whether the sample is complete, what is compared, and what is reported."""

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
    listed,
)
from service.engine.lot import Lot
from service.engine.requirements.documents import Measured, Retest
from service.engine.requirements.rounding import RoundingStep, step_of
from service.engine.requirements.rules import CharacteristicFields, CharacteristicRule, characteristic_fields
from service.engine.requirements.shortage import NO_SHORTAGE, ONE_READING, Shortage, shortage_of
from service.engine.requirements.wording import missing_text
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
    """Why a requirement cannot be decided yet, and the readings that would complete its sample."""

    reason: Reason
    missing: Sequence[Missing] | UnsetType = UNSET


class MeasuredRule(CharacteristicRule, frozen=True, kw_only=True):
    """A compiled requirement on readings."""

    over: Over
    sample: Sample | None
    rounding: RoundingStep | None
    resolved: ResolvedLimits
    least_values: int = 1
    """How many values a judgement needs at least: two for a spread."""
    second_sample: Sample | None = None
    """The retest's sample, where it is judged together with the first one."""
    sample_pointer: str | None = None
    """The pointer of a sample that replaces the requirement's own; None where none does."""
    fixed_size: SampleSize | None = None
    """The size of the sample for every lot; None where it depends on the lot, or where the values are derived."""

    def __post_init__(self) -> None:
        """Calculate the sample size that is the same for every lot."""
        # Once at compilation, as each verdict needs it; a frozen Struct can only be changed by `force_setattr`.
        force_setattr(self, "fixed_size", self._fixed_size())

    def _fixed_size(self) -> SampleSize | None:
        sample = self.sample or self.of.sample
        if self.of.derived or self.second_sample or not (sample is None or isinstance(sample, Fixed)):
            return None
        return SampleSize(sample.packages, sample.readings_per_package or 1) if sample else ONE_READING

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """The limits as a finding reports them."""
        return self.resolved

    def undecided(self, incomplete: MissingReadings) -> Finding:
        """The undecided finding of an incomplete sample."""
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
        """A finding on this requirement; where an agreed regain went into the value, with its formula and source."""
        derived = self.of.derived
        if derived and isinstance(derived, Conditioned) and not isinstance(measured, UnsetType):
            measured = replace(measured, formula=derived.formula, source=derived.source)
        # A copy of `Rule.finding` in place of a call: most findings of a verdict are made here.
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
        """The readings that would complete the requirement's sample; empty where it is complete or its size is not known."""
        incomplete = self.incomplete_sample(lot)
        return (incomplete.missing if incomplete else UNSET) or ()

    def incomplete_sample(self, lot: Lot) -> MissingReadings | None:
        """The reason and the readings that are missing while the sample is incomplete; None where it is complete."""
        readings = None if self.of.derived else lot.readings(self.of)
        if readings and (self._is_surely_complete(readings) or self._shortage(self.of, readings, lot.sizes) == NO_SHORTAGE):
            return None
        sources = [(source, lot.readings(source)) for source in self.of.sources]
        present = [readings for _, readings in sources if readings]
        shortages = [(source, self._shortage(source, lot.counting(source, self.of), lot.sizes)) for source in self.of.sources]
        known = [(source, shortage) for source, shortage in shortages if isinstance(shortage, Shortage)]
        missing = [lacking.of(source.name) for source, lacking in known if lacking]
        # Where one side of a quotient is absent, what both sides lack is reported, so that one more delivery completes it.
        if 0 < len(present) < len(sources):
            return MissingReadings(self._partner_missing_reason(lot), missing or UNSET)
        if without := [(source, no_plan) for source, no_plan in shortages if isinstance(no_plan, NoPlan)]:
            return MissingReadings(self._no_plan_reason(*without[0], present), missing or UNSET)
        short = [source for source, shortage in known if shortage]
        return MissingReadings(self._readings_missing_reason(missing, short, present, lot), missing) if short else None

    def _is_surely_complete(self, readings: Readings) -> bool:
        """True only where the sample is complete; False also where that takes more than a comparison to find out."""
        # The usual sample has one reading of each package; specimens of several packages or named packages take longer.
        if self.fixed_size is None or readings.names is not None or readings.specimens is not None:
            return False
        packages, each = self.fixed_size
        count = readings.column.count
        return each == 1 and packages <= count >= self.least_values

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The sample of each characteristic that is read; where a grade asks for none, the least that can be judged."""
        for source in self.of.sources:
            needed = self._shortage(source, None, lot)
            yield self.draw_of(source, self._sample_of(source), self._sample_pointer(source), needed, lot)

    def draw_of(
        self,
        source: CompiledCharacteristic,
        sample: Sample | None,
        rule: str,
        needed: Shortage | NoPlan,
        lot: LotSize,
    ) -> Draw | Undrawn:
        """The draw for one characteristic, or why none can be planned.

        sample  of the characteristic; None where the grade asks for none
        rule    the pointer of the sample in the specification
        needed  the shortage of a lot without readings
        """
        if isinstance(needed, NoPlan):
            return Undrawn(self.id, needed.code, needed.text, rule)
        # Readings may be of packs of several packages, of which a lot has fewer.
        packages = source.counted(lot).packages
        if sample and packages is not None and needed.packages > packages:
            small = lot_too_small(needed.packages, packages)
            return Undrawn(self.id, small.code, small.text, rule)
        return Draw(
            requirement=self.id,
            kind=self.kind,
            characteristic=source.name,
            packages=needed.packages,
            readings_per_package=(sample.readings_per_package if sample else UNSET) or 1,
            readings=needed.readings,
            rule=rule,
        )

    def rounded(self, value: Fraction) -> Fraction:
        """The value as it is compared, rounded where the requirement rounds."""
        return self.rounding.of(value) if self.rounding else value

    def measured(
        self, statistic: str, value: float, observed: float, readings: Sequence[Readings], unit: str | None = None
    ) -> MeasuredValue:
        """The measured value as a finding reports it, with the value before rounding where the requirement rounds."""
        return MeasuredValue(
            statistic=statistic,
            value=value,
            unit=self.of.symbol if unit is None else unit,
            observed=observed if self.rounding else UNSET,
            readings=readings[0].column.count if len(readings) == 1 else sum([each.count for each in readings]),
            packages=readings[0].packages if len(readings) == 1 else max([each.packages for each in readings]),
        )

    def _sample_of(self, source: CompiledCharacteristic) -> Sample | None:
        """The sample of this source: that of the requirement, else that of the characteristic."""
        return source.sample if self._is_averaged(source) else self.sample or source.sample

    def _is_averaged(self, source: CompiledCharacteristic) -> bool:
        """True where only the source's mean goes into each value, so that its readings are not values of this requirement."""
        return source in self.of.averaged

    def _shortage(self, source: CompiledCharacteristic, readings: Readings | None, lot: LotSize) -> Shortage | NoPlan:
        """The shortage of this source; NO_SHORTAGE where it is complete, NoPlan where the plan gives no size for the lot."""
        if self.fixed_size:
            return self._shortage_of_size(self.fixed_size, readings)
        size = self._size(source, lot)
        if isinstance(size, NoPlan):
            return size
        if self._is_averaged(source):
            return shortage_of(size, readings.package_counts if readings else {}, 1, "readings")
        return self._shortage_of_size(size, readings)

    def _shortage_of_size(self, size: SampleSize | None, readings: Readings | None) -> Shortage:
        """The shortage of these readings in a sample of this size, or in the least that can be judged."""
        # A specimen of several packages is one value, so each package beyond the values raises the least by one.
        counts, pooled = (readings.package_counts, readings.pooled) if readings else ({}, 0)
        return shortage_of(size, counts, self.least_values + pooled, self.over)

    def _size(self, source: CompiledCharacteristic, lot: LotSize) -> SampleSize | NoPlan | None:
        """The size of the sample for this lot, of both where the retest is judged with it; None without a sample."""
        sample = self._sample_of(source)
        size = size_of(sample, source.counted(self.seen(lot))) if sample else None
        if self.second_sample is None or isinstance(size, NoPlan) or self._is_averaged(source):
            return size
        more = size_of(self.second_sample, source.counted(self.seen(lot)))
        if size is None or isinstance(more, NoPlan):
            return more
        return SampleSize(size.packages + more.packages, size.readings_per_package)

    def _sample_pointer(self, source: CompiledCharacteristic) -> str:
        """The pointer of this source's sample in the specification; that of the requirement where there is no sample."""
        if self.sample_pointer and not self._is_averaged(source):
            return self.sample_pointer
        if self.sample and not self._is_averaged(source):
            return f"{self.pointer}/sample"
        return f"{source.pointer}/sample" if source.sample else self.pointer

    def _readings_missing_reason(
        self, missing: Sequence[Missing], short: Sequence[CompiledCharacteristic], present: Sequence[Readings], lot: Lot
    ) -> Reason:
        """The reason for an incomplete sample; its rule is the sample of the first source that lacks readings."""
        said = [self._still_to_measure(each, source, lot.sizes) for each, source in zip(missing, short, strict=True)]
        at = series_of(*present)
        parameters = {"missing": missing}
        rule = self._sample_pointer(short[0])
        return Reason("readings-missing", f"Still to measure: {' and '.join(said)}.", parameters, rule, at.first, at.total)

    def _still_to_measure(self, missing: Missing, source: CompiledCharacteristic, lot: LotSize) -> str:
        """The missing readings in a sentence: `runnage on 4 more balls`."""
        size = self._size(source, lot)
        return missing_text(missing, source, size.readings_per_package if isinstance(size, SampleSize) else 1)

    def _no_plan_reason(self, source: CompiledCharacteristic, no_plan: NoPlan, present: Sequence[Readings]) -> Reason:
        """The reason where the plan gives no size: it has none for this lot, or needs something that is not stated."""
        at = series_of(*present)
        return Reason(no_plan.code, no_plan.text, {}, self._sample_pointer(source), at.first, at.total)

    def _partner_missing_reason(self, lot: Lot) -> Reason:
        """The reason where one of the sources of a derived characteristic has no readings."""
        absent, *_, present = sorted(self.of.sources, key=lambda source: lot.readings(source) is not None)
        readings = lot.readings(present)
        text = (
            f"No reading of {absent.words} is given, and {self.of.words} is calculated from it and {present.words}. "
            "Measure it too."
        )
        at = series_of(readings) if readings else NOWHERE
        parameters = {"absent": absent.name, "present": present.name}
        return Reason("no-partner", text, parameters, f"{self.of.pointer}/derived", at.first, at.total)


class MeasuredFields(CharacteristicFields):
    """The fields of every compiled requirement on readings that come from its document."""

    over: Over
    sample: Sample | None
    rounding: RoundingStep | None
    retest: Retest | None


def measured_fields(document: Measured, of: CompiledCharacteristic, pointer: str) -> MeasuredFields:
    """The fields of a compiled requirement on readings, for its constructor."""
    return {
        **characteristic_fields(document, of, pointer),
        "over": document.over or "readings",
        "sample": document.sample or None,
        "rounding": step_of(document.rounding),
        "retest": document.retest or None,
    }


def measured_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The flaws that any requirement on readings can have: in its characteristic, its sample, its rounding."""
    if of.quantity == "category":
        text = f"`{of.name}` is only declared, never measured. Use the kind `declared`."
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
    """The sample, of the requirement or else of the characteristic, is a plan that this kind can use."""
    basis: Basis | None = "variables" if document.__struct_config__.tag == "variables" else None
    if not isinstance(document.sample, UnsetType):
        yield from plan_place_flaws(document.sample, basis, "The sample", f"{at}/sample")
        return
    for source in of.sources:
        if source.sample:
            yield from plan_place_flaws(source.sample, basis, f"The sample of `{source.name}`", at)


def _retest_flaws(document: Measured, retest: Retest, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """The retest's sample is a plan that this kind can use, and can be pooled with the first where both are judged together."""
    basis: Basis | None = "variables" if document.__struct_config__.tag == "variables" else None
    where = f"{at}/retest/sample"
    yield from sample_flaws(retest.sample, where)
    yield from plan_place_flaws(retest.sample, basis, "The second sample", where)
    firsts = [document.sample] if document.sample else [source.sample for source in of.sources if source.sample]
    each, has_k = retest.sample.readings_per_package or 1, any(first.accepts_by for first in firsts)
    if retest.judge == "second" and has_k != bool(retest.sample.accepts_by):
        text = (
            "One of the two samples has a plan with its own k and the other has none, so the two could be judged by "
            "different k. Use a plan by variables for both, or a sample that is only a size."
        )
        yield Flaw("retest-of-other-plan", text, where)
    if retest.judge == "second":
        return
    # The k of a plan is for its own sample size, and not for the sum of two samples.
    if has_k or retest.sample.accepts_by:
        text = "A plan with its own k cannot be judged together with another sample. Set `judge` to `second`."
        yield Flaw("retest-together-by-plan", text, f"{at}/retest/judge")
    if others := [first for first in firsts if (first.readings_per_package or 1) != each]:
        other = others[0].readings_per_package or 1
        text = (
            f"The first sample takes {counted(other, 'reading')} of each package and the second {each}, so they cannot be "
            "judged together. Ask for the same number in both."
        )
        yield Flaw("retest-readings-differ", text, where)


def _ratio_of_means_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A ratio of means is one number for a lot, so only a `mean` over readings can be on it."""
    if document.__struct_config__.tag != "mean":
        text = f"`{of.name}` is a single quotient of means for the lot, so only a `mean` applies to it. Write `mean`."
        yield Flaw("only-mean-here", text, f"{at}/kind")
    if document.over == "packages":
        text = f"`{of.name}` is a quotient of the means of all readings. Remove `over`."
        yield Flaw("only-readings-here", text, f"{at}/over")
    if document.sample:
        sources = listed((source.name for source in of.sources), "and")
        text = f"`{of.name}` has no sample of its own. Give the samples to {sources}."
        yield Flaw("sample-not-here", text, f"{at}/sample")


def sample_of_two_flaws(document: Measured, of: CompiledCharacteristic, at: str) -> Iterator[Flaw]:
    """A spread needs two values, so a sample that can only give one is a flaw, wherever the grade has it."""
    samples = [
        (f"`{source.name}`", source.sample, f"{source.pointer}/sample") for source in of.sources if source not in of.averaged
    ]
    if document.sample:
        samples = [(f"`{of.name}`", document.sample, f"{at}/sample")]
    if document.retest and document.retest.judge == "second":
        samples.append(("the retest", document.retest.sample, f"{at}/retest/sample"))
    more = "packages" if document.over == "packages" else "packages or readings"
    for name, sample, where in samples:
        if sample and sample.greatest == 1 and (document.over == "packages" or not _takes_two_readings(sample)):
            text = f"A spread takes at least two values, and the sample of {name} gives one. Ask for more {more}."
            yield Flaw("sample-too-small", text, where)


def _takes_two_readings(sample: Sample) -> bool:
    return bool(sample.readings_per_package) and sample.readings_per_package != 1
