"""Who asks: a name and what it may do."""

from msgspec import Struct

from service.ports.catalogue import LOCAL as NAME
from service.ports.catalogue import Scope


class Principal(Struct, frozen=True):
    """A caller: the name that his key was made out to, and its scopes."""

    name: str
    scopes: frozenset[Scope]


LOCAL = Principal(NAME, frozenset(Scope))
"""Everybody, as long as the database has never had a key; may do all."""
