"""Any sampling plan as a specification names it, and the sample size that results from it."""

from service.engine.sampling.acceptance import LotSize, NoPlan
from service.engine.sampling.code_letter import CodeLetter
from service.engine.sampling.plans import Bands, Every, Fixed, Percent, SampleSize, SquareRoot
from service.engine.sampling.two_point import TwoPoint

Sample = Fixed | Percent | SquareRoot | Every | Bands | CodeLetter | TwoPoint
"""Any plan that a specification may name in `plan`; a new one is a Struct in a module here and a word in this line."""


def size_of(sample: Sample, lot: LotSize) -> SampleSize | NoPlan:
    """What the plan asks of a lot; NoPlan where it goes by something that is not told, or has nothing for such a lot."""
    packages = sample.packages_of(lot)
    return packages if isinstance(packages, NoPlan) else SampleSize(packages, sample.readings_per_package or 1)
