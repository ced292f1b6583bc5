"""What the service logs: one line of JSON an event, on standard error."""

import logging
import re
import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime

import msgspec
from msgspec import Struct

from service.api.log_lines import LinesInGroups
from service.ports import CatalogueAwayError

NAME = "markeryarn"
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
        """The moment, the level, and what happened."""
        at = datetime.fromtimestamp(record.created, UTC)
        return _encode(Line(at=at, level=record.levelname.lower(), what=record.getMessage())).decode()


class RequestLog:
    """Where the lines of requests go, which are too many for the records of Python's `logging`: those take 25 µs each."""

    def __init__(self) -> None:
        """Nowhere, until the log is opened."""
        self._put: Callable[[bytes], None] | None = None

    def open(self, lines: LinesInGroups) -> None:
        """From now on among the other lines of the log."""
        self._put = lines.put

    @property
    def is_open(self) -> bool:
        """Whether anybody will read them."""
        return self._put is not None

    def write(self, line: RequestLine) -> None:
        """Hand over a line; it waits for nothing."""
        if self._put is not None:
            self._put(_encode(line) + b"\n")


def told(error: Exception) -> str:
    """What the log says of an error: where it came from; of a database that is away only why, as there may be many."""
    cause = error.__cause__
    if isinstance(error, CatalogueAwayError) and cause is not None:
        return without_secrets(f"{type(cause).__name__}: {cause}")
    return without_secrets("".join(traceback.format_exception(error)))


def without_secrets(text: str) -> str:
    """The text without passwords in URLs and without keys: a driver's message may quote what it was given."""
    return _SECRET.sub(HIDDEN, text.encode(errors="backslashreplace").decode())


def log_to_standard_error() -> LinesInGroups:
    """From now on what the service logs goes to standard error, by these lines; called again it changes nothing."""
    logger = logging.getLogger(NAME)
    for there in logger.handlers:
        if isinstance(there, LinesInGroups):
            return there
    handler = LinesInGroups(sys.stderr.fileno())
    handler.setFormatter(Lines())
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    logger.propagate = False
    return handler


def lines_dropped() -> int:
    """How many lines could not be written."""
    return sum(each.dropped for each in logging.getLogger(NAME).handlers if isinstance(each, LinesInGroups))
