"""What every kind of derivation has: its document, what it names, and what is known of the characteristic that it makes."""

from typing import NamedTuple

from msgspec import Struct

from service.engine.documents import Quantity


class Derivable(Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", kw_only=True):
    """How a characteristic is worked out from measured ones; `kind` says which way."""


class Side(NamedTuple):
    """A measured characteristic that a derivation names, and the member of its document that does."""

    member: str
    """`numerator`, `of/0`"""
    name: str


class Subject(NamedTuple):
    """The characteristic that is derived, while its document is looked over."""

    name: str
    quantity: Quantity | None
    """None where neither the vocabulary nor the grade says it."""
