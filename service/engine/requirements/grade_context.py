"""The parts of a grade that a requirement may refer to: its characteristics and its other requirements."""

from collections.abc import Mapping
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.characteristics import CompiledCharacteristic, Limits
from service.engine.documents import PACKAGE
from service.engine.requirements.documents import Limited, Requirement


class GradeContext(NamedTuple):
    """The grade, as far as a requirement needs it to be checked and compiled."""

    characteristics: Mapping[str, CompiledCharacteristic]
    """The characteristics that could be compiled, by name."""
    requirements: Mapping[str, Requirement]
    """The documents of all requirements, by id; the first one where an id is used twice."""
    pointers: Mapping[str, str]
    """The pointer of each of these documents in the specification, by id."""
    package: str = PACKAGE
    """The grade's word for a package."""

    def limits_of(self, requirement: str) -> tuple[Limits, CompiledCharacteristic] | None:
        """The limits of the requirement of this id and the characteristic that they are on; None where it has none."""
        document = self.requirements.get(requirement)
        if isinstance(document, Limited) and not isinstance(document.limits, UnsetType):
            return document.limits, self.characteristic(document.of)
        return None

    def characteristic(self, name: str) -> CompiledCharacteristic:
        """The characteristic of this name; a ratio of that name where the grade has none, or none with a quantity."""
        # A ratio may have any limits, so an unknown name is reported once and causes no further flaws of limits.
        return self.characteristics.get(name) or CompiledCharacteristic("", name, "ratio", None, None, None, {})
