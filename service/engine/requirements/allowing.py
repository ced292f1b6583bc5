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

    def subject(self, number: int, total: int) -> str:
        """The start of a sentence: `2 of 10 readings of breaking force are`."""
        what = "readings" if self.over == "readings" else "package means"
        return f"{number} of {total} {what} of {self.of.words} {'is' if number == 1 else 'are'}"
