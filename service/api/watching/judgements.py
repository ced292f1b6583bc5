"""How often which grade came to which outcome, for at most so many grades that a page of figures stays a page."""

from msgspec import UnsetType
from prometheus_client import CollectorRegistry, Counter

MOST_GRADES = 1000
OTHER, SENT_ALONG = "(other)", "(sent along)"
"""In place of a grade's code, which has no brackets: grades past the bound, and specifications that came with the lot."""


class JudgementCounter:
    """Checks, verdicts and gradings by grade and outcome."""

    def __init__(self, registry: CollectorRegistry, most_grades: int = MOST_GRADES) -> None:
        """None yet; the figure is registered there."""
        self._most_grades = most_grades
        self._counter = Counter(
            "markeryarn_judged", "Checks, verdicts and gradings given.", ["of", "grade", "outcome"], registry=registry
        )
        self._counters: dict[tuple[str, str | UnsetType, str], Counter] = {}
        self._grades: set[str] = set()

    def count(self, of: str, grade: str | UnsetType, outcome: str) -> None:
        """Count one.

        of     `checks`, `verdicts` or `gradings`
        grade  as the answer names it, so one that there is: callers can't make up rows
        """
        counter = self._counters.get((of, grade, outcome))
        if counter is None:
            name = self._label(grade)
            counter = self._counter.labels(of, name, outcome)
            if name != OTHER:
                self._counters[of, grade, outcome] = counter
        counter.inc()

    def _label(self, grade: str | UnsetType) -> str:
        """The name under which a grade is counted."""
        if isinstance(grade, UnsetType):
            return SENT_ALONG
        if grade not in self._grades:
            if len(self._grades) >= self._most_grades:
                return OTHER
            self._grades.add(grade)
        return grade
