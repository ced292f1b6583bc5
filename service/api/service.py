"""What handlers work with: the parts of the service that live as long as the process."""

from collections.abc import Awaitable, Callable

import msgspec

from service.api.judged import Judged
from service.api.problems import OK, Answer
from service.api.wires import Head
from service.ports import Catalogue, History, Instruments, Journal, Keys, Ledger, Workers
from service.usecases.keyring import Keyring
from service.usecases.ledger.lines import LineHistories
from service.usecases.shelf import Shelf


class Service(msgspec.Struct):
    """What use cases need, and what is counted, put together once."""

    catalogue: Catalogue
    shelf: Shelf
    ledger: Ledger
    history: History
    instruments: Instruments
    lines: LineHistories
    keys: Keys
    keyring: Keyring
    reasons_not_ready: Callable[[], Awaitable[list[str]]]
    """Why requests can't be answered now; [] where they can."""
    exposition: Callable[[], bytes]
    """The figures for Prometheus."""
    document: Callable[[], bytes]
    """The OpenAPI document."""
    judged: Judged
    """Where checks and verdicts are counted."""
    journal: Journal
    workers: Workers
    is_stopping: Callable[[], bool]
    """True from the signal to stop on."""
    one_person_may_release: bool = False
    """Whether who wrote a revision last may release it too."""
    most_readings: int = 1_000_000
    """Of a request."""


_encode = msgspec.json.Encoder().encode


def shown(document: object, status: int = OK, headers: Head = ()) -> Answer:
    """The answer that gives back a document."""
    return Answer(status, _encode(document), headers=headers)
