"""The Prometheus metrics: counters updated as things happen, and gauges read when they are scraped."""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from prometheus_client import CollectorRegistry, Gauge, Metric, disable_created_metrics
from prometheus_client.core import CounterMetricFamily
from prometheus_client.registry import Collector

from service.api.watching.judgements import JudgementCounter
from service.api.watching.logs import count_dropped_lines
from service.api.watching.recording import RequestRecorder
from service.storage.database import Connections
from service.usecases.grades import CacheSizes


class Gauges(NamedTuple):
    """Current values: the sizes of the cache of grades, and database connections."""

    grade_cache: CacheSizes
    connections: Connections


class Metrics(NamedTuple):
    """All metrics of one process."""

    registry: CollectorRegistry
    watch: RequestRecorder
    judged: JudgementCounter


class _DroppedLines(Collector):
    """Dropped log lines, read from the log's own count when scraped."""

    def collect(self) -> Iterator[Metric]:
        """The current value."""
        yield CounterMetricFamily("markeryarn_log_lines_dropped", "Lines of the log that were dropped.", count_dropped_lines())


def metrics_of(gauges: Callable[[], Gauges]) -> Metrics:
    """Register all metrics; `gauges` is called at each scrape."""
    # Else the client adds a `_created` series to every counter and doubles their number.
    disable_created_metrics()  # type: ignore[no-untyped-call]  # as the client has it
    # A registry of its own rather than the client's global one: an application leaves no state behind in the process.
    registry = CollectorRegistry()
    watch, judged = RequestRecorder(registry), JudgementCounter(registry)
    registry.register(_DroppedLines())
    definitions: dict[str, tuple[str, Callable[[], float]]] = {
        "in_flight": ("Requests that are being answered.", lambda: watch.in_flight),
        "catalogue_version": (
            "The version of the catalogue as last read, -1 before the first time.",
            lambda: gauges().grade_cache.version,
        ),
        "catalogue_stale": (
            "1 while the database is away and answers come from memory.",
            lambda: gauges().grade_cache.is_stale,
        ),
        "shelf_grades": ("Grades in memory.", lambda: gauges().grade_cache.grades),
        "shelf_revisions": ("Compiled revisions in memory.", lambda: gauges().grade_cache.revisions),
        "shelf_requirements": ("Requirements of these revisions.", lambda: gauges().grade_cache.requirements),
        "connections_in_use": ("Connections of the pool that are in use.", lambda: gauges().connections.in_use),
        "connections_most": ("The size of the pool.", lambda: gauges().connections.most),
    }
    for name, (text, read) in definitions.items():
        Gauge(f"markeryarn_{name}", text, registry=registry).set_function(read)
    return Metrics(registry, watch, judged)
