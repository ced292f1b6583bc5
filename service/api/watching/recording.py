"""Count and log each request at its end."""

import logging
from datetime import UTC, datetime
from time import perf_counter
from typing import NamedTuple

from prometheus_client import CollectorRegistry, Counter, Histogram

from service.api.exchanges import Exchange
from service.api.problems import FAILED, LONGEST_METHOD, REFUSED
from service.api.watching.logs import LINE, NAME, RequestLine, error_text
from service.api.watching.tracing import trace_of

LOGGER = logging.getLogger(NAME)
MILLISECONDS = 1000
SECONDS = (0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Upper bounds of the histogram's buckets, inclusive; the client adds +Inf."""


class RequestRecorder:
    """Counts every answer and logs a line for each, except for successful checks: a line would cost more than the check."""

    def __init__(self, registry: CollectorRegistry) -> None:
        """Register the metrics, with no counts yet."""
        self._answers = Counter(
            "markeryarn_answers", "Answers by operation and status.", ["operation", "status"], registry=registry
        )
        self._seconds = Histogram(
            "markeryarn_answer_seconds",
            "Seconds from a request's head to its answer.",
            ["operation", "outcome"],
            registry=registry,
            buckets=SECONDS,
        )
        self._refusals = Counter(
            "markeryarn_refusals", "Refusals by the code of their first flaw or problem.", ["code"], registry=registry
        )
        self._figures: dict[tuple[str, int], tuple[Counter, Histogram]] = {}
        """By operation and status: its counter and its histogram, cached, as `labels` costs more than counting."""
        self.in_flight = 0
        """Requests in flight now."""

    def record_answer(self, exchange: Exchange) -> None:
        """Count and log a request whose answer is sent."""
        exchange.is_reported, operation = True, exchange.operation
        status, seconds = exchange.status, perf_counter() - exchange.started
        self._count(operation.name, status, seconds)
        if operation.logs_refusals_only and status < REFUSED:
            return
        if exchange.code:
            self._refusals.labels(exchange.code).inc()
        failure = error_text(exchange.error) if exchange.error is not None and status >= FAILED else ""
        level, what = _level_and_event(status)
        self._write(level, what, _Elapsed(exchange, seconds), status, failure)

    def record_abort(self, exchange: Exchange) -> None:
        """Count and log an answer that broke off after its status: the caller hung up, reads no more, or the service failed."""
        exchange.is_reported = True
        line = _Elapsed(exchange, perf_counter() - exchange.started)
        if exchange.error is None or isinstance(exchange.error, OSError):
            # Logged without a status and not counted: the caller got no answer.
            self._write(logging.INFO, "caller has hung up", line)
            return
        self._count(exchange.operation.name, FAILED, line.seconds)
        exchange.code = exchange.code or "internal-error"
        self._refusals.labels(exchange.code).inc()
        self._write(logging.ERROR, "request failed", line, FAILED, error_text(exchange.error))

    def _count(self, name: str, status: int, seconds: float) -> None:
        answers, duration = self._figures.get((name, status)) or self._figures_of(name, status)
        answers.inc()
        duration.observe(seconds)

    # Label values are names of operations, statuses and the service's own codes, never texts of a request, so they are bounded.
    def _figures_of(self, name: str, status: int) -> tuple[Counter, Histogram]:
        outcome = "answered" if status < REFUSED else "refused" if status < FAILED else "failed"
        figures = self._answers.labels(name, str(status)), self._seconds.labels(name, outcome)
        return self._figures.setdefault((name, status), figures)

    @staticmethod
    def _write(level: int, what: str, line: "_Elapsed", status: int = 0, error: str = "") -> None:
        if not LOGGER.isEnabledFor(level) or (not LOGGER.handlers and level < logging.ERROR):
            # Without a handler another server runs the application and logs its requests itself; only errors are logged here.
            return
        exchange = line.exchange
        record = RequestLine(
            at=datetime.now(UTC),
            level=logging.getLevelName(level).lower(),
            what=what,
            request=exchange.request_id,
            trace=trace_of(exchange.header(b"traceparent")),
            operation=exchange.operation.name,
            method=exchange.method[:LONGEST_METHOD],
            ms=round(line.seconds * MILLISECONDS, 3),
            by=exchange.principal.name,
            status=status,
            code=exchange.code,
            error=error,
        )
        # `LOGGER.log` would walk the stack for the place in the code, which is the same for all these records.
        arguments = (what, exchange.request_id, error)
        LOGGER.handle(LOGGER.makeRecord(NAME, level, __file__, 0, "%s: request %s %s", arguments, None, extra={LINE: record}))


class _Elapsed(NamedTuple):
    """A request with its duration in seconds."""

    exchange: Exchange
    seconds: float


def _level_and_event(status: int) -> tuple[int, str]:
    """The log level and the event for an answer of this status."""
    if status < REFUSED:
        return logging.INFO, "request answered"
    return (logging.WARNING, "request refused") if status < FAILED else (logging.ERROR, "request failed")
