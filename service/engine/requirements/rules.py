"""Compiled requirements: what all kinds hold."""

from collections.abc import Sequence
from typing import TypedDict

from msgspec import UNSET, Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.requirements.documents import Requirement
from service.engine.verdict import Finding, MeasuredValue, Missing, Outcome, Reason, ResolvedLimits


class Rule(Struct, frozen=True, kw_only=True):
    """A requirement without flaws."""

    pointer: str
    """`/requirements/3`"""
    id: str
    kind: str
    of: CompiledCharacteristic
    binding: bool
    clause: str | UnsetType

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


class CommonParts(TypedDict):
    """What every compiled requirement takes over from its document."""

    pointer: str
    id: str
    kind: str
    of: CompiledCharacteristic
    binding: bool
    clause: str | UnsetType


def common_parts(document: Requirement, of: CompiledCharacteristic, pointer: str) -> CommonParts:
    """What the compiled requirement takes over."""
    return {
        "pointer": pointer,
        "id": document.id,
        "kind": str(type(document).__struct_config__.tag),
        "of": of,
        "binding": document.binding is not False,
        "clause": document.clause,
    }
