"""The figures that Prometheus asks for, from counters that cost a request next to nothing."""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from prometheus_client import CollectorRegistry, Metric, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, HistogramMetricFamily
from prometheus_client.registry import Collector

from service.api.judged import Judged
from service.api.logs import lines_dropped
from service.api.watching import Watch
from service.storage.connecting import Connections
from service.usecases.shelf import Sizes


class Stock(NamedTuple):
    """What there is at a moment, in memory and of connections."""

    shelf: Sizes
    connections: Connections


class Figures(Collector):
    """All figures of one process."""

    def __init__(self, watch: Watch, judged: Judged, stock: Callable[[], Stock]) -> None:
        """Tell what these hold when asked."""
        self._watch, self._judged, self._stock = watch, judged, stock
        self._registry = CollectorRegistry()
        self._registry.register(self)

    def collect(self) -> Iterator[Metric]:
        """The figures as they are now."""
        yield from self._of_requests()
        yield self._of_judging()
        yield from self._of_stock(self._stock())

    def _of_requests(self) -> Iterator[Metric]:
        answers = CounterMetricFamily("markeryarn_answers", "Answers given.", labels=["operation", "status"])
        for operation, status, number in self._watch.durations.answers():
            answers.add_metric([operation, str(status)], number)
        yield answers
        took = HistogramMetricFamily(
            "markeryarn_answer_seconds", "Seconds from a request's head to its answer.", labels=["operation", "outcome"]
        )
        for each in self._watch.durations.histograms():
            took.add_metric([each.operation, each.outcome], each.up_to, each.seconds)
        yield took
        refusals = CounterMetricFamily("markeryarn_refusals", "Refusals by the first flaw or the problem.", labels=["code"])
        for code, number in sorted(self._watch.refusals.items()):
            refusals.add_metric([code], number)
        yield refusals
        yield GaugeMetricFamily("markeryarn_in_flight", "Requests that are being answered.", self._watch.in_flight)
        yield CounterMetricFamily("markeryarn_log_lines_dropped", "Lines that could not be logged.", lines_dropped())

    def _of_judging(self) -> Metric:
        judged = CounterMetricFamily(
            "markeryarn_judged", "Checks, verdicts and gradings given.", labels=["of", "grade", "outcome"]
        )
        for *labels, number in self._judged.rows():
            judged.add_metric([str(label) for label in labels], number)
        return judged

    @staticmethod
    def _of_stock(stock: Stock) -> Iterator[Metric]:
        shelf, connections = stock
        for name, text, number in (
            ("catalogue_version", "The catalogue's version as last read; -1 before the first time.", shelf.version),
            ("catalogue_stale", "1 while the database is away and memory answers.", shelf.is_stale),
            ("shelf_grades", "Grades of which it is held in memory what is in force.", shelf.grades),
            ("shelf_revisions", "Compiled revisions in memory.", shelf.revisions),
            ("shelf_requirements", "Requirements of these together.", shelf.requirements),
            ("connections_in_use", "Connections to the database at work.", connections.in_use),
            ("connections_most", "Connections to the database at most.", connections.most),
        ):
            yield GaugeMetricFamily(f"markeryarn_{name}", text, number)

    def exposition(self) -> bytes:
        """The figures in Prometheus' text format."""
        return generate_latest(self._registry)
