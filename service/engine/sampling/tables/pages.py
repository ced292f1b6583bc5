"""How a printed table of plans is read: rows by code letter, columns by AQL, and arrows that lead to another row."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

ARROWS: Mapping[str, int] = {"↓": 1, "↑": -1}
"""So many rows further, again and again until a plan stands there: its sample size, then, as well as its numbers."""
NO_END = "∞"


class Row(NamedTuple):
    """What a table has for one code letter."""

    packages: int
    """The letter's own sample size."""
    cells: Mapping[Fraction, str]
    """By AQL, as printed."""


class Found(NamedTuple):
    """Where a plan stands once arrows are followed."""

    letter: str
    packages: int
    cell: str


Page = Mapping[str, Row]
"""By code letter, in the order of the page."""


class Letters(NamedTuple):
    """The table that gives a lot its code letter."""

    smallest_lot: int
    levels: Sequence[str]
    rows: Sequence[tuple[int | None, Mapping[str, str]]]
    """(the largest lot, letter by level), rising; None for the last, which has no end."""

    def of(self, level: str, packages: int) -> str | None:
        """The letter of a lot of so many packages; None where it is smaller than the table begins with."""
        if packages < self.smallest_lot:
            return None
        return next(letters[level] for up_to, letters in self.rows if up_to is None or packages <= up_to)


def read_page(*parts: str) -> Page:
    """A table that was written in several parts, side by side: the first line has the AQLs, each further one a letter."""
    rows: dict[str, Row] = {}
    for part in parts:
        (_, _, *aqls), *lines = (line.split() for line in part.strip().splitlines())
        for letter, packages, *cells in lines:
            before = rows[letter].cells if letter in rows else {}
            rows[letter] = Row(int(packages), {**before, **dict(zip(map(Fraction, aqls), cells, strict=True))})
    return rows


def read_letters(smallest_lot: int, text: str) -> Letters:
    """The table of letters: the first line has the levels, each further one the largest lot and a letter for each level."""
    (_, *levels), *lines = (line.split() for line in text.strip().splitlines())
    rows = [(None if up_to == NO_END else int(up_to), dict(zip(levels, letters, strict=True))) for up_to, *letters in lines]
    return Letters(smallest_lot, levels, rows)


def aqls_of(*parts: str) -> Sequence[str]:
    """The AQLs of the parts of a table, as printed."""
    return list(chain.from_iterable(part.strip().splitlines()[0].split()[2:] for part in parts))


def followed(page: Page, letter: str, aql: Fraction) -> Found:
    """The plan of a letter at an AQL, both of the table: an arrow moves to another letter, with that letter's sample size."""
    letters = list(page)
    place = letters.index(letter)
    while step := ARROWS.get(page[letters[place]].cells[aql]):
        place += step
    row = page[letters[place]]
    return Found(letters[place], row.packages, row.cells[aql])
