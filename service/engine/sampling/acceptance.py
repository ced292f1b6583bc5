"""The plan for one lot: how many packages to draw, with acceptance numbers or k; and the lot's size that it depends on."""

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Literal, NamedTuple

from msgspec import Struct, UnsetType

from service.engine.documents import Inspection

Basis = Literal["attributes", "variables"]
"""What a lot is accepted by: the number of nonconforming packages, or the distance of the mean from a limit."""


class LotSize(NamedTuple):
    """What a plan may depend on: the lot's size by whatever measures are given, and the severity of inspection."""

    packages: int | None
    length: Fraction | None = None
    """In metres."""
    mass: Fraction | None = None
    """In kilograms."""
    inspection: Inspection = "normal"
    by_class: Mapping[str, Inspection] = MappingProxyType({})
    """Severities by class of faults, where they differ from `inspection`."""
    by_requirement: Mapping[str, Inspection] = MappingProxyType({})
    """Severities by requirement; they take precedence over those by class."""

    def under(self, requirement: str, class_name: str | UnsetType) -> "LotSize":
        """The same lot with `inspection` as given for one requirement, which may count a class."""
        severity = self.by_requirement.get(requirement) or self.by_class.get(class_name or "")
        return self._replace(inspection=severity) if severity else self

    def in_packs(self, holds: int) -> "LotSize":
        """The same lot with its size in packs of `holds` packages; the last may have fewer: 7 packages in twos are 4 packs."""
        # -(-a // b) divides whole numbers and rounds up, exactly.
        return self if self.packages is None or holds == 1 else self._replace(packages=-(-self.packages // holds))


class Stage(Struct, frozen=True):
    """One sample of a plan by attributes. Ac and Re are cumulative: they count the stage before too."""

    packages: int
    """The number of packages to draw in this stage."""
    accept: int | None
    """Ac, the largest number nonconforming that accepts; None where this stage can't accept."""
    reject: int
    """Re, the smallest number that rejects: Ac + 1 at the last stage, but for the gap of reduced inspection."""


class AttributesPlan(Struct, frozen=True):
    """A plan by attributes for one lot, of one stage, or of two for a double plan."""

    stages: tuple[Stage, ...]
    letter: str | None = None
    """The code letter in the table, after arrows; None for a plan of no table."""
    takes_all: bool = False
    """True where the first stage is every package of the lot."""


class VariablesPlan(Struct, frozen=True):
    """A plan by variables for one lot: accept where the quality statistic is at least k."""

    packages: int
    # The rounded numeral is compared, not the number behind it: whoever checks a verdict by hand has only what was printed.
    k: Fraction
    """k as printed in the table, or calculated to four decimals."""
    letter: str | None = None
    """The code letter in the table, after arrows; None for a plan of no table."""


class NoPlan(Struct, frozen=True):
    """Why there is no plan for this lot: the code and the sentence of an `undecided` finding."""

    # A result and no exception: for want of a lot's size one requirement is undecided, and the others are judged.
    code: str
    """`lot-size-unknown`, `plan-not-in-table`, `lot-smaller-than-plan`, `lot-beyond-bands` or `no-such-plan`."""
    text: str
