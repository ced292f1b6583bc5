"""Principals: the name and scopes of a caller."""

from msgspec import Struct

from service.ports.catalogue import LOCAL as NAME
from service.ports.catalogue import Scope


class Principal(Struct, frozen=True):
    """A caller: the name of the key and its scopes."""

    name: str
    scopes: frozenset[Scope]


LOCAL = Principal(NAME, frozenset(Scope))
"""Every caller while the database has never had a key; has all scopes."""
