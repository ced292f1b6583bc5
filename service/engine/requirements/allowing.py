"""Rules by which so many values may be outside limits: how many, and which limits bound these too."""

from fractions import Fraction

from service.engine.characteristics import Bounds
from service.engine.requirements.limits.rules import LimitedRule


class AllowingRule(LimitedRule, frozen=True, kw_only=True):
    """At most so many values are outside the limits, and none is outside the outer ones."""

    outer: Bounds | None
    allowed_count: int
    allowed_percent: Fraction | None
    allowed_pointer: str

    @property
    def allows_some(self) -> bool:
        """True where any value at all may be outside."""
        return self.allowed_count > 0 or bool(self.allowed_percent)

    def allowed(self, count: int) -> int:
        """How many of so many values may be outside, a percentage rounded down."""
        return self.allowed_count if self.allowed_percent is None else int(self.allowed_percent * count // 100)

    def subject(self, number: int, total: int) -> str:
        """The start of a sentence: `2 of 10 readings of breaking force are`."""
        what = "readings" if self.over == "readings" else "package means"
        return f"{number} of {total} {what} of {self.of.words} {'is' if number == 1 else 'are'}"
