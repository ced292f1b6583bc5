"""`nist-hb133`: the sample error limit of NIST Handbook 133, chapter 2, with the plan and the allowable variation of the grade.

The plans and the maximum allowable variations of the Handbook are not stored here, as its tables have not been read: a grade
states them.
"""

from collections.abc import Mapping
from fractions import Fraction

NAME = "nist-hb133"
LEAST = 2
# Calculated, not copied: t(0.975; n − 1)/√n to three decimals, for n = 2 to 60.
_FACTORS = (
    "8.985 2.484 1.591 1.242 1.049 0.925 0.836 0.769 0.715 0.672 0.635 0.604 0.577 0.554 0.533 0.514 0.497 0.482 0.468 0.455 "
    "0.443 0.432 0.422 0.413 0.404 0.396 0.388 0.380 0.373 0.367 0.361 0.355 0.349 0.344 0.338 0.333 0.329 0.324 0.320 0.316 "
    "0.312 0.308 0.304 0.300 0.297 0.294 0.290 0.287 0.284 0.281 0.278 0.276 0.273 0.270 0.268 0.265 0.263 0.261 0.258"
)
SAMPLE_CORRECTION: Mapping[int, Fraction] = {
    packages: Fraction(factor) for packages, factor in enumerate(_FACTORS.split(), start=LEAST)
}
"""The factor of the standard deviation by the number of packages in the sample, from 2 to 60."""
