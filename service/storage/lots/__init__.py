"""Stored lots: their changes, verdicts and lines, and group commits of writes."""

from service.storage.lots.closed_lots import DatabaseClosedLots
from service.storage.lots.ledger import DatabaseLedger
from service.storage.lots.lines import DatabaseLines
from service.storage.lots.rows import change_of, lot_columns

__all__ = [
    "DatabaseClosedLots",
    "DatabaseLedger",
    "DatabaseLines",
    "change_of",
    "lot_columns",
]
