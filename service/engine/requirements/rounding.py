"""The rounding of a value before it is compared with limits."""

from fractions import Fraction
from typing import NamedTuple

from msgspec import UnsetType

from service.engine.characteristics import Rounding
from service.engine.numbers import Exact, Way, exact, to_step


class RoundingStep(NamedTuple):
    """A step, in the unit of the value, and which way values between two multiples of it are rounded."""

    step: Fraction
    way: Way

    def of(self, value: Exact) -> Fraction:
        """The value, rounded to a multiple of the step."""
        return to_step(value, self.step, self.way)


def step_of(rounding: Rounding | UnsetType) -> RoundingStep | None:
    """The compiled rounding of a document without flaws; None where it has none. Ties go to even where it does not say."""
    if isinstance(rounding, UnsetType):
        return None
    return RoundingStep(exact(rounding.step), rounding.ties or rounding.toward or "even")
