"""What is counted and what is logged of each request."""

import logging
from collections import Counter
from datetime import UTC, datetime
from time import perf_counter

from service.api.durations import FAILED, REFUSED, Durations
from service.api.exchanges import Exchange
from service.api.logs import NAME, RequestLine, RequestLog, told
from service.api.problems import Answer
from service.api.tracing import trace_of

LOGGER = logging.getLogger(NAME)
MOST_OF_A_METHOD = 20
MILLISECONDS = 1000


class Watch:
    """Counts every answer, and logs a line for each but successful ones of routes that are only counted."""

    def __init__(self) -> None:
        """Nothing counted yet."""
        self.durations = Durations()
        self._took = self.durations.took
        self.refusals: Counter[str] = Counter()
        """By the code of the first flaw, or the kind of problem."""
        self.log = RequestLog()
        self.in_flight = 0
        """Requests that are being answered now."""

    def answered(self, exchange: Exchange, answer: Answer, error: Exception | None = None) -> None:
        """The request has its answer; `error` is what it has run into."""
        status, seconds = answer.status, perf_counter() - exchange.begun
        route = exchange.route
        self._took(route.operation_id, status, seconds)
        if route.is_only_counted and status < REFUSED:
            return
        if answer.code:
            self.refusals[answer.code] += 1
        failure = told(error) if error is not None and status >= FAILED else ""
        if self.log.is_open:
            level, what = _told_of(status)
            self._write(level, what, exchange, seconds, status, answer.code, failure)
        elif failure:
            # Another server than ours has a log of its own, and what went wrong here has to be in one.
            LOGGER.error("request %s failed: %s", exchange.request_id, failure)

    def gone(self, exchange: Exchange) -> None:
        """The caller has hung up before the request was whole."""
        if self.log.is_open:
            self._write("info", "caller has hung up", exchange, perf_counter() - exchange.begun)

    def _write(
        self, level: str, what: str, exchange: Exchange, seconds: float, status: int = 0, code: str = "", error: str = ""
    ) -> None:
        self.log.write(
            RequestLine(
                at=datetime.now(UTC),
                level=level,
                what=what,
                request=exchange.request_id,
                trace=trace_of(exchange.headers),
                operation=exchange.route.operation_id,
                method=exchange.method[:MOST_OF_A_METHOD],
                ms=round(seconds * MILLISECONDS, 3),
                by=exchange.by.name,
                status=status,
                code=code,
                error=error,
            )
        )


def _told_of(status: int) -> tuple[str, str]:
    """The level and the words for an answer of this status."""
    if status < REFUSED:
        return "info", "request answered"
    return ("warning", "request refused") if status < FAILED else ("error", "request failed")
