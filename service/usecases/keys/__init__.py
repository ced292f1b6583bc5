"""Keys: issuing and revoking, which are good now, and who a request is from."""

from service.usecases.keys import issuing
from service.usecases.keys.keyring import Keyring
from service.usecases.keys.principals import LOCAL, Principal

__all__ = [
    "LOCAL",
    "Keyring",
    "Principal",
    "issuing",
]
