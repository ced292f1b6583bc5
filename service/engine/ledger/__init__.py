"""What is told of a lot over time, and how it comes to evidence: documents of changes, and the fold over them."""

from service.engine.ledger.documents import (
    AttributesAdded,
    Batch,
    Carried,
    CarriedMove,
    CarriedOpening,
    Change,
    Closing,
    Correction,
    MarkedBatch,
    MarkedCorrection,
    Marks,
    Opening,
    RevisionMoved,
    Strike,
    Struck,
    Told,
    VerdictKept,
)
from service.engine.ledger.folding import Folded, assemble
from service.engine.ledger.instruments import Instrument

__all__ = [
    "AttributesAdded",
    "Batch",
    "Carried",
    "CarriedMove",
    "CarriedOpening",
    "Change",
    "Closing",
    "Correction",
    "Folded",
    "Instrument",
    "MarkedBatch",
    "MarkedCorrection",
    "Marks",
    "Opening",
    "RevisionMoved",
    "Strike",
    "Struck",
    "Told",
    "VerdictKept",
    "assemble",
]
