"""What it takes to check single readings of a characteristic in a unit: worked out once, and kept with the grade."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Reason
from service.engine.numbers import exact
from service.engine.requirements import EachRule, MeanRule


class ReadingPlan(Struct, frozen=True):
    """What it takes to check readings of one characteristic in one unit."""

    of: CompiledCharacteristic
    factor: Fraction | None
    """What a reading is multiplied by, or divided into where `turned_round`; None where it is in the grade's unit."""
    is_inverted: bool
    single_reading_rules: Sequence[EachRule]
    """The requirements that limit a single reading."""
    mean_rules: Sequence[MeanRule | EachRule]
    """Those on means, which one reading cannot decide."""
    undecided_reasons: Sequence[Reason] | UnsetType
    """Why no reading decides anything, where no binding requirement limits a single one."""

    def value(self, reading: float) -> Fraction:
        """The reading in the grade's unit, exactly."""
        value = exact(reading)
        if self.factor is None:
            return value
        return self.factor / value if self.is_inverted else value * self.factor
