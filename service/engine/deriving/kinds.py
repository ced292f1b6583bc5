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
    """The functions of a kind of derivation: the characteristics that its document names, its flaws, and its compilation."""

    sides: Callable[[Any], Sequence[Side]]
    """(document): the characteristics that it names, in the order in which the other two functions take them."""
    flaws: Callable[[Any, Subject, Sequence[Quantity | None], str], Iterator[Flaw]]
    """(document, derived characteristic, quantities of the sides, pointer to the document); a side with a flaw has None."""
    # A side without a unit is a category, whose flaw is found elsewhere, so no second flaw is made of it here.
    compiled: Callable[[Any, Sequence[CompiledCharacteristic], Unit], Derivation | None]
    """(document, sides, unit of the derived characteristic); None where a side has no unit."""


# One table instead of registration at import, so that all kinds are found in one place.
KINDS: Mapping[type[Derived], Kind] = {
    Ratio: Kind(ratios.sides, ratios.flaws, ratios.compiled),
    RatioOfMeans: Kind(ratios.sides, ratios.flaws, ratios.compiled),
    NetOfTare: Kind(tare.sides, tare.flaws, tare.compiled),
    Product: Kind(products.sides, products.flaws, products.compiled),
    CommercialMass: Kind(moisture.sides, moisture.flaws, moisture.compiled),
    AtStandardRegain: Kind(moisture.sides, moisture.flaws, moisture.compiled),
}
"""The functions of each kind by its document; a new kind is a module, a member of `Derived` and a line here."""
