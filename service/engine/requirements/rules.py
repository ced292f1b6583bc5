"""Compiled requirements: what all kinds hold."""

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
    """A requirement without flaws."""

    pointer: str
    """`/requirements/3`"""
    id: str
    kind: str
    binding: bool
    clause: str | UnsetType
    retest: Retest | None = None
    """The second sample that is allowed where the first has failed."""

    @property
    def characteristic_name(self) -> str | UnsetType:
        """Of the characteristic that it is put on, where it is put on one."""
        return UNSET

    @property
    def class_name(self) -> str | UnsetType:
        """Of the class that it counts, where it counts one."""
        return UNSET

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """The characteristics that it takes readings or declarations of."""
        return ()

    def seen(self, lot: LotSize) -> LotSize:
        """The size of the lot, and how severely it is inspected for this requirement."""
        return lot.under(self.id, self.class_name) if lot.by_class or lot.by_requirement else lot

    def doubtful_finding(self, lot: Lot) -> Finding | None:
        """Undecided while readings that it rests on can't be taken as they stand, whatever they say; None where they can."""
        if not lot.doubts:
            return None
        names = dict.fromkeys(source.name for source in self.sources)
        reasons = [reason for name in names for reason in lot.doubts.get(name, ())]
        return self.finding(Outcome.UNDECIDED, reasons, self.resolved_limits) if reasons else None

    def missing(self, lot: Lot) -> Sequence[Missing]:
        """What completes the samples that it rests on; empty where they are complete, or where nobody can say."""
        return ()

    def is_double(self, lot: Lot) -> bool:
        """True where its plan for this lot has a second sample of its own."""
        return False

    def calls_for_second(self, lot: Lot) -> bool:
        """True where its plan has a second sample and the first leaves it open, or nobody can tell yet."""
        return False

    @property
    def resolved_limits(self) -> ResolvedLimits | UnsetType:
        """Its limits as a finding gives them, where it has any."""
        return UNSET

    @property
    def fault_names(self) -> Sequence[str]:
        """The faults that its document names, in that order."""
        return ()

    @property
    def events(self) -> Sequence[str]:
        """The events whose dates it goes by."""
        return ()

    def flaws_in(self, evidence: Evidence) -> Iterator[Flaw]:
        """What is wrong with evidence in the light of this requirement alone; the places are in the evidence."""
        return iter(())

    def draws(self, lot: LotSize) -> Iterator[Draw | Undrawn]:
        """What it takes from a lot of this size before it is tested; nothing where it goes by declarations or dates."""
        return iter(())

    def draws_by_attributes(self, plan: AttributesPlan | NoPlan, rule: str) -> Iterator[Draw | Undrawn]:
        """What a plan by attributes takes, stage by stage; `rule` points to where the sample is asked for."""
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
                accept=UNSET if stage.accept is None else stage.accept,
                reject=stage.reject,
                letter=plan.letter or UNSET,
                rule=rule,
            )

    @property
    def asked(self) -> Sequence[CountsNeeded]:
        """What it asks to be counted."""
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
    """A requirement on one characteristic."""

    of: CompiledCharacteristic

    @property
    def characteristic_name(self) -> str:
        """Of the characteristic that it is put on."""
        return self.of.name

    @property
    def sources(self) -> Sequence[CompiledCharacteristic]:
        """That characteristic, and what it is derived from."""
        return self.of.lineage


class CommonFields(TypedDict):
    """What every compiled requirement takes over from its document."""

    pointer: str
    id: str
    kind: str
    binding: bool
    clause: str | UnsetType


class CharacteristicFields(CommonFields):
    """What every requirement on a characteristic takes over from its document."""

    of: CompiledCharacteristic


def common_fields(document: Requirement, pointer: str) -> CommonFields:
    """What the compiled requirement takes over."""
    return {
        "pointer": pointer,
        "id": document.id,
        "kind": str(type(document).__struct_config__.tag),
        "binding": document.binding is not False,
        "clause": document.clause,
    }


def characteristic_fields(document: OnCharacteristic, of: CompiledCharacteristic, pointer: str) -> CharacteristicFields:
    """What the compiled requirement on a characteristic takes over."""
    return {**common_fields(document, pointer), "of": of}
