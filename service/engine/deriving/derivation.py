"""The common parts of all kinds of derivation: base document, named sides, and the derived characteristic under review."""

from typing import NamedTuple

from msgspec import Struct

from service.engine.documents import Quantity


class Derivable(Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", kw_only=True):
    """The calculation of a characteristic from measured ones; `kind` says which calculation."""


class Side(NamedTuple):
    """A characteristic that a derivation is calculated from, and the member of its document that names it."""

    member: str
    """Pointer within the document, without the first slash: `numerator`, `of/0`."""
    name: str
    """The name of the characteristic."""


class Subject(NamedTuple):
    """The derived characteristic while its document is checked, before it is compiled."""

    name: str
    quantity: Quantity | None
    """None where neither the vocabulary nor the grade gives it."""
