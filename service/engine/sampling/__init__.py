"""Sampling plans: how many packages to take, and how many readings of each."""

from service.engine.sampling.plans import Every, Fixed, Percent, SampleSize, SquareRoot

Sample = Fixed | Percent | SquareRoot | Every
"""Any plan that a specification may name in `plan`; a new one is a Struct in a module here and a word in this line."""

__all__ = ["Every", "Fixed", "Percent", "Sample", "SampleSize", "SquareRoot"]
