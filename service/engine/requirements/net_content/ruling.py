"""A compiled requirement on a net content, and its finding on a lot."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import NOWHERE, CompiledCharacteristic, Pointers, Readings, series_of
from service.engine.documents import (
    Draw,
    Finding,
    GivenAway,
    MeasuredValue,
    Missing,
    Outcome,
    Reason,
    ResolvedLimits,
    Undrawn,
    capitalised,
    packages_in_words,
    plural_of,
)
from service.engine.lot import Lot
from service.engine.numbers import answered, exact, nearest_double, reported, with_unit
from service.engine.requirements.net_content.checks import (
    Average,
    Content,
    ContentCheck,
    absolute_floor_check,
    average_of,
    average_reason,
    deviation_of,
    is_accepted_by_first,
    shorts_check,
    spread_of,
    to_six_digits,
)
from service.engine.requirements.net_content.drawn import Packages, packages_of
from service.engine.requirements.net_content.figures import (
    ContentPlan,
    MeanCheck,
    Row,
    Tolerance,
    WholeRow,
    plan_in,
)
from service.engine.requirements.net_content.set_point import CurrentSpread, Floors, set_point
from service.engine.requirements.rules import CharacteristicRule
from service.engine.requirements.shortage import ONE_READING, shortage_of
from service.engine.requirements.wording import missing_text
from service.engine.sampling import AttributesPlan, LotSize, NoPlan, Sample, SampleSize


class TablePlan(Struct, frozen=True):
    """The plans of a rule's own table."""

    name: str
    rows: Sequence[Row | WholeRow]

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """The plan for the size of the lot; NoPlan where the table has none."""
        return plan_in(self.name, self.rows, lot)


class GradePlan(Struct, frozen=True):
    """A plan that the grade states, with its factor of the mean, or with factors by the number of packages."""

    sample: Sample
    at_most: int | None
    factor: Fraction | None
    factors: Mapping[int, Fraction]

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """The plan of the sample for a lot of this size; the packages of its first stage are averaged."""
        found = self.sample.attributes_plan(lot, self.at_most)
        if isinstance(found, NoPlan):
            return found
        packages = found.stages[0].packages
        if self.factor is not None:
            return ContentPlan(found.stages, MeanCheck(packages, self.factor))
        if packages not in self.factors:
            sizes = f"{min(self.factors)} to {max(self.factors)}"
            text = (
                f"Factors are available here for {sizes} packages, and the sample takes {packages}. "
                "Use another sample in the grade."
            )
            return NoPlan("plan-not-in-table", text)
        return ContentPlan(found.stages, MeanCheck(packages, self.factors[packages]))


class NetContentRule(CharacteristicRule, frozen=True, kw_only=True):
    """A compiled requirement of the kind `net_content`."""

    nominal: Fraction | None
    """The nominal content in the characteristic's unit; None where the evidence declares it."""
    declared: CompiledCharacteristic | None
    plan_source: TablePlan | GradePlan
    tolerance: Tolerance
    scale: Fraction
    """Multiplied by it, a content is in the unit of the tolerance."""
    tolerable_factor: Fraction | None
    chance: Fraction | None
    """The chance of the set-point as a share; None where the grade asks for no set-point."""

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """The measured characteristic, its sources, and the declared one."""
        return (*self.of.lineage, *([self.declared] if self.declared else []))

    @property
    def rule_pointer(self) -> str:
        """The pointer of the rule's name in the specification."""
        return f"{self.pointer}/rule"

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """The plan for a lot of this size; NoPlan where the rule has none."""
        return self.plan_source.plan(self.of.counted(lot))

    @property
    def averaged(self) -> Sequence[CompiledCharacteristic]:
        """The sources of which only the mean goes into every content, such as a tare; they have samples of their own."""
        return self.of.averaged

    @property
    def read_per_package(self) -> Sequence[CompiledCharacteristic]:
        """The sources that are read on each package."""
        return [source for source in self.of.sources if source not in self.averaged]

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The packages of each stage with the number that may be short, then the samples of averaged sources."""
        plan = self.plan(lot)
        found = plan if isinstance(plan, NoPlan) else AttributesPlan(plan.stages)
        for draw in self.draws_by_attributes(found, self.rule_pointer):
            if isinstance(draw, Undrawn):
                yield draw
                return
            for source in self.read_per_package:
                yield replace(draw, characteristic=source.name, readings_per_package=1, readings=draw.packages)
        for source in self.averaged:
            yield self._averaged_draw(source, lot)

    def _averaged_draw(self, source: CompiledCharacteristic, lot: LotSize) -> Draw | Undrawn:
        """The draw for a source with a sample of its own; one reading where it has none."""
        rule = f"{source.pointer}/sample" if source.sample else self.rule_pointer
        size = source.own_sample(lot) or ONE_READING
        if isinstance(size, NoPlan):
            return Undrawn(self.id, size.code, size.text, rule)
        packages, each = size
        return Draw(
            requirement=self.id,
            kind=self.kind,
            characteristic=source.name,
            packages=packages,
            readings_per_package=each,
            readings=packages * each,
            rule=rule,
        )

    def is_double(self, lot: Lot) -> bool:
        """True where the rule's plan for a lot of this size is a double one."""
        plan = self.plan(lot.sizes)
        return not isinstance(plan, NoPlan) and len(plan.stages) > 1

    def calls_for_second(self, lot: Lot) -> bool:
        """True unless the first sample accepts, or the plan is a single one; True too where that is not known yet."""
        # After an accepting first sample a second one is refused, as it would choose the better of the two.
        plan, content, readings = self.plan(lot.sizes), self._declared_content(lot), lot.readings(self.of)
        if isinstance(plan, NoPlan) or isinstance(content, Reason) or readings is None:
            return True
        return len(plan.stages) > 1 and not is_accepted_by_first(plan, packages_of(readings, lot), content.floor)

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while packages are missing or where the rule has no plan or figure for the lot."""
        content = self._declared_content(lot)
        if isinstance(content, Reason):
            return self.finding(Outcome.UNDECIDED, [content])
        limits = _resolved(content)
        plan = self.plan(lot.sizes)
        if isinstance(plan, NoPlan):
            reason = Reason(plan.code, plan.text, {}, self.rule_pointer, (), 0)
            return self.finding(Outcome.UNDECIDED, [reason], limits)
        readings = lot.readings(self.of)
        if readings is None or self._averaged_missing(lot):
            return self._without_readings(lot, limits)
        # Before any check: in a specimen of several packages a short one is hidden by the others.
        if readings.pooled:
            return self.finding(Outcome.UNDECIDED, [self._composite(readings)], limits)
        packages = packages_of(readings, lot)
        return self._finding_by_checks(plan, packages, content, lot)

    def _declared_content(self, lot: Lot) -> Content | Reason:
        """The nominal content and the tolerable shortage for this lot, or why they are not known."""
        nominal = self._nominal(lot)
        if isinstance(nominal, Reason):
            return nominal
        tolerable = self.tolerance.of(nominal * self.scale)
        if tolerable is None:
            at = Pointers((f"/declared/{lot.declared[self.declared.name][0]}",), 1) if self.declared else NOWHERE
            shown = with_unit(to_six_digits(float(nominal)), self.of.symbol)
            text = f"The rule has no figure for a label of {shown}. Judge it by another rule."
            parameters: dict[str, object] = {"nominal": reported(nominal), "unit": self.of.symbol}
            return Reason("nominal-beyond-rule", text, parameters, self.rule_pointer, at.first, at.total)
        measured = " and ".join(source.words for source in self.read_per_package)
        return Content(nominal, tolerable / self.scale, self.tolerable_factor, self.of.symbol, measured, self.package)

    def _nominal(self, lot: Lot) -> Fraction | Reason:
        """The nominal content in the characteristic's unit, stated or declared, or why it is not known."""
        if self.declared is None:
            assert self.nominal is not None
            return self.nominal
        found = lot.declared.get(self.declared.name)
        if found is None:
            text = f"{capitalised(self.declared.words)} is not entered, so the nominal content is not known. Enter it."
            return Reason("limit-not-known", text, {"side": "nominal"}, f"{self.pointer}/of_declared", (), 0)
        number, value = found
        if isinstance(value, bool | str) or value <= 0:
            what = f"The {self.declared.words} entered is not a number above 0, so the nominal content is not known"
            text = f"{what}. Enter it in {self.declared.symbol}."
            at = (f"/declared/{number}",)
            return Reason("limit-not-known", text, {"side": "nominal"}, f"{self.pointer}/of_declared", at, 1)
        assert self.declared.unit
        assert self.of.unit
        return exact(value) * self.declared.unit.factor / self.of.unit.factor

    def _composite(self, readings: Readings) -> Reason:
        """The reason where a reading is of several packages together."""
        what = (
            f"A reading of {self.of.words} is of several {plural_of(self.package)} together, and the rule judges each of them"
        )
        at = readings.all_pointers
        text = f"{what}. Measure each {self.package} alone."
        return Reason("composite-specimen", text, {}, self.rule_pointer, at.first, at.total)

    def _finding_by_checks(self, plan: ContentPlan, packages: Packages, content: Content, lot: Lot) -> Finding:
        """The finding by the three checks: the average, the short packages, and the absolute floor."""
        average, average_check = self._average(plan, packages, content)
        shorts = shorts_check(plan, packages, content, self.rule_pointer)
        absolute_floor = absolute_floor_check(packages, content, self.rule_pointer)
        checks = [average_check, shorts, *([absolute_floor] if absolute_floor else [])]
        limits = _resolved(content)
        lacking = max(check.missing for check in checks)
        pending = [check.reason for check in checks if check.outcome == Outcome.UNDECIDED]
        failing = any(check.outcome == Outcome.FAIL for check in checks)
        # A failed check decides although another is pending, but only where no further reading can mend it.
        if pending and not (failing and self._is_final(plan, packages)):
            missing = self._packages_missing(lacking) if lacking else UNSET
            return self.finding(Outcome.UNDECIDED, pending, limits, missing=missing)
        decided = [check for check in checks if check.outcome != Outcome.UNDECIDED]
        margin = min(check.margin for check in decided if check.margin is not None)
        outcome = Outcome.FAIL if failing else Outcome.PASS
        reasons = [check.reason for check in decided]
        measured = self._measured(average, packages, shorts)
        finding = self.finding(outcome, reasons, limits, measured, margin)
        given_away = self._given_away(average, plan, packages, content, self.of.counted(lot.sizes))
        return replace(finding, given_away=given_away)

    def _average(self, plan: ContentPlan, packages: Packages, content: Content) -> tuple[Average | None, ContentCheck]:
        """The average of the first packages drawn, as many as the check takes, and the check; None while some are missing."""
        check, drawn = plan.mean, len(packages.first)
        lacking = check.packages - drawn
        if lacking > 0:
            at = packages.readings.all_pointers
            more = packages_in_words(lacking, self.package, more=True)
            text = f"Still to measure: {content.measured} on {more}; the average takes {check.packages}."
            parameters: dict[str, object] = {"packages": lacking, "wanted": check.packages}
            reason = Reason("readings-missing", text, parameters, self.rule_pointer, at.first, at.total)
            return None, ContentCheck(Outcome.UNDECIDED, reason, missing=lacking)
        places = packages.first[: check.packages]
        mean, spread = packages.contents.picked(places).mean(), spread_of(packages, places, check)
        average = average_of(mean, spread, check, content.nominal)
        reason = average_reason(average, content, check, drawn, self.rule_pointer, packages.readings.all_pointers)
        return average, ContentCheck(Outcome.PASS if average.margin >= 0 else Outcome.FAIL, reason, average.margin)

    @staticmethod
    def _is_final(plan: ContentPlan, packages: Packages) -> bool:
        """True where a failure is final: the first sample is complete, or no further reading changes a content."""
        return packages.is_final or len(packages.first) >= max(plan.mean.packages, plan.stages[0].packages)

    def _measured(self, average: Average | None, packages: Packages, shorts: ContentCheck) -> MeasuredValue:
        """The mean and the number of short packages, as a finding reports them; a lot that fails early may have no mean."""
        found, allowed = shorts.reason.with_.get("value"), shorts.reason.with_.get("accept")
        return MeasuredValue(
            statistic="mean",
            value=average.mean if average else UNSET,
            unit=self.of.symbol,
            readings=packages.readings.count,
            packages=packages.contents.count,
            outside=found if isinstance(found, int) else UNSET,
            allowed=allowed if isinstance(allowed, int) else UNSET,
        )

    def _given_away(
        self, average: Average | None, plan: ContentPlan, packages: Packages, content: Content, lot: LotSize
    ) -> GivenAway | UnsetType:
        """The content above the nominal one, of a package and of the lot; UNSET while there is no mean."""
        if average is None:
            return UNSET
        mean = packages.contents.picked(packages.first[: plan.mean.packages]).mean()

        def over(packages_counted: int) -> float:
            return answered(mean, lambda known: nearest_double((known - content.nominal) * packages_counted))

        return GivenAway(
            per_package=over(1),
            per_lot=UNSET if lot.packages is None else over(lot.packages),
            unit=self.of.symbol,
            set_point=UNSET if self.chance is None else self._set_point(average, plan, packages, content, self.chance),
        )

    @staticmethod
    def _set_point(average: Average, plan: ContentPlan, packages: Packages, content: Content, chance: Fraction) -> float:
        """The mean that would meet the rule with this chance at the current spread."""
        absolute_floor = content.absolute_floor
        floors = Floors(float(content.nominal), float(content.floor), None if absolute_floor is None else float(absolute_floor))
        current = CurrentSpread(deviation_of(packages, packages.first[: plan.mean.packages]), average.allowance)
        return set_point(plan, floors, current, chance)

    def missing(self, lot: Lot) -> list[Missing]:
        """The packages that the first sample lacks, and the readings that the samples of averaged sources lack."""
        plan = self.plan(lot.sizes)
        needed = 0 if isinstance(plan, NoPlan) else max(plan.mean.packages, plan.stages[0].packages)
        short = ((source, needed - self._packages_drawn(source, lot)) for source in self.read_per_package)
        return [*self._averaged_missing(lot), *(_one_reading_each(source, lacking) for source, lacking in short if lacking > 0)]

    def _still_to_measure(self, missing: Missing, lot: Lot) -> str:
        """The missing readings of a source in a sentence: `gross mass on 20 more balls`."""
        source = next(source for source in self.of.sources if source.name == missing.characteristic)
        size = source.own_sample(lot.sizes) if source in self.averaged else None
        return missing_text(missing, source, size.readings_per_package if isinstance(size, SampleSize) else 1)

    def _packages_drawn(self, source: CompiledCharacteristic, lot: Lot) -> int:
        """How many packages of the first sample have a content; where none has, on how many this source was read."""
        contents, readings = lot.readings(self.of), lot.readings(source)
        if contents:
            return len(packages_of(contents, lot).first)
        return readings.packages if readings else 0

    def _packages_missing(self, packages: int) -> list[Missing]:
        """So many packages, for each source that is read on every package."""
        return [_one_reading_each(source, packages) for source in self.read_per_package]

    def _averaged_missing(self, lot: Lot) -> list[Missing]:
        """The readings that the samples of averaged sources lack."""
        found = []
        for source in self.averaged:
            readings, size = lot.readings(source), source.own_sample(lot.sizes)
            if isinstance(size, NoPlan):
                continue
            if lacking := shortage_of(size, readings.package_counts if readings else {}, 1, "readings"):
                found.append(lacking.of(source.name))
        return found

    def _without_readings(self, lot: Lot, limits: ResolvedLimits) -> Finding:
        """The undecided finding where there are no contents, or where a source that they are derived from is missing."""
        sides = [(source, lot.readings(source)) for source in self.of.sources]
        present = [readings for _, readings in sides if readings]
        absent = [source for source, readings in sides if readings is None]
        at = series_of(*present)
        if present and absent:
            text = f"No reading of {absent[0].words} is given, and {self.of.words} is calculated from it. Measure it too."
            parameters: dict[str, object] = {"absent": absent[0].name}
            reason = Reason("no-partner", text, parameters, f"{self.of.pointer}/derived", at.first, at.total)
            return self.finding(Outcome.UNDECIDED, [reason], limits)
        missing = self.missing(lot)
        said = [self._still_to_measure(each, lot) for each in missing]
        parameters = {"missing": missing}
        text = f"Still to measure: {' and '.join(said)}."
        reason = Reason("readings-missing", text, parameters, self.rule_pointer, at.first, at.total)
        return self.finding(Outcome.UNDECIDED, [reason], limits, missing=missing)


def _one_reading_each(source: CompiledCharacteristic, packages: int) -> Missing:
    """So many packages with one reading each."""
    return Missing(characteristic=source.name, packages=packages, readings=packages)


def _resolved(content: Content) -> ResolvedLimits:
    """The limits as a finding reports them: nominal content, tolerable floor as `lower`, absolute floor as `outer`."""
    outer = UNSET if content.absolute_floor is None else ResolvedLimits(lower=reported(content.absolute_floor))
    return ResolvedLimits(lower=reported(content.floor), nominal=reported(content.nominal), outer=outer, unit=content.unit)
