"""Parser for printed tables of plans: rows by code letter, columns by AQL, and arrows that lead to another row."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

ARROWS: Mapping[str, int] = {"↓": 1, "↑": -1}
"""Rows to move at an arrow, repeatedly until a cell has a plan; its row's sample size is then used as well."""
NO_END = "∞"


class Row(NamedTuple):
    """The row of one code letter."""

    packages: int
    """The letter's own sample size."""
    cells: Mapping[Fraction, str]
    """The cells by AQL, as printed."""


class FoundPlan(NamedTuple):
    """The cell of a plan after arrows, with the letter and the sample size of its row."""

    letter: str
    packages: int
    cell: str


Page = Mapping[str, Row]
"""A table: its rows by code letter, in the order of the page."""


class Letters(NamedTuple):
    """The table that gives a lot its code letter."""

    smallest_lot: int
    levels: Sequence[str]
    rows: Sequence[tuple[int | None, Mapping[str, str]]]
    """(the largest lot, letter by level) in ascending order; None as the largest lot of the last row, which has no end."""

    def of(self, level: str, packages: int) -> str | None:
        """The code letter at this level of a lot of this many packages; None for a lot smaller than the table begins with."""
        if packages < self.smallest_lot:
            return None
        return next(letters[level] for up_to, letters in self.rows if up_to is None or packages <= up_to)


def read_page(*parts: str) -> Page:
    """Parse a table from parts that are side by side on the page: the first line has the AQLs, each further one a letter."""
    rows: dict[str, Row] = {}
    for part in parts:
        (_, _, *aqls), *lines = (line.split() for line in part.strip().splitlines())
        for letter, packages, *cells in lines:
            before = rows[letter].cells if letter in rows else {}
            rows[letter] = Row(int(packages), {**before, **dict(zip(map(Fraction, aqls), cells, strict=True))})
    return rows


def read_letters(smallest_lot: int, text: str) -> Letters:
    """Parse a table of letters: the first line has the levels, each further one the largest lot and a letter for each level."""
    (_, *levels), *lines = (line.split() for line in text.strip().splitlines())
    rows = [(None if up_to == NO_END else int(up_to), dict(zip(levels, letters, strict=True))) for up_to, *letters in lines]
    return Letters(smallest_lot, levels, rows)


def aqls_of(*parts: str) -> Sequence[str]:
    """The AQLs in the first lines of the parts of a table, as printed."""
    return list(chain.from_iterable(part.strip().splitlines()[0].split()[2:] for part in parts))


def find_plan(page: Page, letter: str, aql: Fraction) -> FoundPlan:
    """The plan of a letter at an AQL, both in the table, after arrows."""
    letters = list(page)
    place = letters.index(letter)
    # Both standards say to use the sample size at the end of the arrow; some transcriptions keep the first letter's.
    while step := ARROWS.get(page[letters[place]].cells[aql]):
        place += step
    row = page[letters[place]]
    return FoundPlan(letters[place], row.packages, row.cells[aql])
