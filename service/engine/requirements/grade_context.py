"""What stands around a requirement in its grade: the characteristics that it may name, and the other requirements."""

from collections.abc import Mapping
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.characteristics import CompiledCharacteristic, Limits
from service.engine.requirements.documents import Limited, Requirement


class GradeContext(NamedTuple):
    """The grade, as a requirement sees it while it is looked over and compiled."""

    characteristics: Mapping[str, CompiledCharacteristic]
    """Those without flaws, by name."""
    requirements: Mapping[str, Requirement]
    """The documents of all requirements by id, the first of an id."""
    pointers: Mapping[str, str]
    """Where each of them stands, by id."""

    def limits_of(self, requirement: str) -> tuple[Limits, CompiledCharacteristic] | None:
        """The limits of the requirement of this id and the characteristic that they are on; None where it has none."""
        document = self.requirements.get(requirement)
        if isinstance(document, Limited) and not isinstance(document.limits, UnsetType):
            return document.limits, self.characteristic(document.of)
        return None

    def characteristic(self, name: str) -> CompiledCharacteristic:
        """The characteristic of this name; one that is not there or has no quantity is taken for a ratio.

        A ratio takes any limits, so that no flaw is made up while another is told.
        """
        return self.characteristics.get(name) or CompiledCharacteristic("", name, "ratio", None, None, None, {})
