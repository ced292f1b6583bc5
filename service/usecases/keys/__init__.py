"""Keys: issuing, revoking, and the cache of valid keys that identifies callers."""

from service.usecases.keys import issuing
from service.usecases.keys.keyring import Keyring
from service.usecases.keys.principals import LOCAL, Principal

__all__ = [
    "LOCAL",
    "Keyring",
    "Principal",
    "issuing",
]
