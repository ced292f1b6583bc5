"""The figures that Prometheus asks for, from counters that cost a request next to nothing."""

from collections.abc import Iterator, Mapping

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily
from prometheus_client.registry import Collector


class Figures(Collector):
    """Answers by operation and status, checks and verdicts by outcome."""

    def __init__(self, answers: Mapping[tuple[str, int], int], outcomes: Mapping[tuple[str, str], int]) -> None:
        """Tell what these hold when asked.

        answers   by (operation, status)
        outcomes  by (`checks` or `verdicts`, outcome)
        """
        self._answers, self._outcomes = answers, outcomes
        self._registry = CollectorRegistry()
        self._registry.register(self)

    def collect(self) -> Iterator[CounterMetricFamily]:
        """The figures as they are now."""
        answers = CounterMetricFamily("markeryarn_answers", "Answers given.", labels=["operation", "status"])
        for (operation, status), number in sorted(self._answers.items()):
            answers.add_metric([operation, str(status)], number)
        yield answers
        judged = CounterMetricFamily("markeryarn_judged", "Checks and verdicts given.", labels=["of", "outcome"])
        for (of, outcome), number in sorted(self._outcomes.items()):
            judged.add_metric([of, outcome], number)
        yield judged

    def exposition(self) -> bytes:
        """The figures in Prometheus' text format."""
        return generate_latest(self._registry)
