"""Comparison of two parties' evidence on one lot: finding beside finding, and how their measurements differ."""

from service.engine.comparing.documents import Compared, Divergence, Side, Sides
from service.engine.comparing.sides import compared, differing
from service.engine.comparing.telling import received_later

__all__ = [
    "Compared",
    "Divergence",
    "Side",
    "Sides",
    "compared",
    "differing",
    "received_later",
]
