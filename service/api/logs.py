"""What the service logs: one line of JSON an event, on standard error."""

import logging
import re
import sys
import traceback
from datetime import UTC, datetime

import msgspec

from service.api.log_lines import LinesInGroups
from service.ports import CatalogueAwayError

NAME = "markeryarn"
OF_A_REQUEST = "of_a_request"
"""Under this name a record carries what is told of a request, a mapping."""
_SECRET = re.compile(r"(?<=://)[^\s/@]*:[^\s@]*(?=@)|\bmky_[0-9a-f]{8}_[\w-]+")
HIDDEN = "(hidden)"


class Lines(logging.Formatter):
    """Writes a record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The moment, the level, what happened, and to which request."""
        said: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "what": record.getMessage(),
            **getattr(record, OF_A_REQUEST, {}),
        }
        return msgspec.json.encode(said).decode()


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
    """From now on what the service logs goes to standard error; called again it changes nothing."""
    logger = logging.getLogger(NAME)
    if logger.handlers:
        return
    # None of our lines tells them, and they are half of what it costs to make a record.
    logging.logThreads = logging.logProcesses = logging.logMultiprocessing = False
    handler = LinesInGroups(sys.stderr.fileno())
    handler.setFormatter(Lines())
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    logger.propagate = False


def lines_dropped() -> int:
    """How many lines could not be written."""
    return sum(each.dropped for each in logging.getLogger(NAME).handlers if isinstance(each, LinesInGroups))
