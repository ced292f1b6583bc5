"""What is counted and what is logged of each request."""

import logging
from collections import Counter
from time import perf_counter

from service.api.durations import FAILED, REFUSED, Durations
from service.api.exchanges import Exchange
from service.api.logs import NAME, OF_A_REQUEST, told
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
        self.in_flight = 0
        """Requests that are being answered now."""

    def answered(self, exchange: Exchange, answer: Answer, error: Exception | None = None) -> None:
        """The request has its answer; `error` is what it has run into."""
        status, seconds = answer.status, perf_counter() - exchange.begun
        route = exchange.route
        self._took(route.operation_id, status, seconds)
        if route.is_only_counted and status < REFUSED:
            return
        outcome: dict[str, object] = {"status": status}
        if answer.code:
            self.refusals[answer.code] += 1
            outcome["code"] = answer.code
        if error is not None and status >= FAILED:
            outcome["error"] = told(error)
        level, what = _told_of(status)
        self._log(level, what, exchange, seconds, outcome)

    def gone(self, exchange: Exchange) -> None:
        """The caller has hung up before the request was whole."""
        self._log(logging.INFO, "caller has hung up", exchange, perf_counter() - exchange.begun, {})

    @staticmethod
    def _log(level: int, what: str, exchange: Exchange, seconds: float, outcome: dict[str, object]) -> None:
        if not LOGGER.isEnabledFor(level):
            return
        said = {
            "request": exchange.request_id,
            "trace": trace_of(exchange.headers),
            "operation": exchange.route.operation_id,
            "method": exchange.method[:MOST_OF_A_METHOD],
            "ms": round(seconds * MILLISECONDS, 3),
            "by": exchange.by.name,
            **outcome,
        }
        # Not LOGGER.log, which looks for the line of the program that called it, and nobody asks for that.
        record = logging.LogRecord(NAME, level, "", 0, what, None, None)
        setattr(record, OF_A_REQUEST, said)
        LOGGER.handle(record)


def _told_of(status: int) -> tuple[int, str]:
    """The level and the words for an answer of this status."""
    if status < REFUSED:
        return logging.INFO, "request answered"
    return (logging.WARNING, "request refused") if status < FAILED else (logging.ERROR, "request failed")
