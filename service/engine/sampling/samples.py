"""The union of all sampling plans of a specification, and the sample size that a plan gives for a lot."""

from service.engine.sampling.acceptance import LotSize, NoPlan
from service.engine.sampling.code_letter import CodeLetter
from service.engine.sampling.plans import Bands, Every, Fixed, Percent, SampleSize, SquareRoot
from service.engine.sampling.two_point import TwoPoint

Sample = Fixed | Percent | SquareRoot | Every | Bands | CodeLetter | TwoPoint
"""Any plan that a specification may name in `plan`; a new one is a Struct in a module here and a member of this union."""


def size_of(sample: Sample, lot: LotSize) -> SampleSize | NoPlan:
    """The size of a plan's sample for a lot; NoPlan where the lot's size is not given or the plan has none for it."""
    packages = sample.packages_of(lot)
    return packages if isinstance(packages, NoPlan) else SampleSize(packages, sample.readings_per_package or 1)
