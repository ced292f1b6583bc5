"""The base classes of compiled requirements, with what all kinds have in common."""

from collections.abc import Iterator, Sequence
from typing import TypedDict

from msgspec import UNSET, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import (
    Draw,
    Evidence,
    Finding,
    Flaw,
    MeasuredValue,
    Missing,
    Outcome,
    Reason,
    ResolvedLimits,
    Undrawn,
)
from service.engine.lot import CountsNeeded, Lot
from service.engine.requirements.documents import OnCharacteristic, Requirement, Retest
from service.engine.sampling import AttributesPlan, LotSize, NoPlan


class Rule(Struct, frozen=True, kw_only=True):
    """A compiled requirement of any kind. A kind adds `judge(lot)`, which gives the finding on a lot."""

    pointer: str
    """Its place in the specification: `/requirements/3`."""
    id: str
    kind: str
    binding: bool
    clause: str | UnsetType
    package: str
    """The grade's word for a package, or for a pack where its readings are of packs: `ball`."""
    retest: Retest | None = None
    """The second sample that is allowed where the first has failed; None where none is."""

    # The members below are for kinds to override: each default suits a kind that has nothing of the sort.

    @property
    def characteristic_name(self) -> str | UnsetType:
        """The name of the characteristic that the requirement is on; UNSET for a kind that is on none."""
        return UNSET

    @property
    def class_name(self) -> str | UnsetType:
        """The name of the class that it counts; UNSET for a kind that counts none."""
        return UNSET

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """The characteristics whose readings or declarations it needs."""
        return ()

    def seen(self, lot: LotSize) -> LotSize:
        """The size of the lot, with the severity of inspection that holds for this requirement."""
        # Most lots state no severity by class or requirement, and then nothing is copied.
        return lot.under(self.id, self.class_name) if lot.by_class or lot.by_requirement else lot

    def doubtful_finding(self, lot: Lot) -> Finding | None:
        """An undecided finding where readings that it needs are in doubt, whatever their values; None where none are."""
        if not lot.doubts:
            return None
        # A dict in place of a set: it keeps the order of the sources, and so the order of the reasons.
        names = dict.fromkeys(source.name for source in self.sources)
        reasons = [reason for name in names for reason in lot.doubts.get(name, ())]
        return self.finding(Outcome.UNDECIDED, reasons, self.resolved_limits) if reasons else None

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """The readings that would complete its samples; empty where they are complete or their size is not known."""
        return ()

    def is_double(self, lot: Lot) -> bool:
        """True where its sampling plan for this lot is a double one."""
        return False

    def calls_for_second(self, lot: Lot) -> bool:
        """True where its plan is double and the first sample does not decide, or where that is not known yet."""
        return False

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """Its limits as a finding reports them; UNSET where it has none."""
        return UNSET

    @property
    def fault_names(self) -> Sequence[str]:
        """The faults that its document names, in the order of the document."""
        return ()

    @property
    def events(self) -> Sequence[str]:
        """The events whose dates it needs."""
        return ()

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """The flaws of the evidence that only this requirement can find, with pointers into the evidence."""
        return iter(())

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """What to draw from a lot of this size; nothing for a kind that judges declarations or dates."""
        return iter(())

    def draws_by_attributes(self, plan: AttributesPlan | NoPlan, rule: str) -> Iterator[Draw | Undrawn]:
        """What to draw by a plan by attributes, one draw for each stage; `rule` is the sample's place in the specification."""
        if isinstance(plan, NoPlan):
            yield Undrawn(self.id, plan.code, plan.text, rule)
            return
        for number, stage in enumerate(plan.stages, start=1):
            yield Draw(
                requirement=self.id,
                kind=self.kind,
                characteristic=self.characteristic_name,
                class_=self.class_name,
                stage=number if len(plan.stages) > 1 else UNSET,
                when="if the first sample does not decide" if number > 1 else UNSET,
                packages=stage.packages,
                # A first stage of a double plan may have no accept number, as it can only reject.
                accept=UNSET if stage.accept is None else stage.accept,
                reject=stage.reject,
                letter=plan.letter or UNSET,
                rule=rule,
            )

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """The counts of classes and faults that it needs."""
        return ()

    def finding(
        self,
        outcome: Outcome,
        reasons: Sequence[Reason],
        limits: ResolvedLimits | UnsetType = UNSET,
        measured: MeasuredValue | UnsetType = UNSET,
        margin: float | UnsetType = UNSET,
        missing: Sequence[Missing] | UnsetType = UNSET,
    ) -> Finding:
        """A finding on this requirement."""
        return Finding(
            requirement=self.id,
            kind=self.kind,
            characteristic=self.characteristic_name,
            class_=self.class_name,
            binding=self.binding,
            outcome=outcome,
            reasons=reasons,
            clause=self.clause,
            measured=measured,
            limits=limits,
            margin=margin,
            missing=missing,
        )


class CharacteristicRule(Rule, frozen=True, kw_only=True):
    """A compiled requirement on one characteristic."""

    of: CompiledCharacteristic

    @property
    def characteristic_name(self) -> str:
        """The name of the characteristic that the requirement is on."""
        return self.of.name

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """The characteristic, and those that it is derived from."""
        return self.of.lineage


class CommonFields(TypedDict):
    """The fields of every compiled requirement that come from its document."""

    pointer: str
    id: str
    kind: str
    binding: bool
    clause: str | UnsetType
    package: str


class CharacteristicFields(CommonFields):
    """The fields of every compiled requirement on a characteristic that come from its document."""

    of: CompiledCharacteristic


def common_fields(document: Requirement, pointer: str, package: str) -> CommonFields:
    """The fields of a compiled requirement, for its constructor; `package` is the grade's word for a package."""
    return {
        "pointer": pointer,
        "id": document.id,
        "kind": str(type(document).__struct_config__.tag),
        "binding": document.binding is not False,
        "clause": document.clause,
        "package": package,
    }


def characteristic_fields(document: OnCharacteristic, of: CompiledCharacteristic, pointer: str) -> CharacteristicFields:
    """The fields of a compiled requirement on a characteristic, for its constructor."""
    return {**common_fields(document, pointer, of.package), "of": of}
