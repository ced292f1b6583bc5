"""What the service logs: one line of JSON an event, on standard error."""

import atexit
import logging
import os
import re
import sys
import traceback
from datetime import UTC, datetime
from logging.handlers import QueueHandler, QueueListener
from queue import SimpleQueue
from threading import Event

import msgspec
from msgspec import Struct

from service.ports.catalogue import CatalogueAwayError

NAME, LINE = "markeryarn", "line"
"""Of the logger, and of what a record has where it tells of a request."""
MOST_WAITING = 10_000
"""JsonLineFormatter that wait to be written, some 300 bytes each."""
MOST_AT_ONCE = 100
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


class JsonLineFormatter(logging.Formatter):
    """Writes a record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """What is told of a request; else the moment, the level, and what happened."""
        line = getattr(record, LINE, None)
        if line is None:
            at = datetime.fromtimestamp(record.created, UTC)
            line = Line(at=at, level=record.levelname.lower(), what=record.getMessage())
        return _encode(line).decode()


QueueItem = bytes | Event
"""A line, or who waits until all lines before are written."""


class QueuedLineHandler(QueueHandler):
    """Hands lines over without waiting; past a bound they are dropped, and counted.

    A terminal or a collector that reads slowly must not make callers wait, and one that does not read at all must not fill the
    memory.
    """

    def __init__(self, descriptor: int, most: int = MOST_WAITING) -> None:
        """Let a thread write to an open file what waits, so many lines at most."""
        self._waiting: SimpleQueue[QueueItem] = SimpleQueue()
        super().__init__(self._waiting)
        self.setFormatter(JsonLineFormatter())
        self._most, self._writer = most, _LineWriter(self._waiting, descriptor)
        self._dropped = 0
        self._writer.start()
        atexit.register(self.flush)

    @property
    def dropped(self) -> int:
        """JsonLineFormatter that were not written: too many waited, or nobody reads any more."""
        return self._dropped + self._writer.failed

    def prepare(self, record: logging.LogRecord) -> bytes:
        """What is handed over: the line as it will be written."""
        return self.format(record).encode(errors="backslashreplace") + b"\n"

    def enqueue(self, line: bytes) -> None:  # type: ignore[override]  # it takes what `prepare` gives
        """Keep the line, or drop it where too many wait."""
        if self._waiting.qsize() >= self._most:
            self._dropped += 1
        else:
            self._waiting.put(line)

    def flush(self) -> None:
        """Wait until all that was kept is written, but no longer than two seconds: perhaps nobody reads."""
        are_written = Event()
        self._waiting.put(are_written)
        are_written.wait(SECONDS_TO_FLUSH)


class _LineWriter(QueueListener):
    """Writes lines, however long that takes: many by one call, as each time that the thread wakes takes time of the answers."""

    def __init__(self, queue: "SimpleQueue[QueueItem]", descriptor: int) -> None:
        super().__init__(queue)
        self._waiting, self._descriptor, self.failed = queue, descriptor, 0

    def handle(self, first: QueueItem) -> None:  # type: ignore[override]  # as above
        """Write it, and what waits behind it."""
        found = [first]
        while len(found) < MOST_AT_ONCE and not self._waiting.empty():
            found.append(self._waiting.get())
        self._write(b"".join(item for item in found if isinstance(item, bytes)))
        for item in found:
            if isinstance(item, Event):
                item.set()

    def _write(self, lines: bytes) -> None:
        left = memoryview(lines)
        try:
            while left:
                # Not through sys.stderr: a thread that hangs in it would keep the interpreter from ending.
                left = left[os.write(self._descriptor, left) :]
        except OSError:
            self.failed += bytes(left).count(b"\n")


def error_text(error: Exception) -> str:
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
    if not any(isinstance(handler, QueuedLineHandler) for handler in logger.handlers):
        logger.addHandler(QueuedLineHandler(sys.stderr.fileno()))
        logger.setLevel(logging.INFO)
        logger.propagate = False


def count_dropped_lines() -> int:
    """How many lines could not be written."""
    return sum(handler.dropped for handler in logging.getLogger(NAME).handlers if isinstance(handler, QueuedLineHandler))
