"""How many answers were given and how long they took, kept so that an answer costs two additions."""

from bisect import bisect_left
from collections.abc import Iterator
from itertools import accumulate
from typing import NamedTuple

SECONDS = (0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Upper ends of the buckets, inclusive; one without an end comes after them."""
REFUSED, FAILED = 400, 500


class Histogram(NamedTuple):
    """The answers to an operation that came to the same class of outcome."""

    operation: str
    outcome: str
    """`answered`, `refused` or `failed`."""
    up_to: list[tuple[str, int]]
    """(upper end, answers that took at most so long), the last one `+Inf`."""
    seconds: float
    """Of all together."""


class Durations:
    """Answers by operation and status, and the seconds that they took."""

    def __init__(self) -> None:
        """None yet."""
        self._by: dict[tuple[str, int], list[float]] = {}
        """How many are in each bucket, and last the seconds of all."""

    def took(self, operation: str, status: int, seconds: float) -> None:
        """Count an answer."""
        try:
            row = self._by[operation, status]
        except KeyError:
            row = self._by[operation, status] = [0] * (len(SECONDS) + 1) + [0.0]
        row[bisect_left(SECONDS, seconds)] += 1
        row[-1] += seconds

    def answers(self) -> Iterator[tuple[str, int, int]]:
        """(operation, status, answers), in order."""
        for (operation, status), row in sorted(self._by.items()):
            yield operation, status, int(sum(row[:-1]))

    def histograms(self) -> Iterator[Histogram]:
        """One an operation and a class of outcome, in order."""
        together: dict[tuple[str, str], list[float]] = {}
        for (operation, status), row in sorted(self._by.items()):
            key = (operation, _outcome(status))
            together[key] = [a + b for a, b in zip(together[key], row, strict=True)] if key in together else row
        ends = [*map(str, SECONDS), "+Inf"]
        for (operation, outcome), row in together.items():
            up_to = list(zip(ends, map(int, accumulate(row[:-1])), strict=True))
            yield Histogram(operation, outcome, up_to, row[-1])


def _outcome(status: int) -> str:
    return "answered" if status < REFUSED else "refused" if status < FAILED else "failed"
