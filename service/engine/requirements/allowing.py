"""Compiled requirements that allow a number of values outside their limits, and none outside their outer limits."""

from fractions import Fraction

from service.engine.characteristics import Bounds
from service.engine.requirements.limits.rules import LimitedRule


class AllowingRule(LimitedRule, frozen=True, kw_only=True):
    """At most an allowed number or percentage of values is outside the limits, and none outside the outer limits."""

    outer: Bounds | None
    allowed_count: int
    allowed_percent: Fraction | None
    allowed_pointer: str

    @property
    def allows_some(self) -> bool:
        """True where at least one value may be outside, in a lot that is large enough."""
        return self.allowed_count > 0 or bool(self.allowed_percent)

    def allowed(self, count: int) -> int:
        """How many of `count` values may be outside; a percentage is rounded down: 5 % of 39 values allow 1."""
        # In fractions: 9.2 % of 750 values are 69, and doubles give 68 (9.2 * 750 = 6899.999…).
        return self.allowed_count if self.allowed_percent is None else int(self.allowed_percent * count // 100)

    def all_within(self, total: int) -> str:
        """The start of a sentence: `All 10 readings of breaking force are within the limits`."""
        if total == 1:
            return f"The one {self._value} of {self.of.words} taken is within the limits"
        return f"All {total} {self._value}s of {self.of.words} are within the limits"

    def subject(self, number: int, total: int) -> str:
        """The start of a sentence: `2 of 10 readings of breaking force are`; `The one reading of breaking force taken is`."""
        if total == 1:
            return f"The one {self._value} of {self.of.words} taken is"
        return f"{number} of {total} {self._value}s of {self.of.words} {'is' if number == 1 else 'are'}"

    def outside_text(self, number: int, total: int, allowed: int) -> str:
        """The start of a sentence: `2 of 10 readings of breaking force are outside the limits, and 1 may be`."""
        may = "none may be" if allowed == 0 else f"{allowed} may be"
        return f"{self.subject(number, total)} outside the limits, and {may}"

    @property
    def _value(self) -> str:
        return "reading" if self.over == "readings" else f"{self.package} mean"
