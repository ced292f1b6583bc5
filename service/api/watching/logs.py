"""What the service logs: one line of JSON an event, on standard error."""

import atexit
import logging
import os
import re
import sys
import traceback
from datetime import UTC, datetime
from logging.handlers import QueueHandler, QueueListener
from queue import Full, Queue

import msgspec
from msgspec import Struct

from service.ports import CatalogueAwayError

NAME, LINE = "markeryarn", "line"
"""Of the logger, and of what a record has where it tells of a request."""
MOST_WAITING = 10_000
"""Lines that wait to be written, some 300 bytes each."""
SECONDS_TO_FLUSH = 2
"""At the end of the process, for what still waits."""
_SECRET = re.compile(r"(?<=://)[^\s/@]*:[^\s@]*(?=@)|\bmky_[0-9a-f]{8}_[\w-]+")
HIDDEN = "(hidden)"


_encode = msgspec.json.Encoder().encode


class Line(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of the log."""

    at: datetime
    level: str
    what: str


class RequestLine(Line, frozen=True, kw_only=True, omit_defaults=True):
    """What is told of one request."""

    request: str
    trace: str
    operation: str
    method: str
    ms: float
    by: str
    status: int = 0
    """Left out where there was no answer."""
    code: str = ""
    error: str = ""


class Lines(logging.Formatter):
    """Writes a record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """What is told of a request; else the moment, the level, and what happened."""
        line = getattr(record, LINE, None)
        if line is None:
            at = datetime.fromtimestamp(record.created, UTC)
            line = Line(at=at, level=record.levelname.lower(), what=record.getMessage())
        return _encode(line).decode()


class LinesInQueue(QueueHandler):
    """Hands lines over without waiting; past a bound they are dropped, and counted.

    A terminal or a collector that reads slowly must not make callers wait, and one that does not read at all must not fill the
    memory.
    """

    def __init__(self, descriptor: int, most: int = MOST_WAITING) -> None:
        """Let a thread write to an open file what waits, so many lines at most."""
        self._waiting: Queue[logging.LogRecord] = Queue(most)
        super().__init__(self._waiting)
        self.setFormatter(Lines())
        self.dropped = 0
        """Lines that were not written: too many waited, or nobody reads any more."""
        self._listener = QueueListener(self._waiting, _Writing(descriptor, self))
        self._listener.start()
        atexit.register(self.flush)

    def enqueue(self, record: logging.LogRecord) -> None:
        """Keep the line, or drop it where too many wait."""
        try:
            self._waiting.put_nowait(record)
        except Full:
            self.dropped += 1

    def flush(self) -> None:
        """Wait until all that was kept is written, but no longer than two seconds: perhaps nobody reads."""
        with self._waiting.all_tasks_done:
            self._waiting.all_tasks_done.wait_for(lambda: not self._waiting.unfinished_tasks, SECONDS_TO_FLUSH)


class _Writing(logging.Handler):
    """Writes lines, however long that takes."""

    def __init__(self, descriptor: int, queue: LinesInQueue) -> None:
        super().__init__()
        self._descriptor, self._queue = descriptor, queue

    def emit(self, record: logging.LogRecord) -> None:
        """Write it whole."""
        left = memoryview(record.getMessage().encode(errors="backslashreplace") + b"\n")
        try:
            while left:
                # Not through sys.stderr: a thread that hangs in it would keep the interpreter from ending.
                left = left[os.write(self._descriptor, left) :]
        except OSError:
            self._queue.dropped += 1


def told(error: Exception) -> str:
    """What the log says of an error: where it came from; of a database that is away only why, as there may be many."""
    cause = error.__cause__
    if isinstance(error, CatalogueAwayError) and cause is not None:
        return without_secrets(f"{type(cause).__name__}: {cause}")
    return without_secrets("".join(traceback.format_exception(error)))


def without_secrets(text: str) -> str:
    """The text without passwords in URLs and without keys: a driver's message may quote what it was given."""
    return _SECRET.sub(HIDDEN, text.encode(errors="backslashreplace").decode())


def log_to_standard_error() -> None:
    """From now on what the service logs goes to standard error, a line of JSON each; called again it changes nothing."""
    logger = logging.getLogger(NAME)
    if not any(isinstance(each, LinesInQueue) for each in logger.handlers):
        logger.addHandler(LinesInQueue(sys.stderr.fileno()))
        logger.setLevel(logging.INFO)
        logger.propagate = False


def lines_dropped() -> int:
    """How many lines could not be written."""
    return sum(each.dropped for each in logging.getLogger(NAME).handlers if isinstance(each, LinesInQueue))
