"""The table of the kinds of derivation: the one place that lists them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from service.engine.characteristics import CompiledCharacteristic, Derivation
from service.engine.deriving import moisture, products, ratios, tare
from service.engine.deriving.derivation import Side, Subject
from service.engine.deriving.moisture import AtStandardRegain, CommercialMass
from service.engine.deriving.products import Product
from service.engine.deriving.ratios import Ratio, RatioOfMeans
from service.engine.deriving.tare import NetOfTare
from service.engine.documents import Flaw, Quantity
from service.engine.numbers import Unit

Derived = Ratio | RatioOfMeans | NetOfTare | Product | CommercialMass | AtStandardRegain
"""Any derivation as a specification writes it; `kind` says which."""


class Kind(NamedTuple):
    """What a kind knows: which characteristics its document names, what is wrong with it, and how it compiles."""

    sides: Callable[[Any], Sequence[Side]]
    """What the document names, in the order in which the other two are given them."""
    flaws: Callable[[Any, Subject, Sequence[Quantity | None], str], Iterator[Flaw]]
    """(document, what is derived, quantities of the sides, pointer to the document); None for a side that has a flaw itself."""
    compiled: Callable[[Any, Sequence[CompiledCharacteristic], Unit], Derivation | None]
    """(document, the sides, the unit of what is derived); None where a side has no unit, which is told apart from this."""


KINDS: Mapping[type[Derived], Kind] = {
    Ratio: Kind(ratios.sides, ratios.flaws, ratios.compiled),
    RatioOfMeans: Kind(ratios.sides, ratios.flaws, ratios.compiled),
    NetOfTare: Kind(tare.sides, tare.flaws, tare.compiled),
    Product: Kind(products.sides, products.flaws, products.compiled),
    CommercialMass: Kind(moisture.sides, moisture.flaws, moisture.compiled),
    AtStandardRegain: Kind(moisture.sides, moisture.flaws, moisture.compiled),
}
"""A new kind is a module, its place in the type above, and a line here."""
