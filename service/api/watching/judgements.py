"""The metric of judgements by grade and outcome, with a bound on the number of grades."""

from msgspec import UnsetType
from prometheus_client import CollectorRegistry, Counter

MOST_GRADES = 1000
"""Grades with rows of their own, as each label value is a time series that Prometheus stores."""
OTHER, SENT_ALONG = "(other)", "(sent along)"
"""Labels in place of a grade's code, which can't contain brackets: grades past the bound, and specifications in the body."""


class JudgementCounter:
    """Counts checks, verdicts and gradings by grade and outcome."""

    def __init__(self, registry: CollectorRegistry, most_grades: int = MOST_GRADES) -> None:
        """Register the metric, with no counts yet."""
        self._most_grades = most_grades
        self._counter = Counter(
            "markeryarn_judged",
            "Checks, verdicts and gradings by grade and outcome.",
            ["of", "grade", "outcome"],
            registry=registry,
        )
        self._counters: dict[tuple[str, str | UnsetType, str], Counter] = {}
        self._grades: set[str] = set()

    def count(self, of: str, grade: str | UnsetType, outcome: str) -> None:
        """Count one judgement.

        of     `checks`, `verdicts` or `gradings`
        grade  as the answer names it, so an existing one: callers can't create label values
        """
        # `labels` locks and formats its key at each call, so counters are cached; every check is counted here.
        counter = self._counters.get((of, grade, outcome))
        if counter is None:
            name = self._label(grade)
            counter = self._counter.labels(of, name, outcome)
            # Never cached for grades past the bound: the cache would grow with each of them.
            if name != OTHER:
                self._counters[of, grade, outcome] = counter
        counter.inc()

    def _label(self, grade: str | UnsetType) -> str:
        """The label under which a grade is counted."""
        if isinstance(grade, UnsetType):
            return SENT_ALONG
        if grade not in self._grades:
            if len(self._grades) >= self._most_grades:
                return OTHER
            self._grades.add(grade)
        return grade
