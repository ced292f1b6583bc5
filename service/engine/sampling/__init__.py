"""Sampling plans: how many packages to take, and how many readings of each."""

from service.engine.sampling.plans import Every, Fixed, Percent, SampleSize, SquareRoot

Sample = Fixed | Percent | SquareRoot | Every
"""Any plan that a specification may name in `plan`; a new one is a Struct in a module here and a word in this line."""


def size_of(sample: Sample, lot_size: int | None) -> SampleSize | None:
    """What the plan asks of a lot of so many packages; None where it goes by the lot's size and that is not told."""
    packages = sample.packages_of(lot_size)
    return None if packages is None else SampleSize(packages, sample.readings_per_package or 1)


__all__ = ["Every", "Fixed", "Percent", "Sample", "SampleSize", "SquareRoot", "size_of"]
