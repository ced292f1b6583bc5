"""`eu-76-211`: the reference test of Council Directive 76/211/EEC, Annexes I and II, for packages of 5 g to 10 kg.

The text accepts a mean "greater than" the floor and the table one that is equal; the table is what inspectors use, so
equality accepts. The Directive prints the double plan; the single one is that of the laws made under it (UK SI 2006/659,
Schedule 2; NI SR 2011/331, Schedule 2).
"""

from fractions import Fraction

from service.engine.requirements.net_content.figures import (
    Law,
    MeanCheck,
    Row,
    Tolerance,
    WholeRow,
    bands_in_grams,
    double,
    single,
)

MOST = 10_000
"""Annex II, 1: the most packages that count as one batch."""
MEAN_30, MEAN_50 = MeanCheck(30, Fraction("0.503")), MeanCheck(50, Fraction("0.379"))
MEAN_DESTRUCTIVE = MeanCheck(20, Fraction("0.640"))
SINGLE = (
    Row(100, 500, single(50, 3), MEAN_30),
    Row(501, 3200, single(80, 5), MEAN_50),
    Row(3201, MOST, single(125, 7), MEAN_50),
)
DOUBLE = (
    Row(100, 500, double(30, 1, 3, 4), MEAN_30),
    Row(501, 3200, double(50, 2, 5, 6), MEAN_50),
    Row(3201, MOST, double(80, 3, 7, 8), MEAN_50),
)
DESTRUCTIVE = (Row(100, MOST, single(20, 1), MEAN_DESTRUCTIVE),)
# Below 100 packages every one is measured, and the Directive does not say how many may be short by more than is tolerable.
WHOLE = WholeRow(1, 99, percent_beyond=None)
TOLERANCE = Tolerance(
    tuple(
        bands_in_grams(
            (5, 50, "9", "%"),
            (50, 100, "4.5", "g"),
            (100, 200, "4.5", "%"),
            (200, 300, "9", "g"),
            (300, 500, "3", "%"),
            (500, 1000, "15", "g"),
            (1000, 10_000, "1.5", "%"),
        )
    ),
    rounding_up_to=Fraction(1, 10_000),
)
"""Annex I, 2.4 and 2.5: bands share their ends, where the figures of both agree; percentages are rounded up to 0.1 g."""
TWICE = Fraction(2)
"""Annex I, 1 and 5: a package that is short by more than twice the tolerable error may not bear the mark."""

LAW = Law(
    name="eu-76-211",
    quantity="mass",
    rows={"single": (WHOLE, *SINGLE), "double": (WHOLE, *DOUBLE), "destructive": DESTRUCTIVE},
    tolerance=TOLERANCE,
    none_beyond_times=TWICE,
)
