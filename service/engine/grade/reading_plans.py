"""Plans for checks of single readings: what does not depend on the reading, cached with the grade."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct, UnsetType

from service.engine.characteristics import CompiledCharacteristic
from service.engine.documents import Reason
from service.engine.numbers import exact
from service.engine.requirements import EachRule, MeanRule


class ReadingPlan(Struct, frozen=True):
    """All that checks of one characteristic in one unit have in common."""

    of: CompiledCharacteristic
    factor: Fraction | None
    """Multiplied by it, a reading is in the grade's unit; where `is_inverted` it is divided by the reading. None for 1."""
    is_inverted: bool
    """True where the units are reciprocal, such as a runnage in m/kg sent as a linear density in ktex."""
    single_reading_rules: Sequence[EachRule]
    """The requirements that limit a single reading."""
    mean_rules: Sequence[MeanRule | EachRule]
    """The requirements on means of a lot or of packages, which one reading cannot decide."""
    undecided_reasons: Sequence[Reason] | UnsetType
    """Why no reading decides anything; UNSET where a binding requirement limits single readings."""

    def value(self, reading: float) -> Fraction:
        """The reading in the grade's unit, exactly."""
        value = exact(reading)
        # The usual case: a multiplication of fractions by 1 would calculate a greatest common divisor for nothing.
        if self.factor is None:
            return value
        return self.factor / value if self.is_inverted else value * self.factor
