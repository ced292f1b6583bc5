"""Lots stored: changes, verdicts, lines, and groups of writes in one transaction."""

from service.storage.lots.history import DatabaseHistory
from service.storage.lots.ledger import DatabaseLedger
from service.storage.lots.lines import DatabaseLines
from service.storage.lots.rows import change_of, lot_columns

__all__ = [
    "DatabaseHistory",
    "DatabaseLedger",
    "DatabaseLines",
    "change_of",
    "lot_columns",
]
