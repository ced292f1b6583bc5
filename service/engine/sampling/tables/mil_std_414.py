"""MIL-STD-414 (11 June 1957): sampling plans by variables, standard-deviation method, one limit, Form 1.

The facts of its tables and none of its text. A lot is accepted where (mean − L)/s, or (U − mean)/s, is at least k; s divides
by n − 1. The letters I and O exist here, and a letter means another sample size than in MIL-STD-105E. A published
transcription keeps the letter's own sample size at an arrow; it is not followed, since the page says to use the first plan
below the arrow, its sample size as well as its k.
"""

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from service.engine.sampling.tables.pages import Letters, Page, aqls_of, find_plan, read_letters, read_page

NAME = "MIL-STD-414"

LETTERS = """
    to  I  II  III  IV  V
     8  B   B    B   B  C
    15  B   B    B   B  D
    25  B   B    B   C  E
    40  B   B    B   D  F
    65  B   B    C   E  G
   110  B   B    D   F  H
   180  B   C    E   G  I
   300  B   D    F   H  J
   500  C   E    G   I  K
   800  D   F    H   J  L
  1300  E   G    I   K  L
  3200  F   H    J   L  M
  8000  G   I    L   M  N
 22000  H   J    M   N  O
110000  I   K    N   O  P
550000  I   K    O   P  Q
     ∞  I   K    P   Q  Q
"""
"""Table A-2: the largest lot of each row, and its letter by inspection level; lots begin at 3."""

NORMAL = """
AQL    n  0.04  0.065  0.10  0.15  0.25  0.40  0.65   1.0   1.5   2.5   4.0   6.5    10    15
  B    3     ↓      ↓     ↓     ↓     ↓     ↓     ↓     ↓     ↓  1.12  .958  .765  .566  .341
  C    4     ↓      ↓     ↓     ↓     ↓     ↓     ↓  1.45  1.34  1.17  1.01  .814  .617  .393
  D    5     ↓      ↓     ↓     ↓     ↓     ↓  1.65  1.53  1.40  1.24  1.07  .874  .675  .455
  E    7     ↓      ↓     ↓     ↓  2.00  1.88  1.75  1.62  1.50  1.33  1.15  .955  .755  .536
  F   10     ↓      ↓     ↓  2.24  2.11  1.98  1.84  1.72  1.58  1.41  1.23  1.03  .828  .611
  G   15  2.64   2.53  2.42  2.32  2.20  2.06  1.91  1.79  1.65  1.47  1.30  1.09  .886  .664
  H   20  2.69   2.58  2.47  2.36  2.24  2.11  1.96  1.82  1.69  1.51  1.33  1.12  .917  .695
  I   25  2.72   2.61  2.50  2.40  2.26  2.14  1.98  1.85  1.72  1.53  1.35  1.14  .936  .712
  J   30  2.73   2.61  2.51  2.41  2.28  2.15  2.00  1.86  1.73  1.55  1.36  1.15  .946  .723
  K   35  2.77   2.65  2.54  2.45  2.31  2.18  2.03  1.89  1.76  1.57  1.39  1.18  .969  .745
  L   40  2.77   2.66  2.55  2.44  2.31  2.18  2.03  1.89  1.76  1.58  1.39  1.18  .971  .746
  M   50  2.83   2.71  2.60  2.50  2.35  2.22  2.08  1.93  1.80  1.61  1.42  1.21  1.00  .774
  N   75  2.90   2.77  2.66  2.55  2.41  2.27  2.12  1.98  1.84  1.65  1.46  1.24  1.03  .804
  O  100  2.92   2.80  2.69  2.58  2.43  2.29  2.14  2.00  1.86  1.67  1.48  1.26  1.05  .819
  P  150  2.96   2.84  2.73  2.61  2.47  2.33  2.18  2.03  1.89  1.70  1.51  1.29  1.07  .841
  Q  200  2.97   2.85  2.73  2.62  2.47  2.33  2.18  2.04  1.89  1.70  1.51  1.29  1.07  .845
"""
"""Table B-1, normal inspection: k. Tightened inspection uses the column of the next smaller AQL."""


class TablePlan(NamedTuple):
    """A plan of the table after arrows, with the letter at the end of the arrows."""

    letter: str
    packages: int
    k: Fraction
    """k as printed."""


@cache
def letters() -> Letters:
    """Table A-2, which gives a lot its code letter."""
    return read_letters(3, LETTERS)


def aqls() -> Sequence[str]:
    """All 14 AQLs, as printed."""
    return aqls_of(NORMAL)


def code_letters() -> Sequence[str]:
    """The letters that a lot can have, in the order of the page."""
    return list(_page())


def normal(letter: str, aql: Fraction) -> TablePlan:
    """The plan of a letter at an AQL under normal inspection, both in the table."""
    found = find_plan(_page(), letter, aql)
    return TablePlan(found.letter, found.packages, Fraction(found.cell))


def tightened(letter: str, aql: Fraction) -> TablePlan | None:
    """The plan under tightened inspection, which is that of the next smaller AQL; None for the smallest AQL."""
    smaller = {larger: smaller for smaller, larger in pairwise(map(Fraction, aqls()))}
    return normal(letter, smaller[aql]) if aql in smaller else None


@cache
def _page() -> Page:
    return read_page(NORMAL)
