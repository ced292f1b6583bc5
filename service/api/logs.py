"""What the service logs: one line of JSON an event, on standard error."""

import json
import logging
import sys
from datetime import UTC, datetime

NAME = "markeryarn"
OF_A_REQUEST = ("request", "operation", "method", "status")


class Lines(logging.Formatter):
    """Writes a record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The moment, the level, what happened, and to which request."""
        said: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "what": record.getMessage(),
        }
        said |= {name: value for name in OF_A_REQUEST if (value := getattr(record, name, None)) is not None}
        if record.exc_info:
            said["trace"] = self.formatException(record.exc_info)
        return json.dumps(said)


def log_to_standard_error() -> None:
    """From now on what the service logs goes to standard error; called again it changes nothing."""
    logger = logging.getLogger(NAME)
    if logger.handlers:
        return
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines())
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    logger.propagate = False
