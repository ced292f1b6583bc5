"""MIL-STD-105E (10 May 1989): sampling plans by attributes; the facts of its tables and none of its text.

A lot size and an inspection level give a code letter (Table I); a letter and an AQL give a sample size, Ac and Re. AQLs up to
10 are percent nonconforming or nonconformities per hundred packages; those above are only the latter. No letter is I or O.

Two published transcriptions of the tables differ from them and from each other, and are not followed: one keeps the letter's
own sample size at an arrow, and in tightened inspection has Ac 0 where the arrow leads two rows down to Ac 1; one has in the
double plans at AQL 100, letters L to P, a second Re of 26, equal to Ac, where it has to be 27.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from service.engine.documents import Inspection
from service.engine.sampling.tables.pages import Letters, Page, aqls_of, find_plan, read_letters, read_page

NAME = "MIL-STD-105E"

LETTERS = """
    to  S-1  S-2  S-3  S-4  I  II  III
     8    A    A    A    A  A   A    B
    15    A    A    A    A  A   B    C
    25    A    A    B    B  B   C    D
    50    A    B    B    C  C   D    E
    90    B    B    C    C  C   E    F
   150    B    B    C    D  D   F    G
   280    B    C    D    E  E   G    H
   500    B    C    D    E  F   H    J
  1200    C    C    E    F  G   J    K
  3200    C    D    E    G  H   K    L
 10000    C    D    F    G  J   L    M
 35000    C    D    F    H  K   M    N
150000    D    E    G    J  L   N    P
500000    D    E    G    J  M   P    Q
     ∞    D    E    H    K  N   Q    R
"""
"""Table I: the largest lot of each row, and its letter by inspection level; lots begin at 2."""

NORMAL_PERCENT = """
AQL     n  0.010  0.015  0.025  0.040  0.065  0.10  0.15  0.25  0.40  0.65  1.0  1.5  2.5  4.0  6.5  10
  A     2      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    ↓    ↓    0   ↓
  B     3      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    ↓    0    ↑   ↓
  C     5      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    0    ↑    ↓   1
  D     8      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    0    ↑    ↓    1   2
  E    13      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    0    ↑    ↓    1    2   3
  F    20      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     0    ↑    ↓    1    2    3   5
  G    32      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     0     ↑    ↓    1    2    3    5   7
  H    50      ↓      ↓      ↓      ↓      ↓     ↓     ↓     0     ↑     ↓    1    2    3    5    7  10
  J    80      ↓      ↓      ↓      ↓      ↓     ↓     0     ↑     ↓     1    2    3    5    7   10  14
  K   125      ↓      ↓      ↓      ↓      ↓     0     ↑     ↓     1     2    3    5    7   10   14  21
  L   200      ↓      ↓      ↓      ↓      0     ↑     ↓     1     2     3    5    7   10   14   21   ↑
  M   315      ↓      ↓      ↓      0      ↑     ↓     1     2     3     5    7   10   14   21    ↑   ↑
  N   500      ↓      ↓      0      ↑      ↓     1     2     3     5     7   10   14   21    ↑    ↑   ↑
  P   800      ↓      0      ↑      ↓      1     2     3     5     7    10   14   21    ↑    ↑    ↑   ↑
  Q  1250      0      ↑      ↓      1      2     3     5     7    10    14   21    ↑    ↑    ↑    ↑   ↑
  R  2000      ↑      ↑      1      2      3     5     7    10    14    21    ↑    ↑    ↑    ↑    ↑   ↑
"""
"""Table II-A, single sampling, normal inspection: Ac; Re is Ac + 1."""

NORMAL_PER_HUNDRED = """
AQL     n  15  25  40  65  100  150  250  400  650  1000
  A     2   ↓   1   2   3    5    7   10   14   21    30
  B     3   1   2   3   5    7   10   14   21   30    44
  C     5   2   3   5   7   10   14   21   30   44     ↑
  D     8   3   5   7  10   14   21   30   44    ↑     ↑
  E    13   5   7  10  14   21   30   44    ↑    ↑     ↑
  F    20   7  10  14  21    ↑    ↑    ↑    ↑    ↑     ↑
  G    32  10  14  21   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  H    50  14  21   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  J    80  21   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  K   125   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  L   200   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  M   315   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  N   500   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  P   800   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  Q  1250   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  R  2000   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
"""
"""Table II-A, the further columns, which are for nonconformities per hundred packages alone."""

TIGHTENED_PERCENT = """
AQL     n  0.010  0.015  0.025  0.040  0.065  0.10  0.15  0.25  0.40  0.65  1.0  1.5  2.5  4.0  6.5  10
  A     2      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    ↓    ↓    ↓   ↓
  B     3      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    ↓    ↓    0   ↓
  C     5      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    ↓    0    ↓   ↓
  D     8      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    ↓    0    ↓    ↓   1
  E    13      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    ↓    0    ↓    ↓    1   2
  F    20      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     ↓    0    ↓    ↓    1    2   3
  G    32      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓     0    ↓    ↓    1    2    3   5
  H    50      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     0     ↓    ↓    1    2    3    5   8
  J    80      ↓      ↓      ↓      ↓      ↓     ↓     ↓     0     ↓     ↓    1    2    3    5    8  12
  K   125      ↓      ↓      ↓      ↓      ↓     ↓     0     ↓     ↓     1    2    3    5    8   12  18
  L   200      ↓      ↓      ↓      ↓      ↓     0     ↓     ↓     1     2    3    5    8   12   18   ↑
  M   315      ↓      ↓      ↓      ↓      0     ↓     ↓     1     2     3    5    8   12   18    ↑   ↑
  N   500      ↓      ↓      ↓      0      ↓     ↓     1     2     3     5    8   12   18    ↑    ↑   ↑
  P   800      ↓      ↓      0      ↓      ↓     1     2     3     5     8   12   18    ↑    ↑    ↑   ↑
  Q  1250      ↓      0      ↓      ↓      1     2     3     5     8    12   18    ↑    ↑    ↑    ↑   ↑
  R  2000      0      ↑      ↓      1      2     3     5     8    12    18    ↑    ↑    ↑    ↑    ↑   ↑
  S  3150      ·      ·      1      ·      ·     ·     ·     ·     ·     ·    ·    ·    ·    ·    ·   ·
"""
"""Table II-B, single sampling, tightened inspection: Ac; Re is Ac + 1. Letter S is reached only by arrows."""

TIGHTENED_PER_HUNDRED = """
AQL     n  15  25  40  65  100  150  250  400  650  1000
  A     2   ↓   ↓   1   2    3    5    8   12   18    27
  B     3   ↓   1   2   3    5    8   12   18   27    41
  C     5   1   2   3   5    8   12   18   27   41     ↑
  D     8   2   3   5   8   12   18   27   41    ↑     ↑
  E    13   3   5   8  12   18   27   41    ↑    ↑     ↑
  F    20   5   8  12  18    ↑    ↑    ↑    ↑    ↑     ↑
  G    32   8  12  18   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  H    50  12  18   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  J    80  18   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  K   125   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  L   200   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  M   315   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  N   500   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  P   800   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  Q  1250   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  R  2000   ↑   ↑   ↑   ↑    ↑    ↑    ↑    ↑    ↑     ↑
  S  3150   ·   ·   ·   ·    ·    ·    ·    ·    ·     ·
"""
"""Table II-B, the further columns."""

REDUCED_PERCENT = """
AQL    n  0.010  0.015  0.025  0.040  0.065  0.10  0.15  0.25  0.40   0.65    1.0    1.5    2.5    4.0    6.5     10
  A    2      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓      ↓      ↓      ↓      ↓      ↓    0/1      ↓
  B    2      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓      ↓      ↓      ↓      ↓    0/1      ↑      ↓
  C    2      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓      ↓      ↓      ↓    0/1      ↑      ↓    0/2
  D    3      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓      ↓      ↓    0/1      ↑      ↓    0/2    1/3
  E    5      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓      ↓    0/1      ↑      ↓    0/2    1/3    1/4
  F    8      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓     ↓    0/1      ↑      ↓    0/2    1/3    1/4    2/5
  G   13      ↓      ↓      ↓      ↓      ↓     ↓     ↓     ↓   0/1      ↑      ↓    0/2    1/3    1/4    2/5    3/6
  H   20      ↓      ↓      ↓      ↓      ↓     ↓     ↓   0/1     ↑      ↓    0/2    1/3    1/4    2/5    3/6    5/8
  J   32      ↓      ↓      ↓      ↓      ↓     ↓   0/1     ↑     ↓    0/2    1/3    1/4    2/5    3/6    5/8   7/10
  K   50      ↓      ↓      ↓      ↓      ↓   0/1     ↑     ↓   0/2    1/3    1/4    2/5    3/6    5/8   7/10  10/13
  L   80      ↓      ↓      ↓      ↓    0/1     ↑     ↓   0/2   1/3    1/4    2/5    3/6    5/8   7/10  10/13      ↑
  M  125      ↓      ↓      ↓    0/1      ↑     ↓   0/2   1/3   1/4    2/5    3/6    5/8   7/10  10/13      ↑      ↑
  N  200      ↓      ↓    0/1      ↑      ↓   0/2   1/3   1/4   2/5    3/6    5/8   7/10  10/13      ↑      ↑      ↑
  P  315      ↓    0/1      ↑      ↓    0/2   1/3   1/4   2/5   3/6    5/8   7/10  10/13      ↑      ↑      ↑      ↑
  Q  500    0/1      ↑      ↓    0/2    1/3   1/4   2/5   3/6   5/8   7/10  10/13      ↑      ↑      ↑      ↑      ↑
  R  800      ↑      ↑    0/2    1/3    1/4   2/5   3/6   5/8  7/10  10/13      ↑      ↑      ↑      ↑      ↑      ↑
"""
"""Table II-C, single sampling, reduced inspection: Ac/Re. A count between them accepts the lot and ends reduced inspection."""

REDUCED_PER_HUNDRED = """
AQL    n     15     25     40     65    100    150    250    400    650   1000
  A    2      ↓    1/2    2/3    3/4    5/6    7/8  10/11  14/15  21/22  30/31
  B    2    0/2    1/3    2/4    3/5    5/6    7/8  10/11  14/15  21/22  30/31
  C    2    1/3    1/4    2/5    3/6    5/8   7/10  10/13  14/17  21/24      ↑
  D    3    1/4    2/5    3/6    5/8   7/10  10/13  14/17  21/24      ↑      ↑
  E    5    2/5    3/6    5/8   7/10  10/13  14/17  21/24      ↑      ↑      ↑
  F    8    3/6    5/8   7/10  10/13      ↑      ↑      ↑      ↑      ↑      ↑
  G   13    5/8   7/10  10/13      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  H   20   7/10  10/13      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  J   32  10/13      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  K   50      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  L   80      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  M  125      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  N  200      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  P  315      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  Q  500      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
  R  800      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑      ↑
"""
"""Table II-C, the further columns."""

DOUBLE_SIZES: Mapping[str, int] = {
    "B": 2,
    "C": 3,
    "D": 5,
    "E": 8,
    "F": 13,
    "G": 20,
    "H": 32,
    "J": 50,
    "K": 80,
    "L": 125,
    "M": 200,
    "N": 315,
    "P": 500,
    "Q": 800,
    "R": 1250,
}
"""Table III-A, double sampling, normal inspection: the size of each of the two samples. Letter A has none."""

DOUBLE_NUMBERS = """
 1   0/2    1/2
 2   0/3    3/4
 3   1/4    4/5
 5   2/5    6/7
 7   3/7    8/9
10   5/9   12/13
14   7/11  18/19
21  11/16  26/27
30  17/22  37/38
44  25/31  56/57
"""
"""Table III-A: Ac/Re of the first sample, and of both together, by the single plan's Ac at the same letter and AQL.

For a single plan's Ac of 0, and for letter A, the page says to use the single plan.
"""


class Numbers(NamedTuple):
    """The size, Ac and Re of one sample; Ac and Re are cumulative with the sample before."""

    packages: int
    accept: int
    reject: int


class TablePlan(NamedTuple):
    """A plan of the table after arrows, of one sample or of two, with the letter at the end of the arrows."""

    letter: str
    samples: Sequence[Numbers]


@cache
def letters() -> Letters:
    """Table I, which gives a lot its code letter."""
    return read_letters(2, LETTERS)


def aqls() -> Sequence[str]:
    """All 26 AQLs, as printed."""
    return aqls_of(NORMAL_PERCENT, NORMAL_PER_HUNDRED)


def code_letters() -> Sequence[str]:
    """The letters that a lot can have, in the order of the page."""
    # The page of normal inspection has no letter S, which no lot has.
    return list(_page("normal"))


def single(letter: str, aql: Fraction, inspection: Inspection) -> TablePlan:
    """The single plan of a letter at an AQL, both in the table."""
    found = find_plan(_page(inspection), letter, aql)
    return TablePlan(found.letter, [Numbers(found.packages, *_pair(found.cell))])


def double(letter: str, aql: Fraction) -> TablePlan:
    """The double plan of a letter at an AQL under normal inspection; the single one where the page says to use it."""
    plan = single(letter, aql, "normal")
    accept = plan.samples[0].accept
    if accept == 0 or plan.letter not in DOUBLE_SIZES:
        return plan
    size = DOUBLE_SIZES[plan.letter]
    return TablePlan(plan.letter, [Numbers(size, *numbers) for numbers in _double_numbers()[accept]])


@cache
def _page(inspection: Inspection) -> Page:
    parts: Mapping[Inspection, Sequence[str]] = {
        "normal": (NORMAL_PERCENT, NORMAL_PER_HUNDRED),
        "tightened": (TIGHTENED_PERCENT, TIGHTENED_PER_HUNDRED),
        "reduced": (REDUCED_PERCENT, REDUCED_PER_HUNDRED),
    }
    return read_page(*parts[inspection])


@cache
def _double_numbers() -> Mapping[int, Sequence[tuple[int, int]]]:
    rows = (line.split() for line in DOUBLE_NUMBERS.strip().splitlines())
    return {int(accept): (_pair(first), _pair(both)) for accept, first, both in rows}


def _pair(cell: str) -> tuple[int, int]:
    """(Ac, Re) of a cell: (5, 6) of `5`, (2, 5) of `2/5`."""
    accept, _, reject = cell.partition("/")
    return int(accept), int(reject or int(accept) + 1)
