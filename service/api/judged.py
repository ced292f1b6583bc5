"""How often which grade came to which outcome, for at most so many grades that a page of figures stays a page."""

from collections.abc import Iterator

from msgspec import UnsetType

MOST_GRADES = 1000
OTHER, SENT_ALONG = "(other)", "(sent along)"
"""In place of a grade's code, which has no brackets: grades past the bound, and specifications that came with the lot."""


class Judged:
    """Checks and verdicts by grade and outcome."""

    def __init__(self, most_grades: int = MOST_GRADES) -> None:
        """None yet."""
        self._most_grades = most_grades
        self._numbers: dict[tuple[str, str | UnsetType, str], int] = {}
        self._grades: set[str] = set()

    def count(self, of: str, grade: str | UnsetType, outcome: str) -> None:
        """Count one.

        of     `checks`, `verdicts` or `gradings`
        grade  as the answer names it, so one that there is: callers can't make up rows
        """
        try:
            self._numbers[of, grade, outcome] += 1
        except KeyError:
            key = (of, self._row(grade), outcome)
            self._numbers[key] = self._numbers.get(key, 0) + 1

    def rows(self) -> Iterator[tuple[str, str, str, int]]:
        """(of, grade, outcome, number), in order."""
        for (of, grade, outcome), number in sorted(self._numbers.items(), key=lambda item: tuple(map(str, item[0]))):
            yield of, str(grade), outcome, number

    def _row(self, grade: str | UnsetType) -> str:
        """The name under which a grade is counted."""
        if isinstance(grade, UnsetType):
            return SENT_ALONG
        if grade not in self._grades:
            if len(self._grades) >= self._most_grades:
                return OTHER
            self._grades.add(grade)
        return grade
