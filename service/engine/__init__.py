"""The rules of the trade. Pure: no input or output, no clock, no framework."""

ENGINE = "1"
"""Numbers the rules: kinds, plans, units, rounding, defaults, not wording. The same number gives the same verdict for ever."""
