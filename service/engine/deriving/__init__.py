"""Characteristics calculated from measured ones: quotients, products, net contents, mass and fineness at an agreed regain."""

from service.engine.deriving.derivation import Side, Subject
from service.engine.deriving.kinds import KINDS, Derived
from service.engine.deriving.moisture import Conditioned
from service.engine.deriving.ratios import Quotient
from service.engine.deriving.tare import NetOfTare

__all__ = [
    "KINDS",
    "Conditioned",
    "Derived",
    "NetOfTare",
    "Quotient",
    "Side",
    "Subject",
]
