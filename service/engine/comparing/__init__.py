"""Comparison of two parties' evidence on one lot: their findings, and the differences in how they measured."""

from service.engine.comparing.documents import BothParties, Compared, Divergence, Party
from service.engine.comparing.parties import compared, differing
from service.engine.comparing.statements import received_later

__all__ = [
    "BothParties",
    "Compared",
    "Divergence",
    "Party",
    "compared",
    "differing",
    "received_later",
]
