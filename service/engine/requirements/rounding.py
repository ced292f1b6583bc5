"""How a value is rounded before it is compared."""

from fractions import Fraction
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.characteristics import Rounding
from service.engine.numbers import Exact, Way, exact, to_step


class RoundingStep(NamedTuple):
    """A step, and the way to its multiples."""

    step: Fraction
    way: Way

    def of(self, value: Exact) -> Fraction:
        """The value rounded."""
        return to_step(value, self.step, self.way)


def step_of(rounding: Rounding | UnsetType) -> RoundingStep | None:
    """The rounding without flaws; None where there is none."""
    if isinstance(rounding, UnsetType):
        return None
    return RoundingStep(exact(rounding.step), rounding.ties or rounding.toward or "even")
