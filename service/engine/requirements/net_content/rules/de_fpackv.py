"""`de-fpackv` and `de-fpackv-length`: the German Fertigpackungsverordnung of 18.11.2020, sections 9, 26, 28, Annexes 3, 4.

The plans for mass are those for destructive and for reduced checks. Length is judged by the range of the sample; a yarn of
up to 100 m may be short by 4 %, everything else by 2 %.
"""

from fractions import Fraction

from service.engine.requirements.net_content.figures import Band, Law, MeanCheck, Row, Tolerance, single
from service.engine.requirements.net_content.rules.eu_76_211 import TOLERANCE, TWICE

# The factor for 5 packages is printed as 2.058; t(0.995; 4)/√5 is 2.0590. The printed numeral is the law, so it is compared.
MASS_PLANS = (
    (10, 99, 5, 0, "2.058"),
    (100, 500, 8, 0, "1.237"),
    (501, 3200, 13, 1, "0.847"),
    (3201, 10_000, 20, 1, "0.640"),
    (10_001, None, 30, 2, "0.503"),
)
"""(least batch, greatest batch, packages n, accept number c, factor k of the standard deviation)"""
LENGTH_PLANS = (
    (26, 50, 3, "1.0"),
    (51, 150, 5, "0.35"),
    (151, 500, 8, "0.2"),
    (501, 3200, 13, "0.15"),
    (3201, 10_000, 20, "0.1"),
    (10_001, None, 30, "0.085"),
)
"""(least batch, greatest batch, packages n, factor a of the range)"""
ZERO, ONE_HUNDRED = Fraction(0), Fraction(100)
TWO_PERCENT = Band(ZERO, None, percent=Fraction(2))
FOUR_PERCENT_TO_100_M = Band(ZERO, ONE_HUNDRED, percent=Fraction(4))

MASS = Law(
    name="de-fpackv",
    quantity="mass",
    rows={
        "single": tuple(
            Row(least, greatest, single(n, c), MeanCheck(n, Fraction(k))) for least, greatest, n, c, k in MASS_PLANS
        )
    },
    tolerance=TOLERANCE,
    none_beyond_times=TWICE,
)
LENGTH = Law(
    name="de-fpackv-length",
    quantity="length",
    rows={
        "single": tuple(
            Row(least, greatest, single(n, 0), MeanCheck(n, Fraction(a), "range")) for least, greatest, n, a in LENGTH_PLANS
        )
    },
    tolerance=Tolerance((TWO_PERCENT,)),
    yarn_tolerance=Tolerance((FOUR_PERCENT_TO_100_M, TWO_PERCENT)),
)
