"""A requirement on a net content, ready to judge."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from service.engine.characteristics import NOWHERE, CompiledCharacteristic, Pointers, Readings, series_of
from service.engine.documents import Draw, Finding, GivenAway, MeasuredValue, Missing, Outcome, Reason, ResolvedLimits, Undrawn
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
from service.engine.sampling import AttributesPlan, LotSize, NoPlan, Sample


class TablePlan(Struct, frozen=True):
    """A plan that a rule's own table gives."""

    name: str
    rows: Sequence[Row | WholeRow]

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """By the size of the lot."""
        return plan_in(self.name, self.rows, lot)


class GradePlan(Struct, frozen=True):
    """A plan that the grade gives, with a factor that it gives too or that goes by the number of packages."""

    sample: Sample
    at_most: int | None
    factor: Fraction | None
    factors: Mapping[int, Fraction]

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """By the sample; its first stage is averaged."""
        found = self.sample.attributes_plan(lot, self.at_most)
        if isinstance(found, NoPlan):
            return found
        packages = found.stages[0].packages
        if self.factor is not None:
            return ContentPlan(found.stages, MeanCheck(packages, self.factor))
        if packages not in self.factors:
            held = f"{min(self.factors)} to {max(self.factors)}"
            text = f"The factor is held for {held} packages, and the sample takes {packages}. Choose another sample."
            return NoPlan("plan-not-in-table", text)
        return ContentPlan(found.stages, MeanCheck(packages, self.factors[packages]))


class NetContentRule(CharacteristicRule, frozen=True, kw_only=True):
    """The average and the single shortages of a declared content."""

    nominal: Fraction | None
    """In the characteristic's unit; None where it is declared."""
    declared: CompiledCharacteristic | None
    plan_source: TablePlan | GradePlan
    tolerance: Tolerance
    scale: Fraction
    """The characteristic's unit in that of the tolerance."""
    tolerable_factor: Fraction | None
    chance: Fraction | None
    """Of the set-point, as a share; None where none is asked for."""

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """What is weighed, and what is declared."""
        return (*self.of.lineage, *([self.declared] if self.declared else []))

    @property
    def rule_pointer(self) -> str:
        """Where the grade says by which rule."""
        return f"{self.pointer}/rule"

    def plan(self, lot: LotSize) -> ContentPlan | NoPlan:
        """What the rule asks of a lot of this size."""
        return self.plan_source.plan(self.of.counted(lot))

    @property
    def averaged(self) -> Sequence[CompiledCharacteristic]:
        """Those sources of which only the mean goes into every content; they keep their own samples."""
        return self.of.averaged

    @property
    def read_per_package(self) -> Sequence[CompiledCharacteristic]:
        """Those that are read on each package."""
        return [source for source in self.of.sources if source not in self.averaged]

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """The packages of each stage, and how many of them may be short; the average is of the first of them."""
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
        """What a source that keeps its own sample takes; one reading where it has none."""
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
        """True where the rule has a second sample for a lot of this size."""
        plan = self.plan(lot.sizes)
        return not isinstance(plan, NoPlan) and len(plan.stages) > 1

    def calls_for_second(self, lot: Lot) -> bool:
        """True unless the first sample accepts: taking a second one in would choose the better of two."""
        plan, content, readings = self.plan(lot.sizes), self._declared_content(lot), lot.readings(self.of)
        if isinstance(plan, NoPlan) or isinstance(content, Reason) or readings is None:
            return True
        return len(plan.stages) > 1 and not is_accepted_by_first(plan, packages_of(readings, lot), content.floor)

    def judge(self, lot: Lot) -> Finding:
        """Pass, fail, or undecided while packages are missing or the rule has nothing for such a lot."""
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
        if readings.pooled:
            return self.finding(Outcome.UNDECIDED, [self._composite(readings)], limits)
        packages = packages_of(readings, lot)
        return self._finding_by_checks(plan, packages, content, lot)

    def _declared_content(self, lot: Lot) -> Content | Reason:
        """What is declared and tolerable, or why that is not known."""
        nominal = self._nominal(lot)
        if isinstance(nominal, Reason):
            return nominal
        tolerable = self.tolerance.of(nominal * self.scale)
        if tolerable is None:
            at = Pointers((f"/declared/{lot.declared[self.declared.name][0]}",), 1) if self.declared else NOWHERE
            shown = with_unit(to_six_digits(float(nominal)), self.of.symbol)
            text = f"The rule has no figure for a nominal content of {shown}. Judge it by another rule."
            parameters: dict[str, object] = {"nominal": reported(nominal), "unit": self.of.symbol}
            return Reason("nominal-beyond-rule", text, parameters, self.rule_pointer, at.first, at.total)
        return Content(nominal, tolerable / self.scale, self.tolerable_factor, self.of.symbol, self.of.words)

    def _nominal(self, lot: Lot) -> Fraction | Reason:
        """Of the grade, or as declared."""
        if self.declared is None:
            assert self.nominal is not None
            return self.nominal
        found = lot.declared.get(self.declared.name)
        if found is None:
            text = f"The nominal content is not known, as no {self.declared.words} is declared. Declare it."
            return Reason("limit-not-known", text, {"side": "nominal"}, f"{self.pointer}/of_declared", (), 0)
        number, value = found
        if isinstance(value, bool | str) or value <= 0:
            what = f"the declared {self.declared.words} is no number above 0"
            text = f"The nominal content is not known, as {what}. Declare it in {self.declared.symbol}."
            at = (f"/declared/{number}",)
            return Reason("limit-not-known", text, {"side": "nominal"}, f"{self.pointer}/of_declared", at, 1)
        assert self.declared.unit
        assert self.of.unit
        return exact(value) * self.declared.unit.factor / self.of.unit.factor

    def _composite(self, readings: Readings) -> Reason:
        """A short package hides among those that it was weighed with."""
        what = f"Readings of {self.of.words} are of several packages together, and each package has a content"
        at = readings.all_pointers
        text = f"{what}. Send one for each package."
        return Reason("composite-specimen", text, {}, self.rule_pointer, at.first, at.total)

    def _finding_by_checks(self, plan: ContentPlan, packages: Packages, content: Content, lot: Lot) -> Finding:
        """By the average, the shortages, and none of them too far."""
        average, checked = self._average(plan, packages, content)
        shorts = shorts_check(plan, packages, content, self.rule_pointer)
        absolute_floor = absolute_floor_check(packages, content, self.rule_pointer)
        checks = [checked, shorts, *([absolute_floor] if absolute_floor else [])]
        limits = _resolved(content)
        lacking = max(check.missing for check in checks)
        pending = [check.reason for check in checks if check.outcome == Outcome.UNDECIDED]
        failing = any(check.outcome == Outcome.FAIL for check in checks)
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
        """The mean of the first packages that the check takes; None while these are not complete."""
        check, drawn = plan.mean, len(packages.first)
        lacking = check.packages - drawn
        if lacking > 0:
            at = packages.readings.all_pointers
            text = f"Still missing: the contents of {lacking} of the {check.packages} packages that are averaged."
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
        """True where what fails stays so: the first sample is complete, or no further reading changes a content."""
        return packages.is_final or len(packages.first) >= max(plan.mean.packages, plan.stages[0].packages)

    def _measured(self, average: Average | None, packages: Packages, shorts: ContentCheck) -> MeasuredValue:
        """The mean, and how many are short; where a lot fails before all are in, there may be no mean yet."""
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
        """What the packages hold above the nominal content; nothing while there is no mean."""
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
        """The mean that would meet the rule with this chance at today's spread."""
        absolute_floor = content.absolute_floor
        floors = Floors(float(content.nominal), float(content.floor), None if absolute_floor is None else float(absolute_floor))
        current = CurrentSpread(deviation_of(packages, packages.first[: plan.mean.packages]), average.allowance)
        return set_point(plan, floors, current, chance)

    def missing(self, lot: Lot) -> list[Missing]:
        """What the first sample lacks, and the samples of which only the mean goes into every content."""
        plan = self.plan(lot.sizes)
        wanted = 0 if isinstance(plan, NoPlan) else max(plan.mean.packages, plan.stages[0].packages)
        short = ((source, wanted - self._packages_drawn(source, lot)) for source in self.read_per_package)
        return [*self._averaged_missing(lot), *(_one_reading_each(source, lacking) for source, lacking in short if lacking > 0)]

    def _packages_drawn(self, source: CompiledCharacteristic, lot: Lot) -> int:
        """Packages of the first sample that have a content; while there are none, those on which a source of it was read."""
        contents, readings = lot.readings(self.of), lot.readings(source)
        if contents:
            return len(packages_of(contents, lot).first)
        return readings.packages if readings else 0

    def _packages_missing(self, packages: int) -> list[Missing]:
        """So many packages of all that is read one by one."""
        return [_one_reading_each(source, packages) for source in self.read_per_package]

    def _averaged_missing(self, lot: Lot) -> list[Missing]:
        """What the samples lack of which only the mean goes into every content."""
        found = []
        for source in self.averaged:
            readings, size = lot.readings(source), source.own_sample(lot.sizes)
            if isinstance(size, NoPlan):
                continue
            if lacking := shortage_of(size, readings.package_counts if readings else {}, 1, "readings"):
                found.append(lacking.of(source.name))
        return found

    def _without_readings(self, lot: Lot, limits: ResolvedLimits) -> Finding:
        """Nothing is known of the contents yet, or not all that they are worked out from."""
        sides = [(source, lot.readings(source)) for source in self.of.sources]
        present = [readings for _, readings in sides if readings]
        absent = [source for source, readings in sides if readings is None]
        at = series_of(*present)
        if present and absent:
            text = f"There are no readings of {absent[0].words}; {self.of.words} needs them."
            parameters: dict[str, object] = {"absent": absent[0].name}
            reason = Reason("no-partner", text, parameters, f"{self.of.pointer}/derived", at.first, at.total)
            return self.finding(Outcome.UNDECIDED, [reason], limits)
        missing = self.missing(lot)
        sentence = " and ".join(f"{each.packages} packages of {each.characteristic}" for each in missing)
        parameters = {"missing": missing}
        text = f"Still missing: readings on {sentence}."
        reason = Reason("readings-missing", text, parameters, self.rule_pointer, at.first, at.total)
        return self.finding(Outcome.UNDECIDED, [reason], limits, missing=missing)


def _one_reading_each(source: CompiledCharacteristic, packages: int) -> Missing:
    """So many packages, with a reading on each."""
    return Missing(characteristic=source.name, packages=packages, readings=packages)


def _resolved(content: Content) -> ResolvedLimits:
    """The contents that are compared: the nominal for the mean, the least tolerable, and the least that any may hold."""
    outer = UNSET if content.absolute_floor is None else ResolvedLimits(lower=reported(content.absolute_floor))
    return ResolvedLimits(lower=reported(content.floor), nominal=reported(content.nominal), outer=outer, unit=content.unit)
