"""What a plan comes to for one lot: how many packages to draw, and how many may fail or how good they must be."""

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Literal, NamedTuple

from msgspec import Struct, UnsetType

from service.engine.documents import Inspection

Basis = Literal["attributes", "variables"]
"""What a lot is accepted by: packages that do not conform, or how far the mean lies from a limit."""


class LotSize(NamedTuple):
    """How large a lot is, by what is told of it, and how severely it is inspected."""

    packages: int | None
    length: Fraction | None = None
    """In metres."""
    mass: Fraction | None = None
    """In kilograms."""
    inspection: Inspection = "normal"
    by_class: Mapping[str, Inspection] = MappingProxyType({})
    """Where it is told class by class …"""
    by_requirement: Mapping[str, Inspection] = MappingProxyType({})
    """… or requirement by requirement, which stands before it."""

    def under(self, requirement: str, class_name: str | UnsetType) -> "LotSize":
        """The same lot as one requirement, which may count a class, is to see it."""
        told = self.by_requirement.get(requirement) or self.by_class.get(class_name or "")
        return self._replace(inspection=told) if told else self

    def in_packs(self, holds: int) -> "LotSize":
        """The same lot counted in packs of so many packages, the last of which may hold fewer: 7 in twos are 4."""
        return self if self.packages is None or holds == 1 else self._replace(packages=-(-self.packages // holds))


class Stage(Struct, frozen=True):
    """One sample of a plan by attributes; its numbers are cumulative with those of the stage before."""

    packages: int
    """To draw in this stage."""
    accept: int | None
    """Ac: so many nonconforming ones at most accept; None where this stage can't accept."""
    reject: int
    """Re: so many at least reject. Ac + 1 at the last stage, more where reduced inspection has its gap."""


class AttributesPlan(Struct, frozen=True):
    """A plan by attributes for one lot: one stage, or two for a double plan."""

    stages: tuple[Stage, ...]
    letter: str | None = None
    """Of the table, after arrows; None where the plan is of no table."""
    takes_all: bool = False
    """True where the first stage is every package of the lot."""


class VariablesPlan(Struct, frozen=True):
    """A plan by variables for one lot: accept where the quality statistic is at least k."""

    packages: int
    k: Fraction
    """As printed in the table, or computed and rounded to so many decimals: that numeral is compared."""
    letter: str | None = None
    """Of the table, after arrows; None where the plan is of no table."""


class NoPlan(Struct, frozen=True):
    """Why there is no plan for this lot: the code and the sentence of an `undecided` finding."""

    code: str
    """`lot-size-unknown`, `plan-not-in-table`, `lot-smaller-than-plan`, `lot-beyond-bands` or `no-such-plan`."""
    text: str
