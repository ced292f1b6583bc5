"""What an answer that was written ahead is handed on as."""

from typing import NamedTuple

from service.engine.verdict import Outcome


class Passed(NamedTuple):
    """The answer to a reading, or the verdict on a lot, that passes."""

    document: bytes
    """As `CheckAnswer` or `Verdict` is encoded."""
    outcome: Outcome = Outcome.PASS
