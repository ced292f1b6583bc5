"""What is told of a lot over time, and how it comes to evidence: documents of changes, and the fold over them."""

from service.engine.ledger.documents import (
    AttributesAdded,
    Batch,
    Change,
    Closing,
    MarkedBatch,
    Marks,
    Opening,
    RevisionMoved,
    Strike,
    Told,
    VerdictKept,
)
from service.engine.ledger.folding import Folded, assemble
from service.engine.ledger.instruments import Instrument

__all__ = [
    "AttributesAdded",
    "Batch",
    "Change",
    "Closing",
    "Folded",
    "Instrument",
    "MarkedBatch",
    "Marks",
    "Opening",
    "RevisionMoved",
    "Strike",
    "Told",
    "VerdictKept",
    "assemble",
]
