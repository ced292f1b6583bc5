"""The service's log: one line of JSON per event on standard error, written by a thread."""

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
"""The logger's name, and the attribute of a log record that carries a RequestLine."""
MOST_WAITING = 10_000
"""Lines waiting to be written, some 300 bytes each; further ones are dropped and counted."""
MOST_AT_ONCE = 100
SECONDS_TO_FLUSH = 2
"""At the end of the process, for lines that still wait."""
_SECRET = re.compile(r"(?<=://)[^\s/@]*:[^\s@]*(?=@)|\bmky_[0-9a-f]{8}_[\w-]+")
HIDDEN = "(hidden)"


_encode = msgspec.json.Encoder().encode


class Line(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of the log."""

    at: datetime
    level: str
    what: str


class RequestLine(Line, frozen=True, kw_only=True, omit_defaults=True):
    """The log line of one request."""

    request: str
    trace: str
    operation: str
    method: str
    ms: float
    by: str
    status: int = 0
    """Status of the answer; left out where there was none."""
    code: str = ""
    error: str = ""


class JsonLineFormatter(logging.Formatter):
    """Formats a log record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The record's RequestLine as JSON; for other records moment, level and message."""
        line = getattr(record, LINE, None)
        if line is None:
            at = datetime.fromtimestamp(record.created, UTC)
            line = Line(at=at, level=record.levelname.lower(), what=record.getMessage())
        return _encode(line).decode()


QueueItem = bytes | Event
"""A line, or an event that is set once all lines before it are written."""


class QueuedLineHandler(QueueHandler):
    """Passes lines to a writer thread without ever waiting; past a bound they are dropped and counted.

    A terminal or log collector that reads slowly must not delay answers, and one that does not read must not fill the memory.
    """

    def __init__(self, descriptor: int, most: int = MOST_WAITING) -> None:
        """Start a thread that writes to an open file descriptor; at most `most` lines wait for it."""
        self._waiting: SimpleQueue[QueueItem] = SimpleQueue()
        super().__init__(self._waiting)
        self.setFormatter(JsonLineFormatter())
        self._most, self._writer = most, _LineWriter(self._waiting, descriptor)
        self._dropped = 0
        self._writer.start()
        atexit.register(self.flush)

    @property
    def dropped(self) -> int:
        """Lines that were not written, as too many waited or the file could not be written."""
        return self._dropped + self._writer.failed

    def prepare(self, record: logging.LogRecord) -> bytes:
        """The bytes of the line, formatted in the caller's thread, so that the writer thread only writes."""
        return self.format(record).encode(errors="backslashreplace") + b"\n"

    def enqueue(self, line: bytes) -> None:  # type: ignore[override]  # it takes what `prepare` gives
        """Queue the line, or drop it where too many wait."""
        if self._waiting.qsize() >= self._most:
            self._dropped += 1
        else:
            self._waiting.put(line)

    def flush(self) -> None:
        """Wait until all queued lines are written, for two seconds at most, as nobody may read them."""
        are_written = Event()
        self._waiting.put(are_written)
        are_written.wait(SECONDS_TO_FLUSH)


class _LineWriter(QueueListener):
    """Writes queued lines, up to 100 by one system call: each wake-up of the thread takes the GIL from the event loop."""

    def __init__(self, queue: "SimpleQueue[QueueItem]", descriptor: int) -> None:
        super().__init__(queue)
        self._waiting, self._descriptor, self.failed = queue, descriptor, 0

    def handle(self, first: QueueItem) -> None:  # type: ignore[override]  # as above
        """Write this item and those queued behind it."""
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
                # Not through sys.stderr: a thread blocked in it holds its lock, and the interpreter could not exit.
                left = left[os.write(self._descriptor, left) :]
        except OSError:
            self.failed += bytes(left).count(b"\n")


def error_text(error: Exception) -> str:
    """The log's text of an error: its traceback; only the cause where the database is away, as there may be many of these."""
    cause = error.__cause__
    if isinstance(error, CatalogueAwayError) and cause is not None:
        return without_secrets(f"{type(cause).__name__}: {cause}")
    return without_secrets("".join(traceback.format_exception(error)))


def without_secrets(text: str) -> str:
    """The text with passwords in URLs and keys replaced: a database driver's message may quote its connection URL."""
    return _SECRET.sub(HIDDEN, text.encode(errors="backslashreplace").decode())


def log_to_standard_error() -> None:
    """Send the service's log to standard error as lines of JSON; calling it again changes nothing."""
    logger = logging.getLogger(NAME)
    if not any(isinstance(handler, QueuedLineHandler) for handler in logger.handlers):
        logger.addHandler(QueuedLineHandler(sys.stderr.fileno()))
        logger.setLevel(logging.INFO)
        # A root handler, as another server may have set one up, would write each line a second time.
        logger.propagate = False


def count_dropped_lines() -> int:
    """The number of log lines that could not be written."""
    return sum(handler.dropped for handler in logging.getLogger(NAME).handlers if isinstance(handler, QueuedLineHandler))
